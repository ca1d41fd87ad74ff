package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

var fixed = distuv.Normal{Mu: 0, Sigma: 1} // where a figure does not depend on it

// Rubin DB (1981) J Educ Stat 6:377-401, coaching in eight schools, as in Gelman
// et al., Bayesian Data Analysis, sec. 5.5: effects and standard errors. The
// expected figures are the closed form given the spread (eq. 5.17 to 5.21 there),
// integrated over a uniform prior here, by another way than the grid's: 2 parts in
// 100 of the spread of the effects.
func TestHierarchyEightSchools(t *testing.T) {
	y := []float64{28, 8, -3, 7, -1, 1, 18, 12}
	se := []float64{15, 10, 16, 11, 9, 11, 10, 18}
	var groups []Group
	for k := range y {
		groups = append(groups, Group{func(e float64) float64 { z := (e - y[k]) / se[k]; return -z * z / 2 }, y[k], se[k]})
	}
	h, err := NewHierarchy(groups, 1e4) // as good as uniform
	require.NoError(t, err)

	const taus, top = 3000, 62.0 // the grid ends there, at six standard deviations
	var total float64
	mean, square := make([]float64, len(y)), make([]float64, len(y))
	for s := range taus {
		tau := (float64(s) + 0.5) * top / taus
		precision, weighted, logp := 0.0, 0.0, 0.0
		for k := range y {
			v := se[k]*se[k] + tau*tau
			precision, weighted = precision+1/v, weighted+y[k]/v
		}
		mu := weighted / precision
		for k := range y {
			v := se[k]*se[k] + tau*tau
			logp -= math.Log(v)/2 + (y[k]-mu)*(y[k]-mu)/v/2
		}
		w := math.Exp(logp) / math.Sqrt(precision)
		total += w
		for k := range y {
			own, all := 1/(se[k]*se[k]), 1/(tau*tau)
			m, v := (own*y[k]+all*mu)/(own+all), 1/(own+all)+math.Pow(all/(own+all), 2)/precision
			mean[k], square[k] = mean[k]+w*m, square[k]+w*(v+m*m)
		}
	}
	for k := range y {
		want := mean[k] / total
		sd := math.Sqrt(square[k]/total - want*want)
		j := h.Without(k).Given(groups[k].LogLik)
		got, got2 := 0.0, 0.0
		for i, w := range j.Weight {
			e := j.At[i]
			got, got2 = got+w*e, got2+w*e*e
		}
		assert.InDelta(t, want, got, 0.02*sd, "school %d", k)
		assert.InEpsilon(t, sd, math.Sqrt(got2-got*got), 0.03, "school %d", k)
		e := j.Against(fixed, func(_, effect float64) float64 { return effect }, 0.95, 1, "m")
		assert.True(t, e.Low < e.Point && e.Point < e.High)
	}
}

// Tarone RE (1982) Biometrics 38:215-220, rat tumours, as in Gelman et al.,
// Bayesian Data Analysis, sec. 5.1. The empirical-Bayes rates of R's VGAM for
// groups 1, 33, 68 and 71 take a beta distribution of the rates, this a normal
// one of their logits, and gives medians: within 0.025.
func TestHierarchyRats(t *testing.T) {
	s := example(t, "rat_tumors.csv")
	x, n := s.ints(t, "tumors"), s.ints(t, "rats")
	var groups []Group
	for k := range x {
		groups = append(groups, BinomialGroup(x[k], n[k], 0.5))
	}
	h, err := NewHierarchy(groups, 1)
	require.NoError(t, err)
	for group, want := range map[int]float64{1: 0.0642305179, 33: 0.112160345, 68: 0.277659438, 71: 0.208219303} {
		j := h.Without(group - 1).Given(groups[group-1].LogLik)
		e := j.Against(fixed, func(_, effect float64) float64 { return Logistic(effect) }, 0.95, n[group-1], "m")
		assert.InDelta(t, want, e.Point, 0.025, "group %d", group)
		assert.True(t, e.Low < e.Point && e.Point < e.High)
	}
}

