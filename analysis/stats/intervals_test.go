package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Newcombe RG (1998) Stat Med 17:857-872, Table I, and a case of our own
// (10/200); digits of R 4.2.2 (prop.test, binom.test; mid-p by uniroot).
func TestProportionNewcombe(t *testing.T) {
	for _, w := range []struct {
		x, n                    int
		wilson, pearson, middle [2]float64
	}{
		{81, 263, [2]float64{0.25528852, 0.366209577}, [2]float64{0.252736746, 0.367621923}, [2]float64{0.254402105, 0.365773474}},
		{15, 148, [2]float64{0.0623863995, 0.160487242}, [2]float64{0.0578440101, 0.16165049}, [2]float64{0.0600636027, 0.158121733}},
		{0, 20, [2]float64{0, 0.161125158}, [2]float64{0, 0.168433471}, [2]float64{0, 0.139108341}},
		{1, 29, [2]float64{0.00611321429, 0.171755219}, [2]float64{0.000872646884, 0.177644295}, [2]float64{0.00172477011, 0.158537384}},
		{10, 200, [2]float64{0.0273826456, 0.0895781481}, [2]float64{0.0242341655, 0.0900275377}, [2]float64{0.0256735662, 0.0873057734}},
	} {
		p := float64(w.x) / float64(w.n)
		checkEstimate(t, Wilson(w.x, w.n, 0.95), p, w.wilson[0], w.wilson[1], nine)
		checkEstimate(t, ClopperPearson(w.x, w.n, 0.95), p, w.pearson[0], w.pearson[1], nine)
		checkEstimate(t, MidP(w.x, w.n, 0.95), p, w.middle[0], w.middle[1], nine)
	}
}

// At 0 and at n the limit is the number itself, not 1e-17 beside it.
func TestProportionEdges(t *testing.T) {
	for _, f := range []func(x, n int, level float64) Estimate{Wilson, ClopperPearson, MidP} {
		for n := 1; n < 400; n++ {
			assert.Zero(t, f(0, n, 0.95).Low)
			assert.Equal(t, 1.0, f(n, n, 0.95).High)
		}
		for _, bad := range [][2]int{{0, 0}, {-1, 5}, {6, 5}, {0, -3}} {
			e := f(bad[0], bad[1], 0.95)
			assert.False(t, e.Given())
			assert.NotEmpty(t, e.Warnings)
		}
		for _, level := range []float64{0, 1, math.NaN(), -2, 95} {
			assert.False(t, f(3, 5, level).Given(), "level %v", level)
		}
	}
	wide := Wilson(999_999, 1_000_000, 0.95)
	assert.True(t, wide.Low < wide.Point && wide.Point < wide.High && wide.High < 1)
}

// Properties: limits hold the point, rise with x, mirror x -> n-x, widen with
// the level.
func TestProportionProperties(t *testing.T) {
	for _, f := range []func(x, n int, level float64) Estimate{Wilson, ClopperPearson, MidP} {
		for n := 1; n <= 60; n += 7 {
			last := Estimate{Low: -1, High: -1}
			for x := 0; x <= n; x++ {
				e, mirror := f(x, n, 0.95), f(n-x, n, 0.95)
				assert.True(t, 0 <= e.Low && e.Low <= e.Point && e.Point <= e.High && e.High <= 1)
				assert.InDelta(t, 1-mirror.High, e.Low, 1e-9)
				assert.True(t, e.Low >= last.Low && e.High >= last.High)
				wider := f(x, n, 0.99)
				assert.True(t, wider.Low <= e.Low && wider.High >= e.High)
				last = e
			}
		}
	}
}

// Large books: each exact limit has its tail probability.
func TestClopperPearsonLarge(t *testing.T) {
	for _, n := range []int{3000, 1_000_000} {
		for _, x := range []int{1, 50, n / 12, n - 3} {
			e := ClopperPearson(x, n, 0.95)
			assert.InDelta(t, 0.025, BinomialCDF(x, n, e.High), 1e-7, "%d of %d", x, n)
			assert.InDelta(t, 0.975, BinomialCDF(x-1, n, e.Low), 1e-7, "%d of %d", x, n)
			m := MidP(x, n, 0.95)
			assert.True(t, e.Low < m.Low && m.Low < m.Point && m.Point < m.High && m.High < e.High)
		}
	}
}

// R's help page of poisson.test: 11 in 800 against 21 in 3011.
func TestPoissonRateRatio(t *testing.T) {
	checkEstimate(t, PoissonRateRatio(11, 800, 21, 3011, 0.95), 1.9714881, 0.858426403, 4.277265944, 5e-8)
	assert.Zero(t, PoissonRateRatio(0, 10, 5, 10, 0.95).Low)
	assert.False(t, PoissonRateRatio(5, 10, 0, 10, 0.95).Given())
	assert.False(t, PoissonRateRatio(5, 0, 1, 10, 0.95).Given())
}

func TestBinomial(t *testing.T) {
	for _, p := range []float64{0, 0.08, 0.5, 1} {
		for n := range 30 {
			sum := 0.0
			for x := -1; x <= n+1; x++ {
				sum += BinomialProb(x, n, p)
				assert.InDelta(t, sum, BinomialCDF(x, n, p), 1e-12, "%d %d %v", x, n, p)
			}
		}
	}
	assert.Equal(t, 17, BinomialQuantile(0.99865, 100, 0.08)) // R: qbinom
	assert.Equal(t, -1, BinomialQuantile(0.5, 3, math.NaN()))
	assert.True(t, math.IsNaN(BinomialCDF(1, 3, 2)))
}
