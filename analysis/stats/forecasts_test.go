package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Hanley JA, McNeil BJ (1982) Radiology 143:29-36, CT ratings of 58 normal and 51
// abnormal: area 0.893 as published (read in quotations); DeLong's standard error
// by R package pROC 1.18.0.
func TestDiscriminateHanleyMcNeil(t *testing.T) {
	var score []float64
	var event []bool
	for k, counts := range [][2]int{{33, 3}, {6, 2}, {6, 2}, {11, 11}, {2, 33}} {
		for of, n := range counts {
			for range n {
				score, event = append(score, float64(k)), append(event, of == 1)
			}
		}
	}
	d, err := Discriminate(score, event)
	require.NoError(t, err)
	assert.InDelta(t, 0.893171, d.AUC, 5e-7)
	assert.InDelta(t, 0.03072441, math.Sqrt(d.covariance(d)), 5e-9)
	e := d.Estimate(0.95)
	assert.InDelta(t, 0.893171-1.959964*0.03072441, e.Low, 1e-6)
	_, err = Discriminate([]float64{1, 2}, []bool{true, true})
	assert.Error(t, err)
}

// Robin X et al. (2011) BMC Bioinformatics 12:77, outcome after a bleed by three
// markers; R package pROC 1.18.0.
func TestDeLongAsah(t *testing.T) {
	x := shared(t, "asah.csv")
	event := make([]bool, len(x["poor"]))
	for i, v := range x.ints(t, "poor") {
		event[i] = v == 1
	}
	of := func(name string) *Discrimination {
		d, err := Discriminate(x.nums(t, name), event)
		require.NoError(t, err)
		return d
	}
	s, n, w := of("s100b"), of("ndka"), of("wfns")
	for _, c := range []struct {
		d                  *Discrimination
		area, se, low, top float64
	}{{s, 0.731369, 0.0516593, 0.630118, 0.832619}, {n, 0.611958, 0.0564873, 0.501245, 0.722671}, {w, 0.823679, 0.0383395, 0.748535, 0.898823}} {
		e := c.d.Estimate(0.95)
		assert.InDelta(t, c.area, e.Point, 5e-7)
		assert.InDelta(t, c.se, math.Sqrt(c.d.covariance(c.d)), 5e-8)
		assert.InDelta(t, c.low, e.Low, 1e-6)
		assert.InDelta(t, c.top, e.High, 1e-6)
	}
	assert.InDelta(t, 0.00119615567, s.covariance(w), 5e-12)
	z := (s.AUC - w.AUC) / math.Sqrt(s.covariance(s)+w.covariance(w)-2*s.covariance(w))
	assert.InDelta(t, -2.208984, z, 5e-7)
}

// Low birth weight of Hosmer and Lemeshow (2000), fitted on odd rows and judged on
// even ones: R glm, rms val.prob 6.5.0.
func TestCalibrationInTheLarge(t *testing.T) {
	b := example(t, "birthwt.csv")
	coef := []float64{0.42008513, -0.01526899, 0.96248386, 1.77126121, 0.91353024}
	var p []float64
	var event []bool
	lwt, smoke, ht, ui := b.nums(t, "lwt"), b.nums(t, "smoke"), b.nums(t, "ht"), b.nums(t, "ui")
	for i, y := range b.nums(t, "low") {
		if i%2 == 0 {
			continue // rows are counted from 1
		}
		p = append(p, Logistic(coef[0]+coef[1]*lwt[i]+coef[2]*smoke[i]+coef[3]*ht[i]+coef[4]*ui[i]))
		event = append(event, y == 1)
	}
	e := CalibrationInTheLarge(p, event, 0.95)
	assert.InDelta(t, 0.07847566, e.Point, 1e-6) // the coefficients have eight digits, the weights three before the point
	assert.InDelta(t, 0.24181900, (e.High-e.Low)/2/Z(0.95), 1e-6)
	assert.InDelta(t, 0.19380039, Brier(p, event, 0.95).Point, 1e-8)
	d, err := Discriminate(p, event)
	require.NoError(t, err)
	assert.InDelta(t, 0.71193634, d.AUC, 1e-8)
	line := Calibrate(p, event, nil)
	assert.InDelta(t, 0.84313093, line.Slope, 2e-6)
	assert.InDelta(t, 0.27835840, line.SE, 2e-6)
	assert.InDelta(t, -0.04770416, line.Intercept, 2e-6)
	assert.True(t, math.IsNaN(Calibrate([]float64{0.1, 0.1, 0.1}, []bool{true, false, false}, nil).Slope))
}

