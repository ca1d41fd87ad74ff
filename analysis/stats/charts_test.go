package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// NIST/SEMATECH e-Handbook 6.3.3.2, 30 wafers of 50.
func TestPChartNIST(t *testing.T) {
	s := example(t, "nist_p_chart.csv")
	x, n := s.ints(t, "nonconforming"), s.ints(t, "n")
	check := func(p, low, high float64, out []int) {
		got := PCenter(x, n)
		assert.InDelta(t, p, got, 5e-6)
		l := PLimits(got, 50)
		assert.InDelta(t, low, l.Low, 5e-6)
		assert.InDelta(t, high, l.High, 5e-6)
		var outside []int
		for i := range x {
			if share := float64(x[i]) / float64(n[i]); share < l.Low || share > l.High {
				outside = append(outside, x[i])
			}
		}
		assert.Equal(t, out, outside)
	}
	check(0.231333, 0.05243, 0.41024, []int{x[14], x[22]})
	at21 := x[20]
	x, n = append(x[:14:14], append(x[15:22:22], x[23:]...)...), n[:28]
	check(0.21500, 0.04070, 0.38930, []int{at21}) // 20 of 50: 0.40
}

// Tails of R's pbinom for the limits of the same chart, and for 8% of 100.
func TestBinomialLimits(t *testing.T) {
	low, high := BinomialLimits(347.0/1500, 50, 0.00135)
	assert.Equal(t, []int{4, 21}, []int{low, high})
	assert.InDelta(t, 0.00128020007, BinomialCDF(3, 50, 347.0/1500), 1e-11)
	assert.InDelta(t, 0.000892990537, 1-BinomialCDF(21, 50, 347.0/1500), 1e-11)
	low, high = BinomialLimits(0.08, 100, 0.00135)
	assert.Equal(t, []int{1, 17}, []int{low, high}) // P(X > 16) is 0.0024
	assert.InDelta(t, 0.00240911464, 1-BinomialCDF(16, 100, 0.08), 1e-11)
	for n, want := range map[int]int{20: 6, 50: 11, 200: 29, 300: 39} { // R: qbinom(.99865, n, .08)
		_, high = BinomialLimits(0.08, n, 0.00135)
		assert.Equal(t, want, high)
	}
	low, high = BinomialLimits(0.08, 0, 0.00135)
	assert.Equal(t, []int{0, 0}, []int{low, high})
	for n := range 60 { // neither tail is ever larger than allowed, nor needlessly small
		low, high := BinomialLimits(0.13, n, 0.01)
		assert.LessOrEqual(t, BinomialCDF(low-1, n, 0.13), 0.01)
		assert.Greater(t, BinomialCDF(low, n, 0.13), 0.01)
		assert.LessOrEqual(t, 1-BinomialCDF(high, n, 0.13), 0.01+1e-12)
		assert.Greater(t, 1-BinomialCDF(high-1, n, 0.13), 0.01)
	}
}

// Mohammed MA et al. (2013) BMJ Qual Saf 22:362-368, attendances within four
// hours; digits of R's qicharts2. The data may not be copied.
func TestLaneyPAttendances(t *testing.T) {
	s := shared(t, "nhs_accidents.csv")
	c := LaneyP(s.ints(t, "r"), s.ints(t, "n"))
	assert.InDelta(t, 0.952899711, c.Center, 5e-10)
	assert.InDelta(t, 10.6404219, c.SigmaZ, 5e-8)
	assert.InDelta(t, 0.940129644, c.Limits[0].Low, nine)
	assert.InDelta(t, 0.965669779, c.Limits[0].High, nine)
	assert.InDelta(t, 0.940046419, c.Limits[1].Low, nine)
	assert.InDelta(t, 0.965753004, c.Limits[1].High, nine)
}

