package remakes

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/internal/invented"
	"lastroom/analysis/stats"
)

func chartNamed(t *testing.T, tr Trend, name string) Chart {
	t.Helper()
	for _, ch := range tr.Charts {
		if ch.Name == name {
			return ch
		}
	}
	require.Fail(t, "no chart "+name)
	return Chart{}
}

// steady is three years in which nothing changes, or, from a day on, the odds of
// a remake grow by the factor. Remakes come after 30 days.
func steady(seed uint64, from int, factor float64, taller bool) *cohort.Cohort {
	c, _ := invented.Workshop{Orders: 3600, Intercept: -3, Idle: 200, Seed: seed}.Make()
	rng := stats.Source(seed, 1)
	for i := range c.Shipped {
		c.Remade[i], c.Returned[i] = cohort.NoDay, cohort.NoDay
		tall := rng.Float64() < 0.3
		if taller && i >= from {
			tall = true
		}
		c.ShaftMM[i] = 250
		odds := 0.06
		if tall {
			c.ShaftMM[i], odds = 400, 0.2
		}
		if i >= from {
			odds *= factor
		}
		if rng.Float64() < odds/(1+odds) {
			remake(c, i, 30)
		}
	}
	return c
}

func TestChartsSeeARise(t *testing.T) {
	c := steady(1, 2400, 2.5, false)
	tr := Watch(c, Options{})
	for _, name := range []string{"cusum", "risk_adjusted_cusum", "ewma"} {
		ch := chartNamed(t, tr, name)
		require.NotEmpty(t, ch.Signals, name)
		assert.Equal(t, "worse", ch.Signals[0].Direction)
		assert.GreaterOrEqual(t, ch.Signals[0].Day, c.Shipped[2400], name)
		assert.Greater(t, float64(ch.RunLength), float64(ch.ShiftRunLength), name)
	}
	assert.Contains(t, tr.Words[1], "signal")
}

// More tall boots in the last year: the plain CUSUM takes them for worse work,
// the risk-adjusted one must not. (One in some 2,400 orders is a false alarm,
// so a few workshops are looked at.)
func TestTallerBootsAreNotWorseWork(t *testing.T) {
	long(t)
	plain, adjusted := 0, 0
	for seed := range uint64(8) {
		tr := Watch(steady(seed, 2400, 1, true), Options{})
		plain += len(chartNamed(t, tr, "cusum").Signals)
		adjusted += len(chartNamed(t, tr, "risk_adjusted_cusum").Signals)
	}
	assert.Greater(t, plain, 8*5)
	assert.Less(t, adjusted, 8*3)
}

// The stated run lengths are those of the book: Bernoulli CUSUM limits come
// from exact equations (tested in stats); here the limit must hold what the
// chart says it was tuned for.
func TestStatedRunLengths(t *testing.T) {
	tr := Watch(steady(3, 9999, 1, false), Options{})
	ch := chartNamed(t, tr, "cusum")
	assert.GreaterOrEqual(t, float64(ch.RunLength), 1000.0)
	ra := chartNamed(t, tr, "risk_adjusted_cusum")
	assert.GreaterOrEqual(t, float64(ra.RunLength), 1000.0)
	assert.InDelta(t, 370, float64(chartNamed(t, tr, "ewma").RunLength), 40)
	g := chartNamed(t, tr, "g")
	assert.Less(t, float64(g.Centre), float64(g.Limit))
	assert.False(t, tr.Laney.Used)
}

func TestOverdispersedMonthsGetWiderLimits(t *testing.T) {
	x := make([]int, 36)
	for k := range x {
		x[k] = 2 + 16*(k%2)
	}
	c := year(t, 100, x, 400)
	tr := Watch(c, Options{MatureDays: 100})
	assert.True(t, tr.Laney.Used)
	assert.Greater(t, float64(tr.Laney.SigmaZ), 2.0)
	assert.Contains(t, tr.Laney.Words, "p' limits are wider")
	require.Len(t, tr.Laney.Limits, 36)
}

func TestTooFewToWatch(t *testing.T) {
	tr := Watch(bare(50), Options{})
	assert.Empty(t, tr.Charts)
	assert.NotEmpty(t, tr.Warnings)
}