// The parts add up to the score whatever the groups, and with equal forecasts in a
// group they are Murphy's (1973) three.
func TestPartsOfBrier(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for groups := 1; groups < 12; groups++ {
		var p []float64
		var event []bool
		for range 200 {
			f := math.Round(10*rng.Float64()) / 10
			p, event = append(p, f), append(event, rng.Float64() < f)
		}
		score := Brier(p, event, 0.95).Point
		parts := PartsOfBrier(ForecastGroups(p, event, groups), score)
		assert.InDelta(t, score, float64(parts.Reliability-parts.Resolution+parts.Uncertainty+parts.Within), 1e-12)
		n := 0
		for _, g := range ForecastGroups(p, event, groups) {
			n += g.N
		}
		assert.Equal(t, 200, n)
	}
	// By hand: 4 forecast 0.25, one of them with an event; 2 forecast 0.5, one.
	p, event := []float64{0.25, 0.25, 0.25, 0.25, 0.5, 0.5}, []bool{true, false, false, false, true, false}
	parts := PartsOfBrier(ForecastGroups(p, event, 6), Brier(p, event, 0.95).Point)
	assert.InDelta(t, 0, float64(parts.Reliability), 1e-12)
	assert.InDelta(t, 0, float64(parts.Within), 1e-12)
	assert.InDelta(t, 2./9, float64(parts.Uncertainty), 1e-12)
	assert.InDelta(t, 2./9-(4*0.1875+2*0.25)/6, float64(parts.Resolution), 1e-12)
}

// Vickers AJ, Elkin EB (2006): the reference package's own data and figures (750
// people, 105 with an event), read in its test file.
func TestNetBenefitExample(t *testing.T) {
	x := shared(t, "dca_binary.csv")
	event := make([]bool, len(x["cancer"]))
	for i, v := range x.ints(t, "cancer") {
		event[i] = v == 1
	}
	benefit := func(threshold float64, all bool) float64 {
		chosen := make([]bool, len(event))
		for i, p := range x.nums(t, "p") {
			chosen[i] = all || p >= threshold
		}
		return NetBenefit(chosen, event, threshold, 0.95).Point
	}
	for threshold, want := range map[float64][2]float64{0.10: {0.08740741, 0.04444444}, 0.20: {0.06733333, -0.075}, 0.25: {0.064, -0.14666667}} {
		assert.InDelta(t, want[0], benefit(threshold, false), 5e-9)
		assert.InDelta(t, want[1], benefit(threshold, true), 5e-9)
	}
}

// By hand: 200 orders, 16 remakes, 50 chosen with 10 of them, threshold 0.10.
func TestNetBenefitByHand(t *testing.T) {
	chosen, event, all := make([]bool, 200), make([]bool, 200), make([]bool, 200)
	for i := range 200 {
		chosen[i], event[i], all[i] = i < 50, i < 10 || i >= 194, true
	}
	assert.InDelta(t, 0.05-0.2/9, NetBenefit(chosen, event, 0.10, 0.95).Point, 1e-12)
	assert.InDelta(t, 0.0277778, NetBenefit(chosen, event, 0.10, 0.95).Point, 5e-8)
	assert.InDelta(t, -0.0222222, NetBenefit(all, event, 0.10, 0.95).Point, 5e-8)
	assert.Zero(t, NetBenefit(make([]bool, 200), event, 0.10, 0.95).Point)
}

// A subject that counts twice is two subjects.
func TestWeightedAUC(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var score, weight, all []float64
	var event, allEvents []bool
	var order []int
	for i := range 60 {
		s, y, n := float64(i/7), rng.Float64() < 0.3, float64(rng.IntN(3))
		score, event, weight, order = append(score, s), append(event, y), append(weight, n), append(order, i)
		for range int(n) {
			all, allEvents = append(all, s), append(allEvents, y)
		}
	}
	d, err := Discriminate(all, allEvents)
	require.NoError(t, err)
	assert.InDelta(t, d.AUC, WeightedAUC(score, event, weight, order), 1e-12)
}
