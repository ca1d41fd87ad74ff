package monitoring

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
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
			invented.Remake(c, i, 30)
		}
	}
	return c
}

func TestChartsSeeARise(t *testing.T) {
	c := steady(1, 2400, 2.5, false)
	tr := Watch(c, remakes.Options{})
	ch := chartNamed(t, tr, "risk_adjusted_cusum")
	require.Len(t, ch.Signals, 1, "one lasting change is one signal")
	assert.Greater(t, float64(ch.RunLength), float64(ch.ShiftRunLength))
	require.Len(t, tr.Signals, 1)
	s := tr.Signals[0]
	assert.Equal(t, "worse", s.Direction)
	assert.GreaterOrEqual(t, s.Day, c.Shipped[2400])
	assert.InDelta(t, float64(c.Shipped[2400]), float64(s.From), 60, "when it began")
	assert.False(t, s.Until.Known())
	assert.Contains(t, tr.Statement, "More remakes than usual since about")
	assert.Contains(t, tr.Statement, "still so")
	assert.Equal(t, tr.Statement, tr.Words[0])
}

// A rise that ends is one signal with its end, and the sum comes back.
func TestARiseThatEnds(t *testing.T) {
	c, calm := steady(1, 1800, 3, false), steady(1, 9999, 1, false)
	for i := 2300; i < c.Len(); i++ {
		c.Remade[i] = calm.Remade[i]
	}
	tr := Watch(c, remakes.Options{})
	require.Len(t, tr.Signals, 1)
	assert.Greater(t, tr.Signals[0].Until, c.Shipped[2300])
	assert.Contains(t, tr.Statement, ", over by")
}

// More tall boots in the last year are not worse work: with CI=true in eight shops, of two
// years each, otherwise in three.
func TestTallerBootsAreNotWorseWork(t *testing.T) {
	invented.Long(t)
	signals := 0
	for seed := range uint64(breadth.Few(3, 8)) {
		signals += len(Watch(steady(seed, 2400, 1, true), remakes.Options{}).Signals)
	}
	assert.LessOrEqual(t, signals, breadth.Few(1, 2), "6 or 16 years at 5 in 100")
}

// The run length is told as a range, since the baseline's share is an estimate.
func TestStatedRunLengths(t *testing.T) {
	tr := Watch(steady(3, 9999, 1, false), remakes.Options{})
	assert.InDelta(t, 0.05, falseAlarmsWorse+falseAlarmsBetter+falseAlarmsMonths+falseAlarmsYoung, 1e-12)
	for _, name := range []string{"risk_adjusted_cusum", "risk_adjusted_cusum_better"} {
		ch := chartNamed(t, tr, name)
		assert.Greater(t, float64(ch.RunLength), 1200/falseAlarmsWorse)
		assert.Less(t, float64(ch.RunLengthLow), float64(ch.RunLength)/2)
		assert.Greater(t, float64(ch.RunLengthHigh), float64(ch.RunLength)*2)
	}
	g := chartNamed(t, tr, "g")
	assert.Less(t, float64(g.Centre), float64(g.Limit))
	assert.Empty(t, g.Signals)
	assert.False(t, tr.Laney.Used)
}

// Signals of several charts at one time are one; others stay apart.
func TestMergedSignals(t *testing.T) {
	got := merge([]Signal{
		{Day: 40, Direction: "worse", From: 30, Until: 90, Charts: []string{"a"}},
		{Day: 35, Direction: "worse", From: 32, Until: 50, Charts: []string{"months"}},
		{Day: 45, Direction: "better", From: 44, Until: 46, Charts: []string{"b"}},
		{Day: 95, Direction: "worse", From: 91, Until: cohort.NoDay, Charts: []string{"a"}},
		{Day: 200, Direction: "worse", From: 190, Until: 210, Charts: []string{"a"}},
	})
	require.Len(t, got, 3)
	assert.Equal(t, Signal{Day: 35, Direction: "worse", From: 30, Until: 90, Charts: []string{"a", "months"}}, got[0])
	assert.Equal(t, "better", got[1].Direction)
	assert.Equal(t, []string{"a"}, got[2].Charts)
	assert.False(t, got[2].Until.Known())
}

func TestOverdispersedMonthsGetWiderLimits(t *testing.T) {
	x := make([]int, 36)
	for k := range x {
		x[k] = 2 + 16*(k%2)
	}
	c := year(t, 100, x, 400)
	tr := Watch(c, remakes.Options{MatureDays: 100})
	assert.True(t, tr.Laney.Used)
	assert.Greater(t, float64(tr.Laney.SigmaZ), 2.0)
	assert.Contains(t, tr.Laney.Words, "p' limits are wider")
	require.Len(t, tr.Laney.Limits, 36)
}

func TestTooFewToWatch(t *testing.T) {
	tr := Watch(invented.Bare(50), remakes.Options{})
	assert.Empty(t, tr.Charts)
	assert.NotEmpty(t, tr.Warnings)
}