// By hand: four samples of 100 with 10, 30, 10, 30 events. p = 0.2, sigma of a
// sample 0.04, z = -+2.5, each moving range 5: SigmaZ = 5/1.128.
func TestLaneyPByHand(t *testing.T) {
	c := LaneyP([]int{10, 30, 10, 30}, []int{100, 100, 100, 100})
	assert.InDelta(t, 5/1.128, c.SigmaZ, 1e-12)
	assert.InDelta(t, clamp01(0.2+3*0.04*5/1.128), c.Limits[0].High, 1e-12)
	gap := LaneyP([]int{10, 0, 30}, []int{100, 0, 100})
	assert.InDelta(t, 5/1.128, gap.SigmaZ, 1e-12, "an empty month is passed over")
	assert.True(t, math.IsNaN(gap.Limits[1].High))
	assert.True(t, math.IsNaN(LaneyP([]int{3}, []int{50}).SigmaZ))
	assert.True(t, math.IsNaN(LaneyP([]int{0, 0}, []int{50, 50}).Limits[0].Low))
}

// NIST/SEMATECH e-Handbook 6.3.2.4; run lengths of R's spc (Lucas and
// Saccucci 1990, Technometrics 32:1-12, print 500 and 10.3).
func TestEWMA(t *testing.T) {
	s := example(t, "nist_ewma.csv")
	l := EWMALimits(50, 2.0539, 0.3, 3, 0)
	assert.InDelta(t, 52.5884, l.High, 5e-5)
	assert.InDelta(t, 47.41157, l.Low, 5e-6)
	got := EWMA(s.nums(t, "x"), 50, 0.3)
	assert.InDeltaSlice(t, s.nums(t, "ewma"), got, 0.0051)
	for _, z := range got {
		assert.True(t, z > l.Low && z < l.High)
	}
	assert.InDelta(t, 2.0539*0.3*3, EWMALimits(0, 2.0539, 0.3, 3, 1).High, 1e-12, "the first point spreads lambda sigma")
	assert.InDelta(t, 499.57955, EWMARunLength(0.1, 2.814, 0), 5e-5)
	assert.InDelta(t, 10.3306652, EWMARunLength(0.1, 2.814, 1), 5e-7)
	assert.Equal(t, []float64{2, 2, 5}, EWMA([]float64{4, math.NaN(), 8}, 0, 0.5))
}

// NIST/SEMATECH e-Handbook 6.3.2.3; run lengths of R's spc (Montgomery prints
// 168, 8.38, 465 and 10.4).
func TestCUSUM(t *testing.T) {
	s := example(t, "nist_cusum.csv")
	high, low := CUSUM(s.nums(t, "x"), 325, 0.3175)
	assert.InDeltaSlice(t, s.nums(t, "s_hi"), high, 0.0051)
	assert.InDeltaSlice(t, s.nums(t, "s_lo"), low, 0.0051)
	first := 0
	for high[first] <= 4.1959 {
		first++
	}
	assert.Equal(t, 14, first+1)
	for _, w := range []struct{ h, shift, arl float64 }{
		{4, 0, 167.683789}, {4, 1, 8.38313187}, {5, 0, 465.443506}, {5, 1, 10.3759699},
	} {
		assert.InEpsilon(t, w.arl, CUSUMRunLength(0.5, w.h, w.shift), 1e-8)
	}
}

