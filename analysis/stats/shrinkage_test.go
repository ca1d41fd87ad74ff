package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Tarone RE (1982) Biometrics 38:215-220, rat tumours, as in Gelman et al.,
// Bayesian Data Analysis, 3rd ed., sec. 5.1; digits of R's VGAM and a general
// optimiser.
func TestBetaBinomialRats(t *testing.T) {
	s := example(t, "rat_tumors.csv")
	x, n := s.ints(t, "tumors"), s.ints(t, "rats")
	m, err := BetaBinomialMoments(x[:70], n[:70])
	require.NoError(t, err)
	a, b := m.AB()
	assert.InDelta(t, 0.136006539, m.Mean, 5e-10)
	assert.InDelta(t, 1.35614939, a, 1e-7)
	assert.InDelta(t, 8.61505789, b, 1e-7)
	assert.InDelta(t, 0.223440953, m.Rate(4, 14, 0.95).Point, nine)

	ml, err := BetaBinomialML(x, n)
	require.NoError(t, err)
	a, b = ml.AB()
	assert.InDelta(t, 0.142291862, ml.Mean, 1e-6)
	assert.InDelta(t, 0.0572855102, ml.Rho, 1e-6)
	assert.InDelta(t, 2.34161482, a, 1e-5)
	assert.InDelta(t, 14.1148065, b, 1e-4)
	assert.InDelta(t, -156.56893, ml.LogLik, 5e-6)
	for group, want := range map[int]float64{1: 0.0642305179, 33: 0.112160345, 68: 0.277659438, 71: 0.208219303} {
		e := ml.Rate(x[group-1], n[group-1], 0.95)
		assert.InDelta(t, want, e.Point, 1e-6)
		assert.True(t, e.Low < e.Point && e.Point < e.High)
	}
}

// Groups that spread less than chance are not told apart; groups shrink toward
// the mean, the smaller the more.
func TestBetaBinomialEdges(t *testing.T) {
	x, n := []int{5, 5, 5, 5, 5}, []int{50, 50, 50, 50, 50}
	flat, err := BetaBinomialML(x, n)
	require.NoError(t, err)
	assert.Zero(t, flat.Rho)
	e := flat.Rate(3, 4, 0.95)
	assert.Equal(t, 0.1, e.Point)
	assert.NotEmpty(t, e.Warnings)
	none, err := BetaBinomialML([]int{0, 0, 0}, []int{5, 9, 2})
	require.NoError(t, err)
	assert.Zero(t, none.Rate(0, 5, 0.95).Point)
	all, err := BetaBinomialML([]int{0, 9}, []int{9, 9}) // as far apart as can be
	require.NoError(t, err)
	assert.True(t, all.Rho > 0.9 && finite(all.LogLik))

	spread, err := BetaBinomialML([]int{1, 9, 2, 14, 4, 0}, []int{40, 40, 40, 40, 40, 30})
	require.NoError(t, err)
	small, large := spread.Rate(1, 2, 0.95), spread.Rate(20, 40, 0.95)
	assert.True(t, spread.Mean < small.Point && small.Point < large.Point && large.Point < 0.5)
	for _, bad := range [][2][]int{{{1}, {2}}, {{3, 1}, {2, 2}}, {{1, 1}, {2}}, {{-1, 1}, {2, 2}}, {{0, 0}, {0, 0}}} {
		_, err := BetaBinomialML(bad[0], bad[1])
		assert.Error(t, err)
		_, err = BetaBinomialMoments(bad[0], bad[1])
		assert.Error(t, err)
	}
}

// Efron B, Morris C (1975) J Am Stat Assoc 70:311-319 and (1977) Sci Am
// 236(5):119-127: 18 batters after 45 times at bat; digits of R.
func TestJamesSteinBaseball(t *testing.T) {
	s := example(t, "baseball.csv")
	hits, rest := s.nums(t, "hits45"), s.nums(t, "rest")
	p, mean := make([]float64, len(hits)), 0.0
	for i, h := range hits {
		p[i] = h / 45
		mean += p[i] / 18
	}
	assert.InDelta(t, 0.265432099, mean, 5e-10)
	got, c := JamesStein(p, mean*(1-mean)/45)
	assert.InDelta(t, 0.211653417, c, 5e-10)
	assert.InDelta(t, 0.293913855, got[0], 5e-10)
	assert.InDelta(t, 0.242176353, got[17], 5e-10)
	var shrunk, raw float64
	for i := range p {
		shrunk += (got[i] - rest[i]) * (got[i] - rest[i])
		raw += (p[i] - rest[i]) * (p[i] - rest[i])
	}
	assert.InDelta(t, 0.0213747485, shrunk, 5e-11)
	assert.InDelta(t, 0.0754879506, raw, 5e-11)
	for i, v := range hits {
		p[i] = math.Sqrt(45) * math.Asin(2*v/45-1)
	}
	_, c = JamesStein(p, 1)
	assert.InDelta(t, 0.208974232, c, 5e-10)

	same, c := JamesStein([]float64{2, 2, 2, 2}, 1)
	assert.Equal(t, []float64{2, 2, 2, 2}, same)
	assert.Zero(t, c)
	none, c := JamesStein([]float64{1, 2, 3}, 1)
	assert.Nil(t, none)
	assert.True(t, math.IsNaN(c))
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
