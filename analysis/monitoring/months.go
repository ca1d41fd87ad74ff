package monitoring

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const (
	// baselineMonths are the mature months, the oldest ones, that say what was
	// usual; leastBaseline the remakes that they must hold, or more months are
	// taken (judgement).
	baselineMonths = 12
	leastBaseline  = 10
	// monthsTail is the chance beyond each limit of a mature month while nothing
	// has changed: twelve months with two limits have their part of the false
	// alarms a year.
	monthsTail = falseAlarmsMonths / 24
	// youngTail is that of a young month. It is looked at again while it ages;
	// that counts as twice (judgement).
	youngTail = falseAlarmsYoung / 24 / 2
	// earlierMonths is how far back a month is compared at equal age.
	earlierMonths = 24
)

// byMonth is the remake share by shipping month. The oldest mature months are
// the baseline. Mature months after it are held against limits around the
// baseline's share, their own mix of orders and the baseline's own error taken
// into account; young ones against earlier months at the age their youngest
// order has reached.
func byMonth(c *cohort.Cohort, m remakes.Maturity, e remakes.Expectation) Monthly {
	t := Monthly{AsOf: c.AsOf, Maturity: m, Months: []Month{}, Warnings: []string{}, Method: "p chart around the baseline, beta-binomial limits"}
	t.NoWord = !slices.Contains(c.Answered, true)
	spans := monthSpans(c)
	x, n := 0, 0
	for _, s := range spans {
		row := month(c, m, e, s)
		if row.Mature {
			t.MatureMonths++
			x, n = x+row.Remade, n+row.Shipped
		}
		t.Months = append(t.Months, row)
	}
	t.Centre = remakes.Rate(x, n)
	t.Baseline, t.why = baselineOf(t.Months)
	if t.Baseline == nil {
		t.Warnings = append(t.Warnings, t.why)
	} else {
		t.limit()
	}
	byAge := agesAtRemake(c, spans)
	for k := range t.Months {
		t.Months[k].Equal = t.equalAge(byAge, k)
	}
	return t
}

// baselineOf takes the oldest mature months, or says why there are too few.
func baselineOf(months []Month) (*Baseline, string) {
	b := &Baseline{}
	for k, mo := range months {
		if !mo.Mature {
			break
		}
		if b.Months == 0 {
			b.From = mo.Month
		}
		b.To = mo.Month
		b.Months, b.Orders, b.Remade, b.expected = b.Months+1, b.Orders+mo.Shipped, b.Remade+mo.Remade, b.expected+mo.expected
		months[k].Baseline = true
		if b.Months >= baselineMonths && b.Remade >= leastBaseline && b.Remade < b.Orders {
			b.Share = remakes.Rate(b.Remade, b.Orders)
			return b, ""
		}
	}
	for k := range months {
		months[k].Baseline = false
	}
	return nil, fmt.Sprintf("nothing is watched yet: %d mature months with %d remakes, at least %d months with %d are needed to say what is usual", b.Months, b.Remade, baselineMonths, leastBaseline)
}

// A span is the rows [from, to) of one shipping month; the cohort stands in
// the order of shipping days.
type span struct {
	month    cohort.Month
	from, to int
}

func monthSpans(c *cohort.Cohort) []span {
	var spans []span
	for i := range c.Shipped {
		mo := c.Shipped[i].Month()
		if k := len(spans) - 1; k >= 0 && spans[k].month == mo {
			spans[k].to = i + 1
			continue
		}
		spans = append(spans, span{mo, i, i + 1})
	}
	return spans
}

func month(c *cohort.Cohort, m remakes.Maturity, e remakes.Expectation, s span) Month {
	row := Month{
		Month: s.month, Shipped: s.to - s.from, YoungestAge: remakes.Age(c, s.to-1),
		Low: stats.Value(math.NaN()), High: stats.Value(math.NaN()),
	}
	// A month that is still running has not shipped its youngest order yet.
	row.Mature = row.YoungestAge >= m.Days && s.month.Last() <= c.AsOf
	for i := s.to - 1; i >= s.from; i-- {
		row.expected += e.ByNow[i]
		row.atHorizon += e.Risk[i]
		if remakes.Event(c, i) {
			row.Remade++
			row.Orders = append(row.Orders, c.OrderID[i])
		}
	}
	row.ShippedOrders = remakes.Newest(c.OrderID[s.from:s.to])
	row.Rate = remakes.Rate(row.Remade, row.Shipped)
	if !row.Mature {
		row.Rate = row.Rate.Warn("not mature: more reports may come")
	}
	return row
}