// Run lengths by linear solve in R (Reynolds and Stoumbos 1999, J Qual Technol
// 31:87-108, for the method).
func TestBernoulliCUSUMRunLength(t *testing.T) {
	for _, w := range []struct {
		p0   float64
		m    int
		p1   float64
		arls [6]float64 // h = 2, 3, 4: in control, shifted
	}{
		{0.08, 9, 0.148336241, [6]float64{114.231218, 32.2478146, 309.38001, 54.5878564, 741.089568, 79.5586666}},
		{0.05, 14, 0.0977441979, [6]float64{181.200525, 47.3270936, 491.779017, 79.0190384, 1195.6354, 114.519409}},
		{0.10, 7, 0.194357958, [6]float64{98.713013, 24.5619357, 283.118322, 41.3682346, 718.536894, 59.8115052}},
	} {
		c, ok := NewBernoulliCUSUM(w.p0, w.p1)
		require.True(t, ok)
		assert.Equal(t, w.m, c.M)
		assert.InEpsilon(t, w.p1, c.P1, nine)
		for i, h := range []int{2, 3, 4} {
			assert.InEpsilon(t, w.arls[2*i], c.RunLength(w.p0, h*w.m), 5e-9)
			assert.InEpsilon(t, w.arls[2*i+1], c.RunLength(c.P1, h*w.m), 5e-9)
		}
		limit, ok := c.Limit(300)
		require.True(t, ok)
		assert.GreaterOrEqual(t, c.RunLength(w.p0, limit), 300.0)
		assert.Less(t, c.RunLength(w.p0, limit-1), 300.0)
	}
	near, ok := NewBernoulliCUSUM(0.08, 0.15)
	assert.True(t, ok)
	assert.Equal(t, 9, near.M)
	_, ok = NewBernoulliCUSUM(0.2, 0.1)
	assert.False(t, ok)
	sum, signals := near.Path([]bool{false, true, false, true, true, false}, 18)
	assert.Equal(t, []int{0, 8, 7, 15, 23, 0}, sum)
	assert.Equal(t, []int{4}, signals)
	assert.True(t, math.IsNaN(near.RunLength(0, 18)))
}

// Steiner et al. (2000) Biostatistics 1:441-452, p. 446: logit of the risk
// -3.68 + 0.077 score.
func TestRiskWeightsSteiner(t *testing.T) {
	for _, w := range []struct{ score, ratio, event, none float64 }{
		{0, 2, 0.668842518, -0.0243046626}, {50, 2, 0.259808871, -0.43333831}, {71, 2, 0.0744223665, -0.618724814},
		{0, 0.5, -0.68076968, 0.0123775004}, {50, 0.5, -0.37679266, 0.31635452},
	} {
		event, none := RiskWeights(Logistic(-3.68+0.077*w.score), w.ratio)
		assert.InDelta(t, w.event, event, nine)
		assert.InDelta(t, w.none, none, nine)
	}
}

// Baseline 0.035 from the first 200 cases, odds ratio 2, limit 3.5; R's
// qicharts2. The data may not be copied.
func TestRiskAdjustedCUSUMSurgery(t *testing.T) {
	deaths := shared(t, "cabg_death.csv").nums(t, "death")
	event, risk := make([]bool, len(deaths)), make([]float64, len(deaths))
	for i, d := range deaths {
		event[i], risk[i] = d == 1, 0.035
	}
	up, signals := RiskAdjustedCUSUM(risk, event, 2, 3.5)
	top := 0.0
	for _, s := range up {
		top = math.Max(top, s)
	}
	assert.InDelta(t, 1.94695448, top, 5e-9)
	assert.Empty(t, signals)
	_, signals = RiskAdjustedCUSUM(risk, event, 0.5, 3.5)
	assert.Equal(t, []int{855}, signals, "case 856")
}

// By hand: risk 1/2, ratio 3: log 1.5 up on an event, log 2 down otherwise.
func TestRiskAdjustedCUSUMByHand(t *testing.T) {
	half := []float64{0.5, 0.5, math.NaN(), 0.5, 0.5}
	sum, signals := RiskAdjustedCUSUM(half, []bool{true, true, true, false, true}, 3, 0.8)
	assert.InDeltaSlice(t, []float64{math.Log(1.5), math.Log(2.25), 0, 0, math.Log(1.5)}, sum, 1e-15)
	assert.Equal(t, []int{1}, signals)
}

