package monitoring

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/invented"
)

// 21 remakes on orders followed for a year, reported after 10, 20, … 210 days:
// the type-7 95th percentile is the 20th of 21 values, 200.
func TestMaturityFromTheReportingDelay(t *testing.T) {
	c := invented.Bare(50)
	for i := range 21 {
		invented.Remake(c, i, cohort.Day(10*(i+1)))
	}
	invented.Remake(c, 30, 400) // later than a year: another story
	m := remakes.MatureAfter(c, 0)
	assert.Equal(t, 200, m.Days)
	assert.Equal(t, 21, m.Remakes)
	assert.Equal(t, 50, m.Mature)
	assert.Equal(t, 90, remakes.MatureAfter(c, 90).Days)
	c.Remade[0], c.Remade[1] = cohort.NoDay, cohort.NoDay
	assert.Equal(t, remakes.Horizon, remakes.MatureAfter(c, 0).Days, "19 remakes are too few")
}

func TestFactsAfterTheAsOfDayAreInvisible(t *testing.T) {
	c := invented.Bare(3)
	invented.Remake(c, 0, 100)
	assert.True(t, remakes.Event(c, 0))
	c.AsOf = c.Remade[0] - 1
	assert.False(t, remakes.Event(c, 0))
}

// year is two years of months with n orders each, x[k] of month k remade after
// 30 days; the as-of day is age days after the last month's end.
func year(t *testing.T, n int, x []int, age int) *cohort.Cohort {
	t.Helper()
	c := invented.Bare(n * len(x))
	first := cohort.Month(2020 * 12)
	for k := range x {
		for j := range n {
			i := k*n + j
			mo := first + cohort.Month(k)
			c.Shipped[i] = mo.First() + cohort.Day(j*28/n)
			if c.Remade[i] = cohort.NoDay; j < x[k] {
				invented.Remake(c, i, 30)
			}
		}
	}
	c.AsOf = (first + cohort.Month(len(x)-1)).Last() + cohort.Day(age)
	return c
}

// months is the series as Watch makes it.
func months(c *cohort.Cohort, mature int) Monthly {
	m := remakes.MatureAfter(c, mature)
	return byMonth(c, m, remakes.ExpectedByMix(c, m))
}

// Two years of 50 orders a month, 4 remade; in one month of each year 20. The
// first twelve months are the baseline: 64 of 600, and no signal among them.
func TestMonthlyChart(t *testing.T) {
	x := make([]int, 24)
	for k := range x {
		x[k] = 4
	}
	x[5], x[20] = 20, 20
	s := months(year(t, 50, x, 400), 100)
	require.Len(t, s.Months, 24)
	assert.Equal(t, 24, s.MatureMonths)
	assert.InDelta(t, float64(22*4+40)/1200, s.Centre.Point, 1e-12)
	require.NotNil(t, s.Baseline)
	assert.Equal(t, []int{12, 600, 64}, []int{s.Baseline.Months, s.Baseline.Orders, s.Baseline.Remade})
	assert.Contains(t, s.Months[5].Equal.Sentence, "part of the baseline")
	for k, mo := range s.Months {
		want := ""
		if k == 20 {
			want = "above"
		}
		assert.Equal(t, want, mo.Signal, "month %d", k)
		assert.Equal(t, k < 12, mo.Baseline)
		assert.Equal(t, k >= 12, mo.High.Given())
		if k >= 12 {
			lo, hi := stats.PredictiveLimits(mo.usual/50, 64, 50, monthsTail)
			assert.InDelta(t, float64(hi)/50, float64(mo.High), 1e-12)
			assert.InDelta(t, float64(lo)/50, float64(mo.Low), 1e-12)
		}
	}
	last := s.Months[20].Equal // headline and chart are the same orders
	assert.Equal(t, "more", last.Verdict)
	assert.Equal(t, 20, last.Remade)
	assert.Contains(t, last.Sentence, "20 of 50 remade by")
}

// chance is that of a count among n orders outside low to high where the share has been
// estimated from x events: binomial tails in the mean over the share's posterior, at 1,000
// of its quantiles.
func chance(p float64, x, n, low, high int) (sum float64) {
	a := float64(x) + 0.5
	posterior := distuv.Beta{Alpha: a, Beta: a * (1 - p) / p}
	const points = 1000
	for k := range points {
		q := posterior.Quantile((float64(k) + 0.5) / points)
		sum += (stats.BinomialCDF(low-1, n, q) + 1 - stats.BinomialCDF(high, n, q)) / points
	}
	return sum
}

