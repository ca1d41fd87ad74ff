package stats

import (
	"errors"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// overlaps answers by linear programming whether the likelihood has a maximum:
// the largest sum of s x'b with every s x'b >= 0 and -1 <= b <= 1, s the sign
// of the outcome, is 0 (Konis K (2007) Linear programming algorithms for
// detecting separated data, thesis, Oxford).
func overlaps(t *testing.T, x *mat.Dense, y []float64) bool {
	n, p := x.Dims()
	// b = u - 1 with u and its slack summing to 2; one surplus a row.
	a, rhs, cost := mat.NewDense(n+p, n+2*p, nil), make([]float64, n+p), make([]float64, n+2*p)
	constant := 0.0
	for i := range n {
		s := 2*y[i] - 1
		for j := range p {
			a.Set(i, j, s*x.At(i, j))
			rhs[i] += s * x.At(i, j)
			cost[j] -= s * x.At(i, j)
			constant += s * x.At(i, j)
		}
		a.Set(i, 2*p+i, -1)
	}
	for j := range p {
		a.Set(n+j, j, 1)
		a.Set(n+j, p+j, 1)
		rhs[n+j] = 2
	}
	least, _, err := lp.Simplex(cost, a, rhs, 1e-10, nil)
	if err != nil {
		t.Skip("the linear program found no answer: ", err)
	}
	return -least-constant < 1e-6
}

// On many small tables the proof of separation agrees with linear programming,
// and a fit that is given is a maximum: its score is 0.
func TestSeparationAgainstLinearProgram(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	found := map[bool]int{}
	for trial := range 200 {
		n := 6 + rng.IntN(8)
		x, y := mat.NewDense(n, 3, nil), make([]float64, n)
		for i := range n {
			x.SetRow(i, []float64{1, float64(rng.IntN(4)), float64(rng.IntN(2))})
			y[i] = float64(rng.IntN(2))
		}
		var rank mat.SVD
		rank.Factorize(x, mat.SVDNone)
		f := fitterFor(t, x)
		fit, err := f.Logistic(single(y), FitOptions{})
		if errors.Is(err, ErrNoVariation) || rank.Rank(1e-9) < 3 {
			continue
		}
		var sep *SeparationError
		want := overlaps(t, x, y)
		found[want]++
		assert.Equal(t, want, err == nil, "table %d: %v", trial, err)
		assert.Equal(t, !want, errors.As(err, &sep), "table %d: %v", trial, err)
		if err == nil {
			score := make([]float64, 3)
			for i, eta := range f.d.Times(nil, fit.Coef) {
				for j := range score {
					score[j] += (y[i] - Logistic(eta)) * x.At(i, j)
				}
			}
			assert.InDeltaSlice(t, []float64{0, 0, 0}, score, 1e-9, "table %d", trial)
		}
		firth, err := f.Logistic(single(y), FitOptions{Firth: true})
		if assert.NoError(t, err, "table %d", trial) && trial%5 == 0 {
			for j := range 3 {
				e := f.ProfileFirth(single(y), firth, FitOptions{}, j, 0.95, n)
				assert.True(t, e.Bounded() && e.Low < e.Point && e.Point < e.High, "table %d: %+v", trial, e)
			}
		}
	}
	assert.Greater(t, min(found[true], found[false]), 30, "both kinds must come up: %v", found)
}

// A small shop: 300 orders, 25 remakes, twenty sparse columns. Every fit
// answers or says why not; no number that is not finite comes out.
func TestSmallShopStaysFinite(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for range 20 {
		x, y := mat.NewDense(300, 20, nil), make([]float64, 300)
		for i := range 300 {
			x.Set(i, 0, 1)
			for j := 1; j < 20; j++ {
				if rng.IntN(40) < 1+j/3 {
					x.Set(i, j, 1)
				}
			}
		}
		for _, i := range rng.Perm(300)[:25] {
			y[i] = 1
		}
		f := fitterFor(t, x)
		for _, o := range []FitOptions{{}, {Firth: true}, {Penalty: f.d.RidgePenalty(single(y).Trials, 0.05, 0)}} {
			fit, err := f.Logistic(single(y), o)
			if err != nil {
				var sep *SeparationError
				assert.ErrorAs(t, err, &sep)
				assert.True(t, !o.Firth && o.Penalty == nil)
				continue
			}
			for j := range 20 {
				assert.True(t, finite(fit.Coef[j]) && finite(fit.SE(j)))
			}
		}
	}
}