// The run length of a mix agrees with simulation within four standard errors,
// and with the exact Bernoulli chart where all risks are alike.
func TestRiskAdjustedRunLength(t *testing.T) {
	risk, weights := []float64{0.03, 0.06, 0.1, 0.17, 0.25}, []float64{3, 5, 4, 2, 1}
	for _, truth := range []float64{1, 2} {
		arl := RiskAdjustedRunLength(risk, weights, 2, truth, 2.5)
		mean, se := simulateRuns(risk, weights, truth, 2.5, 3000)
		assert.InDelta(t, mean, arl, 4*se+0.01*arl)
	}
	c, _ := NewBernoulliCUSUM(0.08, 0.148336241)
	ratio := 0.148336241 / (1 - 0.148336241) * 0.92 / 0.08
	_, none := RiskWeights(0.08, ratio)
	got := RiskAdjustedRunLength([]float64{0.08}, nil, ratio, 1, -none*25) // steps fall on cells
	assert.InEpsilon(t, c.RunLength(0.08, 25), got, 1e-6)
	assert.True(t, math.IsNaN(RiskAdjustedRunLength([]float64{0}, nil, 2, 1, 3)))
}

func simulateRuns(risk, weights []float64, truth, limit float64, runs int) (mean, se float64) {
	rng := rand.New(rand.NewPCG(3, 5))
	var sum, square float64
	for range runs {
		s, k := 0.0, 0.0
		for s < limit {
			u, i := rng.Float64()*15, 0
			for u > weights[i] {
				u -= weights[i]
				i++
			}
			p := risk[i]
			hit, miss := RiskWeights(p, 2)
			if rng.Float64() < truth*p/(1-p+truth*p) {
				s = math.Max(0, s+hit)
			} else {
				s = math.Max(0, s+miss)
			}
			k++
		}
		sum, square = sum+k, square+k*k
	}
	n := float64(runs)
	mean = sum / n
	return mean, math.Sqrt((square/n - mean*mean) / n)
}

// Benneyan JC (2001) Health Care Manag Sci 4:305-318 for the limits; counts of
// our own; limits and quantiles of R (qicharts2, qgeom).
func TestGChart(t *testing.T) {
	counts := []float64{3, 12, 0, 25, 7, 14, 41, 2, 9, 18, 5, 30, 11, 6, 22, 1, 16, 8, 27, 13}
	mean := 0.0
	for _, c := range counts {
		mean += c / 20
	}
	l := GLimits(mean)
	assert.InDelta(t, 13.5, l.Center, 1e-12)
	assert.InDelta(t, 55.4732057, l.High, 5e-8)
	assert.Zero(t, l.Low)
	for _, w := range []struct {
		q, p float64
		k    int
	}{
		{0.00135, 1 / 14.5, 0}, {0.5, 1 / 14.5, 9}, {0.99865, 1 / 14.5, 92},
		{0.00135, 0.08, 0}, {0.025, 0.08, 0}, {0.5, 0.08, 8}, {0.975, 0.08, 44}, {0.99865, 0.08, 79},
		{0.5, 0.5, 0}, {0.75, 0.5, 1}, {0.5, 1, 0}, {0.5, 0, -1},
	} {
		assert.Equal(t, w.k, GeometricQuantile(w.q, w.p), "%v", w)
	}
}

// Spiegelhalter DJ (2005) Stat Med 24:1185-1202, target 0.08; digits of R.
func TestFunnelLimit(t *testing.T) {
	q := []float64{0.001, 0.025, 0.975, 0.999}
	for n, want := range map[int][]float64{
		20:  {0, 0, 0.193633536, 0.294268536},
		50:  {0, 0.00283543657, 0.153847857, 0.211397985},
		100: {0.00365745365, 0.0253973755, 0.132166, 0.169532272},
		200: {0.0250193961, 0.0417649716, 0.11719499, 0.142615529},
		300: {0.0340877591, 0.0489124995, 0.110313207, 0.130516714},
	} {
		for i := range q {
			assert.InDelta(t, want[i], FunnelLimit(0.08, n, q[i]), nine, "n %d, %v", n, q[i])
		}
	}
	assert.True(t, math.IsNaN(FunnelLimit(0, 10, 0.5)))
}