// Twelve mature months of a large shop leave their limits as often as is stated, or little
// less, since counts are whole numbers. A count at the limit is none outside.
func TestMonthsSignalAsOftenAsStated(t *testing.T) {
	x := slices.Repeat([]int{24}, 24)
	mo := months(year(t, 300, x, 400), 100).Months[20]
	large := Monthly{Baseline: &Baseline{Remade: 12 * 1600, expected: 12 * 1600}, Months: []Month{{Shipped: 20_000, Mature: true, expected: 1600}}}
	large.limit()
	yearly := 12 * chance(0.08, 12*1600, 20_000, large.Months[0].lowest, large.Months[0].highest)
	assert.LessOrEqual(t, yearly, falseAlarmsMonths)
	assert.Greater(t, yearly, 0.8*falseAlarmsMonths)
	x[13], x[15], x[17], x[19] = mo.lowest-1, mo.lowest, mo.highest, mo.highest+1
	list := months(year(t, 300, x, 400), 100).Months
	for k, signal := range map[int]string{13: "below", 15: "", 17: "", 19: "above"} {
		assert.Equal(t, []int{mo.lowest, mo.highest}, []int{list[k].lowest, list[k].highest})
		assert.Equal(t, signal, list[k].Signal, "%d remade", x[k])
		assert.Equal(t, map[string]string{"": "usual", "below": "fewer", "above": "more"}[signal], list[k].Equal.Verdict)
	}
}

// A young month is looked at in two reviews, as far as its age is the same: earlier months are
// all before it, at most two years of them.
func TestYoungMonthsByHand(t *testing.T) {
	x := slices.Repeat([]int{24}, 30)
	e := months(year(t, 300, x, 40), 100).Months[29].Equal
	assert.Equal(t, []int{24, 24 * 300, 24 * 24}, []int{e.Months, e.EarlierN, e.EarlierX})
	require.NotNil(t, e.UsualHigh)
	yearly := 24 * chance(0.08, e.EarlierX, 300, *e.UsualLow, *e.UsualHigh)
	assert.LessOrEqual(t, yearly, falseAlarmsYoung)
	assert.Greater(t, yearly, 0.5*falseAlarmsYoung)
}

// A month is mature on the day on which its youngest order is, and not before it is over.
func TestMonthMatures(t *testing.T) {
	c := year(t, 28, []int{3, 3, 3, 3, 3}, 0) // shipped on the first 28 days of January to May
	youngest := c.Shipped[c.Len()-1]
	last := func() Month { return months(c, 60).Months[4] }
	c.AsOf = youngest + 60
	assert.True(t, last().Mature)
	c.AsOf--
	assert.False(t, last().Mature)
	c.AsOf = youngest + 2
	assert.False(t, months(c, 2).Months[4].Mature, "more may be shipped in it")
	m := remakes.MatureAfter(c, 2)
	assert.False(t, ShippingCurves(c, m).Quarters[1].Mature)
	for c.AsOf.Month() == youngest.Month() {
		c.AsOf++
	}
	assert.True(t, months(c, 2).Months[4].Mature)
	assert.False(t, ShippingCurves(c, m).Quarters[1].Mature, "the quarter goes on")
	for c.AsOf.Month().Quarter() == youngest.Month().Quarter() {
		c.AsOf++
	}
	assert.True(t, ShippingCurves(c, m).Quarters[1].Mature)
}

// A pair that was made again and then returned was made again; the other way round it can't
// be, and on one day it was.
func TestFirstOfRemakeAndReturn(t *testing.T) {
	c := invented.Bare(3)
	c.AsOf = 20000
	for i, days := range [][2]cohort.Day{{10, 20}, {20, 10}, {15, 15}} {
		c.Shipped[i] = 19000
		c.Remade[i], c.Returned[i] = 19000+days[0], 19000+days[1]
	}
	_, aj, _ := follow(c, 0, 3)
	assert.InDelta(t, 2.0/3, float64(shareAt(aj, 0, 365)), 1e-12)
	assert.InDelta(t, 1.0/3, float64(shareAt(aj, 1, 365)), 1e-12)
}

// Seven remakes in the first twelve months are too few: the baseline goes on
// until it has ten.
func TestBaselineNeedsTenRemakes(t *testing.T) {
	x := make([]int, 24)
	x[3], x[9], x[13], x[15] = 4, 3, 2, 2
	b := months(year(t, 50, x, 400), 100).Baseline
	require.NotNil(t, b)
	assert.Equal(t, []int{16, 800, 11}, []int{b.Months, b.Orders, b.Remade})
	assert.Nil(t, months(year(t, 50, make([]int, 24), 400), 100).Baseline)
}