// Groups that are alike are not told apart, but their intervals stay as wide as
// an unknown spread makes them; a group shrinks the more the smaller it is.
func TestHierarchyEdges(t *testing.T) {
	var groups []Group
	for range 8 {
		groups = append(groups, BinomialGroup(5, 50, 0.1))
	}
	h, err := NewHierarchy(groups, 0.5)
	require.NoError(t, err)
	share := func(_, effect float64) float64 { return Logistic(Logit(0.1) + effect) }
	e := h.Without(0).Given(groups[0].LogLik).Against(fixed, share, 0.95, 50, "m")
	assert.InDelta(t, 0.1, e.Point, 0.01)
	assert.Greater(t, e.High-e.Low, 2*1.96*math.Sqrt(0.09/400), "wider than one share for all would be")
	assert.InDelta(t, 0.5, h.Without(0).Given(groups[0].LogLik).Above(distuv.Normal{Mu: 0, Sigma: 0.01}), 0.1)

	groups[0], groups[1] = BinomialGroup(20, 50, 0.1), BinomialGroup(2, 5, 0.1)
	h, err = NewHierarchy(groups, 0.5)
	require.NoError(t, err)
	large, small := h.Without(0).Given(groups[0].LogLik).Against(fixed, share, 0.95, 50, "m"), h.Without(1).Given(groups[1].LogLik).Against(fixed, share, 0.95, 5, "m")
	assert.True(t, 0.1 < small.Point && small.Point < large.Point && large.Point < 0.4)
	// A figure of the level alone has the level's own limits.
	l := h.Without(0).Against(distuv.Normal{Mu: 2, Sigma: 1}, func(level, _ float64) float64 { return level }, 0.9, 1, "m")
	assert.InDelta(t, 2, l.Point, 1e-9)
	assert.InDelta(t, 2-1.645, l.Low, 0.03)
	assert.Greater(t, h.Without(0).Given(groups[0].LogLik).Above(distuv.Normal{Mu: 0, Sigma: 1e-6}), 0.99)

	for _, g := range []Group{BinomialGroup(0, 30, 0.08), BinomialGroup(30, 30, 0.08), BinomialGroup(900, 10_000, 0.08)} {
		h, err := NewHierarchy([]Group{g, BinomialGroup(3, 40, 0.08)}, 0.5)
		require.NoError(t, err)
		assert.True(t, h.Without(0).Given(g.LogLik).Against(fixed, share, 0.95, 30, "m").Bounded())
	}
	_, err = NewHierarchy(groups[:1], 0.5)
	assert.Error(t, err)
}

// Bland JM, Altman DG (1996) BMJ 313:744, 20 children measured four times:
// within-subject SD 21.5, here to R's digits.
func TestTEMFourReplicates(t *testing.T) {
	s := example(t, "bland_altman_1996_pefr.csv")
	r := [][]float64{s.nums(t, "r1"), s.nums(t, "r2"), s.nums(t, "r3"), s.nums(t, "r4")}
	var subjects [][]float64
	for i := range r[0] {
		subjects = append(subjects, []float64{r[0][i], r[1][i], r[2][i], r[3][i]})
	}
	e := TEM(subjects, 0.95)
	assert.InDelta(t, 21.4597491, e.Point, 5e-8)
	assert.InDelta(t, 59.4833898, 1.96*math.Sqrt2*e.Point, 5e-8)
	assert.Equal(t, 20, e.N)
	assert.True(t, e.Low < e.Point && e.Point < e.High)
}

// Ulijaszek SJ, Kerr DA (1999) Br J Nutr 82:165-177, stature of ten by four
// observers, metres. The data may not be copied.
func TestTEMStature(t *testing.T) {
	s := shared(t, "ulijaszek_kerr_stature.csv")
	rows := make([][]float64, 10)
	for name := range s {
		if name == "subject" || name == "id" {
			continue
		}
		for i, v := range s.nums(t, name) {
			rows[i] = append(rows[i], v)
		}
	}
	require.Len(t, rows[0], 4)
	assert.InDelta(t, 0.0030632227, TEM(rows, 0.95).Point, 5e-11)
}

// By hand: pairs 1,3 and 5,5 and 2,6: sqrt((4+0+16)/6).
func TestTEMPairs(t *testing.T) {
	e := TEM([][]float64{{1, 3}, {5, 5}, {2, 6}, {9}, {4, math.NaN()}}, 0.95)
	assert.InDelta(t, math.Sqrt(20.0/6), e.Point, 1e-15)
	assert.Equal(t, 3, e.N)
	assert.False(t, TEM([][]float64{{1}, {2}}, 0.95).Given())
	assert.False(t, TEM(nil, 0.95).Given())
}

