package remakes

import (
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const (
	// leastMonths is the number of mature months a p chart needs.
	leastMonths = 13
	// chartTail is the chance beyond each limit of the p chart while nothing
	// has changed: that of three standard deviations.
	chartTail = 0.00135
	// earlierMonths is how far back a month is compared at equal age.
	earlierMonths = 24
)

// ByMonth is the remake share by shipping month. Every month is compared with
// earlier ones at the age its youngest order has reached; only mature months
// stand on the p chart.
func ByMonth(c *cohort.Cohort, m Maturity) Monthly {
	t := Monthly{AsOf: c.AsOf, Maturity: m, Months: []Month{}, Warnings: []string{}, Method: "p chart, exact binomial limits"}
	spans := monthSpans(c)
	x, n := 0, 0
	for _, s := range spans {
		row := month(c, m, s)
		if row.Mature {
			t.MatureMonths++
			x, n = x+row.Remade, n+row.Shipped
		}
		t.Months = append(t.Months, row)
	}
	t.Centre = Rate(x, n)
	if t.MatureMonths < leastMonths {
		t.Warnings = append(t.Warnings, fmt.Sprintf("no limits yet: %d of the %d mature months that a p chart needs", t.MatureMonths, leastMonths))
	} else {
		limit(t.Months, t.Centre.Point)
	}
	byAge := agesAtRemake(c, spans)
	for k := range t.Months {
		t.Months[k].Equal = equalAge(t.Months, byAge, k)
	}
	return t
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

func month(c *cohort.Cohort, m Maturity, s span) Month {
	row := Month{
		Month: s.month, Shipped: s.to - s.from, YoungestAge: Age(c, s.to-1),
		Low: Number(math.NaN()), High: Number(math.NaN()),
	}
	// A month that is still running has not shipped its youngest order yet.
	row.Mature = row.YoungestAge >= m.Days && s.month.Last() <= c.AsOf
	for i := s.to - 1; i >= s.from; i-- {
		if Event(c, i) {
			row.Remade++
			row.Orders = append(row.Orders, c.OrderID[i])
		}
	}
	row.Rate = Rate(row.Remade, row.Shipped)
	if !row.Mature {
		row.Rate = row.Rate.Warn("not mature: more reports may come")
	}
	return row
}

// limit sets exact binomial limits and signals on the mature months.
func limit(months []Month, centre float64) {
	for k := range months {
		mo := &months[k]
		if !mo.Mature || mo.Shipped < LeastOrders {
			continue
		}
		lo, hi := stats.BinomialLimits(centre, mo.Shipped, chartTail)
		mo.Low, mo.High = Number(float64(lo)/float64(mo.Shipped)), Number(float64(hi)/float64(mo.Shipped))
		switch {
		case mo.Remade > hi:
			mo.Signal = "above"
		case mo.Remade < lo:
			mo.Signal = "below"
		}
	}
}

// agesAtRemake counts, for each month, the remakes by the age (in days) at
// which they were reported, cumulated.
func agesAtRemake(c *cohort.Cohort, spans []span) [][]int {
	ages := make([][]int, len(spans))
	for k, s := range spans {
		ages[k] = make([]int, Horizon+1)
		for i := s.from; i < s.to; i++ {
			if Event(c, i) {
				ages[k][max(0, int(c.Remade[i]-c.Shipped[i]))]++
			}
		}
		for a := 1; a <= Horizon; a++ {
			ages[k][a] += ages[k][a-1]
		}
	}
	return ages
}

// equalAge compares month k with up to 24 earlier months at the same age.
func equalAge(months []Month, byAge [][]int, k int) EqualAge {
	mo := months[k]
	e := EqualAge{Age: min(mo.YoungestAge, Horizon), Shipped: mo.Shipped, Verdict: "unknown"}
	e.Remade = byAge[k][e.Age]
	e.Rate = Rate(e.Remade, e.Shipped)
	for j := max(0, k-earlierMonths); j < k; j++ {
		e.Months++
		e.EarlierN += months[j].Shipped
		e.EarlierX += byAge[j][e.Age]
	}
	head := fmt.Sprintf("%d of %d remade within %d days", e.Remade, e.Shipped, e.Age)
	switch {
	case e.Age < 14:
		e.Sentence = head + "; too young to compare"
		return e
	case e.Months < 3 || e.EarlierN < 100:
		e.Sentence = head + "; too few earlier orders to say what is usual"
		return e
	}
	lo, hi := usualRange(e.Shipped, e.EarlierX, e.EarlierN)
	e.UsualLow, e.UsualHigh = &lo, &hi
	e.Verdict = "usual"
	switch {
	case e.Remade > hi:
		e.Verdict = "more"
	case e.Remade < lo:
		e.Verdict = "fewer"
	}
	e.Sentence = fmt.Sprintf("%s; usual range %d to %d", head, lo, hi)
	return e
}

// usualRange is the central 95 % of the counts to expect among n orders when x
// of N earlier ones had the event: the beta-binomial predictive distribution
// under Jeffreys' prior Beta(1/2, 1/2). Counts outside have a chance of at
// most 2.5 % on each side.
// Gelman et al., Bayesian Data Analysis (3rd ed.), section 2.3 (from memory).
func usualRange(n, x, N int) (lo, hi int) {
	a, b := float64(x)+0.5, float64(N-x)+0.5
	lo, hi = -1, n
	// P(k) by recursion from P(0) = B(a, b+n)/B(a, b), in logs.
	lg := func(v float64) float64 { l, _ := math.Lgamma(v); return l }
	logp := lg(b+float64(n)) - lg(b) + lg(a+b) - lg(a+b+float64(n))
	cdf := 0.0
	for k := 0; k <= n; k++ {
		cdf += math.Exp(logp)
		if lo < 0 && cdf > 0.025 {
			lo = k
		}
		if cdf >= 0.975 {
			hi = k
			break
		}
		f := float64(k)
		logp += math.Log(float64(n)-f) + math.Log(a+f) - math.Log(f+1) - math.Log(b+float64(n)-f-1)
	}
	return max(lo, 0), hi
}
