package stats

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Newcombe RG (1998) Stat Med 17:857-872, Table I, and a case of our own
// (10/200); digits of R 4.2.2 (prop.test).
func TestProportionNewcombe(t *testing.T) {
	for _, w := range []struct {
		x, n   int
		wilson [2]float64
	}{
		{81, 263, [2]float64{0.25528852, 0.366209577}},
		{15, 148, [2]float64{0.0623863995, 0.160487242}},
		{0, 20, [2]float64{0, 0.161125158}},
		{1, 29, [2]float64{0.00611321429, 0.171755219}},
		{10, 200, [2]float64{0.0273826456, 0.0895781481}},
	} {
		p := float64(w.x) / float64(w.n)
		checkEstimate(t, Wilson(w.x, w.n, 0.95), p, w.wilson[0], w.wilson[1], nine)
	}
}

// At 0 and at n the limit is the number itself, not 1e-17 beside it.
func TestProportionEdges(t *testing.T) {
	for _, f := range []func(x, n int, level float64) Estimate{Wilson} {
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
	for _, f := range []func(x, n int, level float64) Estimate{Wilson} {
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

func TestRoundedHasNoMinusZero(t *testing.T) {
	for x, want := range map[float64]string{-0.04: "0.0", 0.04: "0.0", -0.05: "-0.1", 1.25: "1.3", -3: "-3.0"} {
		assert.Equal(t, want, fmt.Sprintf("%.1f", Rounded(x, 1)))
	}
}
