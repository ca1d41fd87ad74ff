package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// NIST/SEMATECH e-Handbook 6.3.3.2, 30 wafers of 50.
func TestPChartNIST(t *testing.T) {
	s := example(t, "nist_p_chart.csv")
	x, n := s.ints(t, "nonconforming"), s.ints(t, "n")
	check := func(p, low, high float64, out []int) {
		got := PCenter(x, n)
		assert.InDelta(t, p, got, 5e-6)
		l := pLimits(got, 50, 1)
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

// As the baseline grows the limits become the exact binomial ones: R's qbinom for
// the limits of the same chart, and for 8% of 100. With a baseline of 20 events
// they are wider. By hand: Beta(1/2, 1/2), n = 1 gives each count the chance 1/2.
func TestPredictiveLimits(t *testing.T) {
	const known = 1_000_000
	low, high := PredictiveLimits(347.0/1500, known, 50, 0.00135)
	assert.Equal(t, []int{4, 21}, []int{low, high})
	assert.InDelta(t, 0.00128020007, BinomialCDF(3, 50, 347.0/1500), 1e-11)
	assert.InDelta(t, 0.000892990537, 1-BinomialCDF(21, 50, 347.0/1500), 1e-11)
	low, high = PredictiveLimits(0.08, known, 100, 0.00135)
	assert.Equal(t, []int{1, 17}, []int{low, high}) // P(X > 16) is 0.0024
	assert.InDelta(t, 0.00240911464, 1-BinomialCDF(16, 100, 0.08), 1e-11)
	for n, want := range map[int]int{20: 6, 50: 11, 200: 29, 300: 39} { // R: qbinom(.99865, n, .08)
		_, high = PredictiveLimits(0.08, known, n, 0.00135)
		assert.Equal(t, want, high)
	}
	low, high = PredictiveLimits(0.08, 20, 200, 0.00135)
	assert.Less(t, low, 6) // R: qbinom(.00135, 200, .08)
	assert.Greater(t, high, 29)
	low, high = PredictiveLimits(0.5, 0, 1, 0.4)
	assert.Equal(t, []int{0, 1}, []int{low, high})
	low, high = PredictiveLimits(0.08, 10, 0, 0.00135)
	assert.Equal(t, []int{0, 0}, []int{low, high})
	low, high = PredictiveLimits(0, 10, 20, 0.00135)
	assert.Equal(t, []int{0, -1}, []int{low, high})
}

// The chance beyond the limits by integrating binomial tails over the beta
// distribution: at most the tail on each side, and one count further in it is
// more.
func TestPredictiveLimitsByIntegration(t *testing.T) {
	for _, v := range []struct {
		x, n int
		p    float64
	}{{30, 41, 0.06}, {8, 100, 0.08}, {1, 60, 0.02}, {200, 300, 0.1}} {
		const tail, steps = 0.025, 4000
		low, high := PredictiveLimits(v.p, v.x, v.n, tail)
		a := float64(v.x) + 0.5
		share := distuv.Beta{Alpha: a, Beta: a * (1 - v.p) / v.p}
		under := func(k int) float64 { // P(X <= k), midpoints in probability
			sum := 0.0
			for s := range steps {
				sum += BinomialCDF(k, v.n, share.Quantile((float64(s)+0.5)/steps)) / steps
			}
			return sum
		}
		assert.LessOrEqual(t, 1-under(high), tail+1e-4, "%v", v)
		assert.Greater(t, 1-under(high-1), tail-1e-4, "%v", v)
		if low > 0 {
			assert.LessOrEqual(t, under(low-1), tail+1e-4, "%v", v)
		}
		assert.Greater(t, under(low), tail-1e-4, "%v", v)
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

// Where all risks are alike the chart is a Bernoulli CUSUM, whose run lengths
// are exact: linear solve in R (Reynolds and Stoumbos 1999, J Qual Technol
// 31:87-108, for the method). The steps of the sum do not fall on the cells of
// the Markov chain here: 6 parts in 100.
func TestRunLengthOfAlikeRisks(t *testing.T) {
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
		ratio := w.p1 / (1 - w.p1) * (1 - w.p0) / w.p0
		_, none := riskWeights(w.p0, ratio)
		for i, h := range []float64{2, 3, 4} {
			limit := h * float64(w.m) * -none
			assert.InEpsilon(t, w.arls[2*i], RiskAdjustedRunLength([]float64{w.p0}, nil, ratio, 1, limit), 0.06)
			assert.InEpsilon(t, w.arls[2*i+1], RiskAdjustedRunLength([]float64{w.p0}, nil, ratio, ratio, limit), 0.06)
		}
	}
}

// Steiner et al. (2000) Biostatistics 1:441-452, p. 446: logit of the risk
// -3.68 + 0.077 score.
func TestRiskWeightsSteiner(t *testing.T) {
	for _, w := range []struct{ score, ratio, event, none float64 }{
		{0, 2, 0.668842518, -0.0243046626}, {50, 2, 0.259808871, -0.43333831}, {71, 2, 0.0744223665, -0.618724814},
		{0, 0.5, -0.68076968, 0.0123775004}, {50, 0.5, -0.37679266, 0.31635452},
	} {
		event, none := riskWeights(Logistic(-3.68+0.077*w.score), w.ratio)
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
	up, excursions := RiskAdjustedCUSUM(risk, event, 2, 3.5)
	top := 0.0
	for _, s := range up {
		top = math.Max(top, s)
	}
	assert.InDelta(t, 1.94695448, top, 5e-9)
	assert.Empty(t, excursions)
	_, excursions = RiskAdjustedCUSUM(risk, event, 0.5, 3.5)
	require.NotEmpty(t, excursions)
	assert.Equal(t, 855, excursions[0].Signal, "case 856")
}

// By hand: risk 1/2, ratio 3: log 1.5 up on an event, log 2 down otherwise. It
// signals once, is held at the limit, and is over when it is back at 0.
func TestRiskAdjustedCUSUMByHand(t *testing.T) {
	half := []float64{0.5, 0.5, math.NaN(), 0.5, 0.5, 0.5, 0.5}
	sum, excursions := RiskAdjustedCUSUM(half, []bool{true, true, true, true, false, false, true}, 3, 0.8)
	assert.InDeltaSlice(t, []float64{math.Log(1.5), 0.8, 0.8, 0.8, 0.8 - math.Log(2), 0, math.Log(1.5)}, sum, 1e-15)
	assert.Equal(t, []Excursion{{0, 1, 5}}, excursions)
	_, open := RiskAdjustedCUSUM(half, []bool{false, true, true, true, true, true, true}, 3, 0.8)
	assert.Equal(t, []Excursion{{1, 3, -1}}, open)
	// At odds of 1.1 an event adds log(1.1/1.05) = 0.0465: the second reaches 0.09, the first left 0.
	_, slow := RiskAdjustedCUSUM(half[3:], []bool{true, true, false, false}, 1.1, 0.09)
	assert.Equal(t, []Excursion{{0, 1, 3}}, slow)
}

// The run length of a mix agrees with simulation within four standard errors.
func TestRiskAdjustedRunLength(t *testing.T) {
	risk, weights := []float64{0.03, 0.06, 0.1, 0.17, 0.25}, []float64{3, 5, 4, 2, 1}
	for _, truth := range []float64{1, 2} {
		arl := RiskAdjustedRunLength(risk, weights, 2, truth, 2.5)
		mean, se := simulateRuns(risk, weights, truth, 2.5, 3000)
		assert.InDelta(t, mean, arl, 4*se+0.015*arl)
	}
	assert.True(t, math.IsNaN(RiskAdjustedRunLength([]float64{0}, nil, 2, 1, 3)))
}

// A chain's run length against gonum's general LU, for sums that rise far and fall little
// and the other way round.
func TestChainAgainstLU(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for _, reach := range [][2]int{{3, 20}, {20, 3}, {40, 40}} {
		const n = 60
		c, m := newChain(n), mat.NewDense(n, n, nil)
		for i := range n {
			for range 5 {
				c.move(i, float64(max(0, i-reach[0]+rng.IntN(reach[0]+reach[1]+1)))+rng.Float64(), 0.199)
			}
			c.over[i] += 0.005
			for j := range n {
				m.Set(i, j, -c.to.At(i, j))
			}
			m.Set(i, i, 1-c.to.At(i, i))
		}
		var want mat.VecDense
		require.NoError(t, want.SolveVec(m, mat.NewVecDense(n, slices.Repeat([]float64{1}, n))))
		assert.InEpsilon(t, want.AtVec(0), c.length(), 1e-11)
	}
}

// A run of n successes, each of chance p: (1 - p^n)/((1-p) p^n) trials on average (Feller W (1968) An
// Introduction to Probability Theory and Its Applications, vol. 1, 3rd ed., XIII.7). Of ten at 0.001 that
// is 10^30, where 1 less the chance to stay is rounding alone. A chain that is never over has none.
func TestLongRunsOfFeller(t *testing.T) {
	successes := func(n int, p float64) chain {
		c := newChain(n)
		for i := range n {
			c.move(i, float64(i+1), p)
			c.move(i, 0, 1-p)
		}
		return c
	}
	for _, p := range []float64{0.5, 0.1, 0.001} {
		assert.InEpsilon(t, (1-math.Pow(p, 10))/((1-p)*math.Pow(p, 10)), successes(10, p).length(), 1e-12, "%v", p)
	}
	assert.InEpsilon(t, 10, successes(10, 1).length(), 1e-12)
	assert.True(t, math.IsNaN(successes(10, 0).length()))
	stuck := successes(10, 0.1)
	stuck.over[9] = 0
	stuck.move(9, 3, 0.1)
	assert.True(t, math.IsNaN(stuck.length()))
}

// The limit keeps the rate it is asked for, and is the higher the fewer events
// the baseline has. Where the baseline is long the rate is that of one run
// length.
func TestRiskAdjustedLimit(t *testing.T) {
	risk, weights := []float64{0.03, 0.06, 0.1, 0.17, 0.25}, []float64{3, 5, 4, 2, 1}
	last := 0.0
	length := func(truth, limit float64) float64 { return RiskAdjustedRunLength(risk, weights, 2, truth, limit) }
	for _, x := range []int{100_000, 400, 40, 12} {
		limit := RiskAdjustedLimit(risk, weights, 2, x, 10*x, 400, 0.03)
		assert.InEpsilon(t, 0.03, falseAlarms(risk, weights, 2, limit, x, 10*x, 400), 0.011)
		assert.Greater(t, limit, last)
		last = limit
		if x == 100_000 {
			assert.InEpsilon(t, 0.03, -math.Expm1(-(800-length(2, limit))/length(1, limit))/2, 0.03)
		}
	}
	assert.True(t, math.IsNaN(RiskAdjustedLimit(risk, weights, 2, 0, 100, 400, 0.03)))
	// With 20 orders a year the sum takes longer to climb than the half year that is allowed for it.
	require.Greater(t, length(2, 3), 20.0)
	assert.InEpsilon(t, -math.Expm1(-30/length(1, 3))/2, falseAlarms(risk, weights, 2, 3, 100_000, 1_000_000, 20), 1e-3)
	// Of the odds of 15/148: Jeffreys' limits of the share, 0.0604 and 0.1576
	// (Brown, Cai, DasGupta 2001, Stat Sci 16:101-133; digits of R's qbeta).
	odds := 15.0 / 133
	assert.InDelta(t, 0.0604/0.9396/odds, LevelQuantile(0.025, 15, 148), 0.001)
	assert.InDelta(t, 0.1576/0.8424/odds, LevelQuantile(0.975, 15, 148), 0.001)
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
			hit, miss := riskWeights(p, 2)
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

// Quantiles of the geometric distribution of R's qgeom. (The limit of a g chart
// by three standard deviations, Benneyan JC (2001) Health Care Manag Sci
// 4:305-318, lies far under the exact one: 55 for the first of these shares.)
func TestGeometricQuantile(t *testing.T) {
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