// limit sets the limits and signals of the mature months after the baseline.
func (t *Monthly) limit() {
	for k := range t.Months {
		mo := &t.Months[k]
		if !mo.Mature || mo.Baseline || mo.Shipped < remakes.LeastOrders {
			continue
		}
		mo.usual = t.Baseline.expect(mo.expected)
		lo, hi := stats.PredictiveLimits(mo.usual/float64(mo.Shipped), t.Baseline.Remade, mo.Shipped, monthsTail)
		if hi < lo {
			continue // the mix lets expect nothing, or nothing else
		}
		mo.Low, mo.High = stats.Value(float64(lo)/float64(mo.Shipped)), stats.Value(float64(hi)/float64(mo.Shipped))
		mo.lowest, mo.highest = lo, hi
		switch {
		case mo.Remade > hi:
			mo.Signal = "above"
		case mo.Remade < lo:
			mo.Signal = "below"
		}
	}
}

// expect is what the model expects of some orders, brought to the level of the
// baseline.
func (b *Baseline) expect(byMix float64) float64 {
	return byMix * float64(b.Remade) / b.expected
}

// agesAtRemake counts, for each month, the remakes by the age (in days) at
// which they were reported, cumulated; those without a day have no such age.
func agesAtRemake(c *cohort.Cohort, spans []span) [][]int {
	ages := make([][]int, len(spans))
	for k, s := range spans {
		ages[k] = make([]int, remakes.Horizon+1)
		for i := s.from; i < s.to; i++ {
			if remakes.Dated(c, i) {
				ages[k][max(0, int(c.Remade[i]-c.Shipped[i]))]++
			}
		}
		for a := 1; a <= remakes.Horizon; a++ {
			ages[k][a] += ages[k][a-1]
		}
	}
	return ages
}

// equalAge is month k against what is usual: a young month against up to 24
// earlier months at the same age, a mature one as it stands on the chart.
func (t *Monthly) equalAge(byAge [][]int, k int) EqualAge {
	mo := t.Months[k]
	e := EqualAge{Age: min(mo.YoungestAge, remakes.Horizon), Shipped: mo.Shipped, Verdict: "unknown"}
	e.Remade = byAge[k][e.Age]
	e.Rate = remakes.Rate(e.Remade, e.Shipped)
	earlier := 0.0
	for j := max(0, k-earlierMonths); j < k; j++ {
		e.Months++
		e.EarlierN += t.Months[j].Shipped
		e.EarlierX += byAge[j][e.Age]
		earlier += t.Months[j].atHorizon
	}
	head := fmt.Sprintf("%d of %d remade within %d days", e.Remade, e.Shipped, e.Age)
	if mo.Mature {
		head = fmt.Sprintf("%d of %d remade by %s", mo.Remade, mo.Shipped, t.AsOf)
	}
	expected := 0.0
	switch {
	case mo.Mature && mo.Baseline:
		e.Sentence = head + "; the month is part of the baseline"
		return e
	case mo.Mature && !mo.High.Given():
		e.Sentence = head + "; too few orders to say what is usual"
		return e
	case mo.Mature:
		e.Remade, e.Rate = mo.Remade, mo.Rate
		e.UsualLow, e.UsualHigh = &mo.lowest, &mo.highest
		expected = mo.usual
	case e.Age < 14:
		e.Sentence = head + "; too young to compare"
		return e
	case e.Months < 3 || e.EarlierN < 100 || earlier == 0:
		e.Sentence = head + "; too few earlier orders to say what is usual"
		return e
	default:
		expected = float64(e.EarlierX) * mo.atHorizon / earlier
		// Without a remake so far the range is that of half a one.
		p := math.Max(expected, 0.5*mo.atHorizon/earlier) / float64(e.Shipped)
		lo, hi := stats.PredictiveLimits(math.Min(p, 0.999), e.EarlierX, e.Shipped, youngTail)
		e.UsualLow, e.UsualHigh = &lo, &hi
	}
	e.Verdict = "usual"
	switch {
	case e.Remade > *e.UsualHigh:
		e.Verdict = "more"
	case e.Remade < *e.UsualLow:
		e.Verdict = "fewer"
	}
	e.Sentence = fmt.Sprintf("%s; about %.1f expected, %d to %d by chance", head, expected, *e.UsualLow, *e.UsualHigh)
	return e
}