func TestYoungMonthsAreComparedAtEqualAgeOnly(t *testing.T) {
	x := make([]int, 24)
	for k := range x {
		x[k] = 3
	}
	c := year(t, 50, x, 40)
	s := months(c, 100)
	last := s.Months[23]
	assert.False(t, last.Mature)
	assert.True(t, math.IsNaN(float64(last.High)), "no limits on a young month")
	assert.Empty(t, last.Signal)
	e := last.Equal
	assert.Equal(t, last.YoungestAge, e.Age)
	assert.Equal(t, 3, e.Remade)
	require.NotNil(t, e.UsualHigh)
	assert.Equal(t, "usual", e.Verdict)
	assert.Regexp(t, `^3 of 50 remade within \d+ days; about 2.9 expected, 0 to 1\d by chance$`, e.Sentence)

	// As of a day when the youngest order is 20 days old no remake (all come on
	// day 30) may count, in this month or in earlier ones.
	c.AsOf = c.Shipped[c.Len()-1] + 20
	e = months(c, 100).Months[23].Equal
	assert.Equal(t, 0, e.Remade)
	assert.Equal(t, 0, e.EarlierX)
}

func TestNoLimitsWithoutABaseline(t *testing.T) {
	s := months(year(t, 50, []int{4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4}, 400), 100)
	assert.True(t, math.IsNaN(float64(s.Months[0].High)))
	assert.Contains(t, s.Warnings[0], "11 mature months with 44 remakes")
}

// CHECKS 6c, by hand: times 1,2,2,3,4,5,5,6,7,8; 1 remake, 2 refund. (The
// Kaplan-Meier share lets nothing but the remake and the as-of day end
// follow-up, so refunds stay at risk in it.)
func TestCurveByHand(t *testing.T) {
	times := []cohort.Day{1, 2, 2, 3, 4, 5, 5, 6, 7, 8}
	codes := []int{1, 2, 0, 1, 2, 1, 0, 0, 2, 0}
	c := invented.Bare(10)
	c.AsOf = 20000
	for i := range times {
		c.Shipped[i] = c.AsOf - times[i] // censored by the as-of day
		c.Remade[i], c.Returned[i] = cohort.NoDay, cohort.NoDay
		switch codes[i] {
		case 1:
			c.Remade[i] = c.AsOf
		case 2:
			c.Returned[i] = c.AsOf
		}
	}
	// A return on the as-of day ends nothing earlier than the as-of day does;
	// let it be known a day earlier and the order be one day older.
	for i := range times {
		if codes[i] == 2 {
			c.Shipped[i]--
			c.Returned[i]--
		}
	}
	_, aj, _ := follow(c, 0, 10)
	want := map[float64][2]float64{1: {0.1, 0}, 2: {0.1, 0.1}, 3: {0.2142857, 0.1}, 4: {0.2142857, 0.2142857}, 5: {0.3285714, 0.2142857}, 7: {0.3285714, 0.4428571}}
	for at, w := range want {
		assert.InDelta(t, w[0], float64(shareAt(aj, 0, at)), 1e-6, "remake at %g", at)
		assert.InDelta(t, w[1], float64(shareAt(aj, 1, at)), 1e-6, "return at %g", at)
	}
}

func TestShippingCurves(t *testing.T) {
	c, _ := invented.Workshop{Orders: 2000, Intercept: -2, Seed: 4}.Make()
	m := remakes.MatureAfter(c, 0)
	s := ShippingCurves(c, m)
	orders, remade := 0, 0
	for _, q := range s.Quarters {
		orders, remade = orders+q.Orders, remade+q.Remade
		last := stats.Value(0)
		for _, p := range q.Points {
			assert.GreaterOrEqual(t, p.Share, last)
			// Few returns: the two differ little.
			assert.InDelta(t, float64(p.Share), float64(p.Competing), 0.005)
			last = p.Share
		}
	}
	assert.Equal(t, 2000, orders)
	assert.Equal(t, s.All.Remade, remade)
	assert.False(t, s.Quarters[len(s.Quarters)-1].Mature)
	assert.True(t, s.Quarters[0].Mature)
	// With complete follow-up only the as-of day could censor: the oldest
	// quarter's share is its plain rate.
	q := s.Quarters[0]
	assert.InDelta(t, float64(q.Remade)/float64(q.Orders), float64(q.Points[len(q.Points)-1].Share), 1e-12)
}

// A book in which nobody has told of any pair is another than one in which all fit.
func TestNoWord(t *testing.T) {
	c := year(t, 5, []int{0, 0}, 10)
	clear(c.Answered)
	assert.True(t, months(c, 0).NoWord)
	c.Answered[3] = true
	assert.False(t, months(c, 0).NoWord)
}

// Months too small for a share do not count, and it is said: of 18 mature months of three
// orders "0 mature months" was no answer.
func TestSmallMonthsDoNotTellWhetherMonthsVary(t *testing.T) {
	m := months(year(t, 3, make([]int, 18), 400), 100)
	assert.Equal(t, 18, m.MatureMonths)
	assert.Equal(t, "Whether the months vary more than chance allows can't be told yet: 20 mature months of at least 10 orders are needed, of which the book has 0.", laney(m).Words)
}