// Bland JM, Altman DG (1986) Lancet i:307-310, peak flow by two meters: mean
// -2.1, SD 38.8; standard errors by R.
func TestBlandAltman(t *testing.T) {
	s := example(t, "bland_altman_pefr.csv")
	wright, mini := s.nums(t, "wright1"), s.nums(t, "mini1")
	d := make([]float64, len(mini))
	for i := range d {
		d[i] = wright[i] - mini[i]
	}
	a := BlandAltman(d, 0.95)
	assert.InDelta(t, -2.11764706, a.Bias.Point, 5e-9)
	assert.InDelta(t, 38.7651299, a.SD, 5e-8)
	assert.InDelta(t, -78.0973016, a.Lower.Point, 0.002) // R used 1.96 for z
	assert.InDelta(t, 73.8620075, a.Upper.Point, 0.002)
	const t16 = 2.119905299 // R: qt(.975, 16)
	assert.InDelta(t, 9.401925, (a.Bias.High-a.Bias.Point)/t16, 5e-7)
	assert.InDelta(t, 16.2846118, (a.Lower.High-a.Lower.Point)/t16, 5e-7)
	none := BlandAltman([]float64{1, 2, math.NaN()}, 0.95)
	assert.False(t, none.Bias.Given() || none.Upper.Given())
}

// Ulijaszek SJ, Kerr DA (1999), the same table: coefficient of reliability 0.997548. By
// hand: subjects (1,3), (5,7): TEM^2 2, SD^2 20/3, R 0.7; F = 16/2, limits of F(1,2) by R.
func TestReliability(t *testing.T) {
	e := Reliability([][]float64{{1, 3}, {5, 7}}, 0.95)
	assert.InDelta(t, 0.7, e.Point, 1e-12)
	assert.InDelta(t, 1-3/(8/38.50633+2), e.Low, 1e-6) // R: qf(.975, 1, 2)
	assert.InDelta(t, 1-3/(8*799.5+2), e.High, 1e-6)   // R: 1/qf(.025, 1, 2)
	assert.False(t, Reliability([][]float64{{1}, {2}}, 0.95).Given())
	assert.False(t, Reliability([][]float64{{2, 2}, {2, 2}}, 0.95).Given())
	assert.Equal(t, 1.0, Reliability([][]float64{{1, 1}, {2, 2}}, 0.95).Point)
	s := shared(t, "ulijaszek_kerr_stature.csv")
	rows := make([][]float64, 10)
	for name := range s {
		if name == "subject" || name == "id" {
			continue
		}
		for i, v := range s.nums(t, name) {
			rows[i] = append(rows[i], v)
		}
	}
	assert.InDelta(t, 0.997548, Reliability(rows, 0.95).Point, 6e-7)
}

// Shrout PE, Fleiss JL (1979) Psychol Bull 86:420-428, six targets by four judges: .17 .29
// .71 .44 .62 .91; here to the digits of R package psych, with its limits.
func TestICC(t *testing.T) {
	table := [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}
	i := ICC(table, 0.95)
	for _, c := range []struct {
		e           Estimate
		point       float64
		low, high   float64
		withoutEnds bool
	}{
		{i.OneWay1, 0.165742, -0.13293, 0.72256, false}, {i.Agreement1, 0.289764, 0.01879, 0.76108, false}, {i.Consistency1, 0.714841, 0.34246, 0.94586, false},
		{i.OneWayK, 0.442797, 0, 0, true}, {i.AgreementK, 0.620051, 0, 0, true}, {i.ConsistencyK, 0.909316, 0, 0, true},
	} {
		assert.InDelta(t, c.point, c.e.Point, six)
		if !c.withoutEnds {
			assert.InDelta(t, c.low, c.e.Low, 6e-6, c.e.Method)
			assert.InDelta(t, c.high, c.e.High, 6e-6, c.e.Method)
		}
		assert.True(t, c.e.Low < c.e.Point && c.e.Point < c.e.High)
	}
	for _, bad := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {3}}, {{1, math.NaN()}, {2, 3}}, {{1, 1}, {2, 2}}} {
		assert.False(t, ICC(bad, 0.95).Agreement1.Given())
	}
}
