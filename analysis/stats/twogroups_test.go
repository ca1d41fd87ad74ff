package stats

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Newcombe RG (1998) Stat Med 17:873-890, Table II, all eight rows; digits of
// R 4.2.2.
func TestNewcombeDifference(t *testing.T) {
	for _, w := range []struct {
		t               TwoByTwo
		diff, low, high float64
	}{
		{TwoByTwo{56, 14, 48, 32}, 0.2, 0.0524314724, 0.333872654},
		{TwoByTwo{9, 1, 3, 7}, 0.6, 0.170522724, 0.809017974},
		{TwoByTwo{6, 1, 2, 5}, 0.571428571, 0.0582279275, 0.806249638},
		{TwoByTwo{5, 51, 0, 29}, 0.0892857143, -0.0381371479, 0.192560014},
		{TwoByTwo{0, 10, 0, 20}, 0, -0.161125158, 0.2775328},
		{TwoByTwo{0, 10, 0, 10}, 0, -0.2775328, 0.2775328},
		{TwoByTwo{10, 0, 0, 20}, 1, 0.679086037, 1},
		{TwoByTwo{10, 0, 0, 10}, 1, 0.60750935, 1},
	} {
		checkEstimate(t, NewcombeDifference(w.t, 0.95), w.diff, w.low, w.high, nine)
		swapped := NewcombeDifference(TwoByTwo{w.t.C, w.t.D, w.t.A, w.t.B}, 0.95)
		checkEstimate(t, swapped, -w.diff, -w.high, -w.low, nine)
	}
}

// Willeberg P (1977) Acta Vet Scand Suppl 64, and birth weight by smoking, as
// worked in the manual page of R's epiR (epi.2by2); digits of epiR 2.0.57.
func TestTwoGroupsEpiR(t *testing.T) {
	cats, smoke := TwoByTwo{13, 2163, 5, 3349}, TwoByTwo{30, 44, 29, 86}
	checkEstimate(t, KatzRiskRatio(cats, 0.95), 4.00753676, 1.43073388, 11.2252538, 5e-8)
	checkEstimate(t, WoolfOddsRatio(cats, 0.95), 4.02561258, 1.43312843, 11.3078188, 5e-8)
	checkEstimate(t, PopulationAttributableFraction(cats, 0.95), 0.542006228, 0.0361380175, 0.78237725, nine)
	checkEstimate(t, KatzRiskRatio(smoke, 0.95), 1.60764212, 1.05781242, 2.44326228, 5e-9)
	checkEstimate(t, WoolfOddsRatio(smoke, 0.95), 2.02194357, 1.0806596, 3.78311154, 5e-8)
	checkEstimate(t, PopulationAttributableFraction(smoke, 0.95), 0.192188651, -0.00212895717, 0.348827144, nine)
}

// Two faults that always come together each "explain" all events they share:
// their fractions must not be added.
func TestPopulationFractionsDoNotAdd(t *testing.T) {
	both := TwoByTwo{40, 60, 10, 290}
	sum := 2 * PopulationAttributableFraction(both, 0.95).Point
	assert.Greater(t, sum, 1.0)
}

func TestTwoGroupsRefuse(t *testing.T) {
	type f = func(TwoByTwo, float64) Estimate
	ratios := []f{KatzRiskRatio, WoolfOddsRatio}
	all := append([]f{NewcombeDifference, PopulationAttributableFraction}, ratios...)
	for _, bad := range []TwoByTwo{{0, 0, 3, 4}, {3, 4, 0, 0}, {-1, 4, 2, 2}, {}} {
		for _, f := range all {
			e := f(bad, 0.95)
			assert.False(t, e.Given())
			assert.NotEmpty(t, e.Warnings)
		}
	}
	for _, f := range ratios {
		assert.False(t, f(TwoByTwo{0, 10, 5, 5}, 0.95).Given(), "no event among the exposed")
		assert.False(t, f(TwoByTwo{5, 5, 0, 10}, 0.95).Given(), "no event among the unexposed")
	}
	for _, f := range []f{KatzRiskRatio, PopulationAttributableFraction} {
		assert.False(t, f(TwoByTwo{5, 0, 7, 0}, 0.95).Given(), "no spread is no certainty")
	}
	assert.False(t, WoolfOddsRatio(TwoByTwo{5, 0, 2, 10}, 0.95).Given())
	assert.True(t, KatzRiskRatio(TwoByTwo{5, 0, 2, 10}, 0.95).Bounded())
	assert.False(t, KatzRiskRatio(TwoByTwo{5, 5, 2, 10}, 1).Given())
}

// VanderWeele TJ, Ding P (2017) Ann Intern Med 167:268-274: ratio 3.9, lower
// limit 1.8; E-values 7.26 and 3.0.
func TestEValue(t *testing.T) {
	e := EValue(Estimate{Point: 3.9, Low: 1.8, High: 8.7, Level: 0.95})
	assert.InDelta(t, 7.26303434, e.Point, 5e-9)
	assert.InDelta(t, 3, e.Low, 1e-12)
	protective := EValue(Estimate{Point: 1 / 3.9, Low: 1 / 8.7, High: 1 / 1.8})
	assert.InDelta(t, e.Point, protective.Point, 1e-12)
	assert.InDelta(t, e.Low, protective.Low, 1e-12)
	assert.InDelta(t, e.High, protective.High, 1e-12)
	assert.Equal(t, 1.0, EValue(Estimate{Point: 1.2, Low: 0.8, High: 1.9}).Low, "the interval holds 1")
	assert.False(t, EValue(Missing(3, "x")).Given())
	assert.False(t, EValue(Estimate{Point: -1, Low: -2, High: 2}).Given())
}

// Student (1908) Biometrika 6:1-25, hours of sleep gained with two drugs; the interval by R's t.test.
func TestWelch(t *testing.T) {
	a := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	b := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	e := Welch(a, b, 0.95)
	assert.InDelta(t, -1.58, e.Point, 1e-12)
	assert.InDelta(t, -3.3654832, e.Low, 1e-6)
	assert.InDelta(t, 0.2054832, e.High, 1e-6)
	assert.False(t, Welch(a[:1], b, 0.95).Given())
	assert.False(t, Welch([]float64{1, 1}, []float64{2, 2}, 0.95).Given())
}
