package regression

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// R package glmnet 4.1.6 (alpha 0, standardised columns) on the low birth weight
// data of Hosmer and Lemeshow (2000), columns age, lwt, smoke, ht, ui, ptl: the
// estimates on the standardised scale, and the same from a general optimiser. They
// rest on the mean loss + lambda/2 times the sum of squares, columns centred and
// scaled by their spread (divisor N).
func TestRidgeAgainstGlmnet(t *testing.T) {
	want := map[float64][]float64{
		0.01: {-0.88834565, -0.212818, -0.401792, 0.257714, 0.423349, 0.251745, 0.281047},
		0.05: {-0.860695, -0.180476, -0.311696, 0.222501, 0.337658, 0.219613, 0.246436},
		0.10: {-0.841471, -0.152711, -0.249008, 0.191394, 0.272617, 0.190632, 0.215192},
		0.50: {-0.802310, -0.071040, -0.104534, 0.093498, 0.108734, 0.095858, 0.110443},
	}
	b := example(t, "birthwt.csv")
	names := []string{"age", "lwt", "smoke", "ht", "ui", "ptl"}
	columns := make([][]float64, len(names))
	for j, name := range names {
		columns[j] = b[name]
	}
	d, c := plain(t, b["low"], columns...)
	w := d.Whole()
	spread := d.Spread(c, w)
	n := float64(len(b["low"]))
	for lambda, coef := range want {
		penalty := make([]float64, len(spread))
		for j, sd := range spread[1:] {
			penalty[j+1] = lambda * n * sd * sd
		}
		f, err := d.Ridge(c, w, penalty, nil)
		require.NoError(t, err)
		intercept := f.Coef[0]
		for j, name := range names {
			mean := 0.0
			for _, v := range b[name] {
				mean += v / n
			}
			intercept += f.Coef[j+1] * mean
			assert.InDelta(t, coef[j+1], f.Coef[j+1]*spread[j+1], 1e-5, "%s at %v", name, lambda)
		}
		assert.InDelta(t, coef[0], intercept, 1e-5, "intercept at %v", lambda)
	}
}

// Without a penalty the ridge is maximum likelihood: R glm on the same data, main
// model of Hosmer and Lemeshow (2000).
func TestRidgeWithoutPenalty(t *testing.T) {
	b := example(t, "birthwt.csv")
	d, c := plain(t, b["low"], b["age"], b["lwt"], is(b["race"], 2), is(b["race"], 3), b["smoke"], b["ptl"], b["ht"], b["ui"])
	f, err := d.Ridge(c, d.Whole(), nil, nil)
	require.NoError(t, err)
	want := []float64{0.464403, -0.0270698, -0.0151826, 1.263219, 0.861635, 0.923349, 0.541755, 1.833696, 0.758597}
	errs := []float64{1.204702, 0.0364526, 0.0069279, 0.526468, 0.439197, 0.400858, 0.346267, 0.691770, 0.459392}
	v := f.Covariance()
	for j := range want {
		assert.InDelta(t, want[j], f.Coef[j], 1e-5, "column %d", j)
		assert.InDelta(t, errs[j], math.Sqrt(v[j*len(want)+j]), 1e-3*errs[j], "column %d", j)
	}
}

// The loss of customers left out, taken from the quadratic approximation, is that
// of full refits but for what the curvature's change does.
func TestLeftOutAgainstRefits(t *testing.T) {
	b := example(t, "birthwt.csv")
	d, c := plain(t, b["low"], b["age"], b["lwt"], b["smoke"], b["ht"], b["ui"], b["ptl"])
	w := d.Whole()
	spread := d.Spread(c, w)
	penalty := func(tau float64) []float64 {
		out := make([]float64, len(spread))
		for j, sd := range spread[1:] {
			out[j+1] = tau * sd * sd
		}
		return out
	}
	f, err := d.Ridge(c, w, penalty(20), nil)
	require.NoError(t, err)
	const folds = 10
	x := NewFolds(f, folds, nil)
	loss := func(w Weights, coef []float64) (l float64) {
		linear := f.sums.Times(coef)
		for i := range d.Patterns() {
			eta := linear.At(i)
			l += (w.Slot[2*i]+w.Slot[2*i+1])*math.Log1p(math.Exp(eta)) - w.Slot[2*i+1]*eta
		}
		return l
	}
	for _, tau := range []float64{5, 20, 80} {
		exact := 0.0
		for k := range folds {
			in, out := d.Whole(), d.Whole()
			for s, slot := range d.slot {
				fold := int(uint64(d.Cluster[s]) * 0x9e3779b97f4a7c15 >> 33 % uint64(folds))
				if fold == k {
					in.Slot[slot]--
				} else {
					out.Slot[slot]--
				}
			}
			g, err := d.Ridge(c, in, penalty(tau), nil)
			require.NoError(t, err)
			exact += loss(out, g.Coef) - loss(out, f.Coef)
		}
		assert.InDelta(t, exact, x.LeftOut(penalty(tau)), 0.35, fmt.Sprint(tau))
		g, err := d.Ridge(c, w, penalty(tau), nil)
		require.NoError(t, err)
		near, effective := x.Estimates(penalty(tau))
		for j := range near {
			assert.InDelta(t, g.Coef[j]*math.Max(spread[j], 1e-9), near[j]*math.Max(spread[j], 1e-9), 0.03)
			assert.True(t, effective[j] > 0 && effective[j] <= 1)
		}
	}
}
