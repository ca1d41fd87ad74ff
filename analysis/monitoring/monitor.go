package monitoring

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// The false alarms a year, of any chart, while nothing has changed: one in
// twenty years (what was asked for), divided among the charts so that nearly
// all of it is with those that see a lasting change soonest (judgement). The
// charts overlap; together they stay under the sum.
const (
	falseAlarms       = 0.05
	falseAlarmsWorse  = 0.0435 // CUSUM for a rise
	falseAlarmsBetter = 0.004  // CUSUM for a fall
	falseAlarmsMonths = 0.0015 // a single mature month
	falseAlarmsYoung  = 0.001  // a single young month
)

const (
	watchedRatio = 2.0     // the change of the odds that the CUSUMs are tuned for
	leastLaney   = 20      // points that a p' chart needs
	maxGaps      = 60      // points of the g chart
	gapTail      = 0.00135 // chance of a gap beyond the g chart's limit, at most
)

// Watch makes the monitored series and the one statement on it. All charts
// start where the baseline ends:
//
//  1. byMonth: the months, their baseline and their limits (p chart).
//  2. riskAdjusted: CUSUMs of single orders by their mix, for a rise and a fall.
//  3. gaps: orders between remakes, to read; it gives no signal.
//  4. merge: departures that several charts show are one [Signal].
//
// An EWMA of the months was left out: at the same false alarm rate it sees a
// doubling later than the CUSUM, and a chart more makes every limit wider.
func Watch(c *cohort.Cohort, o remakes.Options) Trend {
	m := remakes.MatureAfter(c, o.MatureDays)
	e := remakes.ExpectedByMix(c, m)
	t := Trend{AsOf: c.AsOf, FalseAlarms: falseAlarms, Signals: []Signal{}, Monthly: byMonth(c, m, e), Charts: []Chart{}, Words: []string{}, Warnings: []string{}}
	t.Laney = laney(t.Monthly)
	if e.Why != "" {
		t.Warnings = append(t.Warnings, "not adjusted for the orders' mix: "+e.Why)
	}
	w := newWatcher(c, m, e, t.Monthly)
	if w == nil {
		t.Statement = form.Capitalised(t.Monthly.why) + "."
		if t.Monthly.Baseline != nil {
			t.Statement = "Nothing is watched yet: no order after the baseline is mature."
		}
		t.Signals = append(t.Signals, youngSignals(t.Monthly)...)
		t.Words = append(t.Words, t.Statement, t.Laney.Words)
		return t
	}
	t.Warnings = append(t.Warnings, "A new form or a new remake policy is a break: start a new baseline there, don't pool.")
	if t.Laney.Used {
		t.Warnings = append(t.Warnings, "The months vary more than chance allows: false alarms are more frequent than stated.")
	}
	t.Charts = []Chart{w.riskAdjusted(watchedRatio, falseAlarmsWorse), w.riskAdjusted(1/watchedRatio, falseAlarmsBetter), w.gaps()}
	signals := append(monthSignals(t.Monthly), youngSignals(t.Monthly)...)
	for _, ch := range t.Charts {
		signals = append(signals, ch.Signals...)
	}
	t.Signals = append(t.Signals, merge(signals)...)
	t.Statement = w.statement(t.Signals)
	t.Words = append(t.Words, t.Statement, w.counted(), t.Laney.Words)
	return t
}

// A watcher keeps what the charts share: the mature orders after the baseline
// in shipping order.
type watcher struct {
	c        *cohort.Cohort
	rows     []int
	event    []bool
	risk     []float64 // expected by mix, at the baseline's level
	expected float64   // their sum
	remade   int
	b        *Baseline
	perYear  float64 // mature orders a year
}

// newWatcher is nil where there is nothing to watch.
func newWatcher(c *cohort.Cohort, m remakes.Maturity, e remakes.Expectation, monthly Monthly) *watcher {
	b := monthly.Baseline
	if b == nil {
		return nil
	}
	w := &watcher{c: c, b: b}
	months := map[cohort.Month]bool{}
	for i := range c.Shipped {
		if !m.Is(c, i) {
			continue
		}
		months[c.Shipped[i].Month()] = true
		if c.Shipped[i].Month() <= b.To {
			continue
		}
		risk := math.Min(0.999, b.expect(e.ByNow[i]))
		w.rows, w.event, w.risk = append(w.rows, i), append(w.event, remakes.Event(c, i)), append(w.risk, risk)
		w.expected += risk
		if remakes.Event(c, i) {
			w.remade++
		}
	}
	if len(w.rows) == 0 {
		return nil
	}
	w.perYear = 12 * float64(b.Orders+len(w.rows)) / float64(len(months))
	return w
}

// usual says in words what the baseline is.
func (w *watcher) usual() string {
	return fmt.Sprintf("%d of %d orders remade in the %d months from %s to %s", w.b.Remade, w.b.Orders, w.b.Months, w.b.From, w.b.To)
}

// laney is the p' chart, used where the months vary clearly more than binomial
// chance allows.
func laney(monthly Monthly) Laney {
	l := Laney{SigmaZ: stats.Value(math.NaN()), Limits: []monthLimits{}}
	var x, n []int
	var months []Month
	for _, mo := range monthly.Months {
		if mo.Mature && mo.Shipped >= remakes.LeastOrders {
			x, n, months = append(x, mo.Remade), append(n, mo.Shipped), append(months, mo)
		}
	}
	if len(months) < leastLaney {
		l.Words = fmt.Sprintf("Whether the months vary more than chance allows can't be told yet: %d mature months of at least %d orders are needed, of which the book has %d.", leastLaney, remakes.LeastOrders, len(months))
		return l
	}
	chart := stats.LaneyP(x, n)
	l.SigmaZ = stats.Value(chart.SigmaZ)
	if math.IsNaN(chart.SigmaZ) {
		l.Words = "Whether the months vary more than chance allows can't be told: all of their orders were remade, or none."
		return l
	}
	// The mean moving range of k points has a relative standard error near
	// 0.83/sqrt(k); two of them above 1 count as clearly above.
	clearly := 1 + 2*0.83/math.Sqrt(float64(len(months)))
	l.Used = chart.SigmaZ > clearly
	if !l.Used {
		l.Words = fmt.Sprintf("The months vary as chance allows (sigma z %.2f): the limits of the months stand.", chart.SigmaZ)
		return l
	}
	l.Words = fmt.Sprintf("The months vary %.1f times as much as chance allows: Laney's p' limits are wider, and are the ones to read. They can hide real trouble; look at the sums too.", chart.SigmaZ)
	for k, mo := range months {
		lim, rate := chart.Limits[k], float64(x[k])/float64(n[k])
		l.Limits = append(l.Limits, monthLimits{mo.Month, stats.Value(lim.Low), stats.Value(lim.High), rate < lim.Low || rate > lim.High})
	}
	return l
}

// riskAdjusted is the CUSUM on each order's own expected risk, so that taller
// boots this month do not count as worse work. Its limit is so far out that it
// signals in a year with the chance rate, averaged over the shares that the
// baseline leaves possible: a short baseline has wider limits.
func (w *watcher) riskAdjusted(ratio, rate float64) Chart {
	ch := Chart{Name: "risk_adjusted_cusum", Title: "CUSUM by the orders' mix, for twice the odds of a remake", Unit: "orders",
		Centre: stats.Value(w.b.Share.Point), LowLimit: stats.Value(math.NaN()), Steps: []Step{}, Signals: []Signal{}, Warnings: []string{}}
	direction := "worse"
	if ratio < 1 {
		ch.Name, ch.Title, direction = "risk_adjusted_cusum_better", "CUSUM by the orders' mix, for half the odds of a remake", "better"
	}
	risk, weights := grouped(w.risk)
	limit := stats.RiskAdjustedLimit(risk, weights, ratio, w.b.Remade, w.b.Orders, w.perYear, rate)
	length := func(truth float64) stats.Value {
		return stats.Value(stats.RiskAdjustedRunLength(risk, weights, ratio, truth, limit))
	}
	ch.Limit, ch.RunLength, ch.ShiftRunLength = stats.Value(limit), length(1), length(ratio)
	low, high := stats.LevelQuantile((1-stats.DefaultLevel)/2, w.b.Remade, w.b.Orders), stats.LevelQuantile((1+stats.DefaultLevel)/2, w.b.Remade, w.b.Orders)
	ch.RunLengthLow, ch.RunLengthHigh = length(low), length(high)
	if ratio > 1 { // the higher the true share, the sooner it signals
		ch.RunLengthLow, ch.RunLengthHigh = ch.RunLengthHigh, ch.RunLengthLow
	}
	ch.Tuned = fmt.Sprintf("Log-likelihood weights on each order's expected risk (kind of boot, channel, wearer), odds times %.2g, from the end of the baseline on, held at the limit until it is back at 0. Usual is %s", ratio, w.usual())
	if math.IsNaN(limit) {
		ch.Warnings = append(ch.Warnings, "no limit with the wanted rate of false alarms was found")
		return ch
	}
	sum, excursions := stats.RiskAdjustedCUSUM(w.risk, w.event, ratio, limit)
	peak := 0.0
	for k, i := range w.rows {
		peak = math.Max(peak, sum[k])
		if k+1 == len(w.rows) || w.c.Shipped[w.rows[k+1]].Month() != w.c.Shipped[i].Month() {
			ch.Steps = append(ch.Steps, Step{w.c.Shipped[i].Month(), w.c.Shipped[i], stats.Value(sum[k]), stats.Value(peak), stats.Value(math.NaN()), ch.Limit})
			peak = 0
		}
	}
	day := func(k int) cohort.Day {
		if k < 0 {
			return cohort.NoDay
		}
		return w.c.Shipped[w.rows[k]]
	}
	for _, x := range excursions {
		ch.Signals = append(ch.Signals, Signal{Day: day(x.Signal), Order: w.c.OrderID[w.rows[x.Signal]], Direction: direction, From: day(x.From), Until: day(x.Until), Charts: []string{ch.Name}})
	}
	return ch
}

// grouped are the risks in groups of alike ones, with their weights.
func grouped(risk []float64) (mean, weight []float64) {
	const groups = 40
	var sum, n [groups]float64
	for _, p := range risk {
		// Groups of equal width on the logit scale from 0.002 to 0.8.
		g := int((stats.Logit(math.Max(p, 1e-6)) + 6.2) / 7.6 * groups)
		g = max(0, min(groups-1, g))
		sum[g], n[g] = sum[g]+p, n[g]+1
	}
	for g := range n {
		if n[g] > 0 {
			mean, weight = append(mean, sum[g]/n[g]), append(weight, n[g])
		}
	}
	return mean, weight
}

// gaps is the g chart: orders between one remake and the next. It suits shops
// with few remakes. It is there to be read and gives no signal: what it could
// tell, the CUSUM for a fall tells sooner.
func (w *watcher) gaps() Chart {
	p := w.b.Share.Point
	high := stats.GeometricQuantile(1-gapTail, p)
	ch := Chart{Name: "g", Title: "Orders between remakes", Unit: "remakes", Centre: stats.Value((1 - p) / p),
		Limit: stats.Value(high), LowLimit: stats.Value(math.NaN()), RunLength: stats.Value(math.NaN()), RunLengthLow: stats.Value(math.NaN()), RunLengthHigh: stats.Value(math.NaN()), ShiftRunLength: stats.Value(math.NaN()),
		Tuned: fmt.Sprintf("To read; it gives no signal. Gaps are whole numbers: one of more than %d orders has a chance of %.5f, the largest that is no more than %.5f. There is no lower limit: after any remake the next may follow at once. Usual is %s", high, math.Pow(1-p, float64(high+1)), gapTail, w.usual()),
		Steps: []Step{}, Signals: []Signal{}, Warnings: []string{}}
	gap := -1 // orders since the last remake; before the first one unknown
	for k, i := range w.rows {
		switch {
		case !w.event[k]:
			if gap >= 0 {
				gap++
			}
			continue
		case gap >= 0:
			ch.Steps = append(ch.Steps, Step{w.c.Shipped[i].Month(), w.c.Shipped[i], stats.Value(gap), stats.Value(gap), stats.Value(math.NaN()), stats.Value(high)})
		}
		gap = 0
	}
	if n := len(ch.Steps); n > maxGaps {
		ch.Warnings = append(ch.Warnings, fmt.Sprintf("showing the last %d of %d gaps", maxGaps, n))
		ch.Steps = ch.Steps[n-maxGaps:]
	}
	return ch
}

// monthSignals are the mature months outside their limits.
func monthSignals(monthly Monthly) (out []Signal) {
	for _, mo := range monthly.Months {
		if mo.Signal != "" {
			out = append(out, monthSignal(mo, mo.Signal == "above", "months"))
		}
	}
	return out
}

// youngSignals are the young months outside the usual range at their age.
func youngSignals(monthly Monthly) (out []Signal) {
	for _, mo := range monthly.Months {
		if v := mo.Equal.Verdict; !mo.Mature && (v == "more" || v == "fewer") {
			out = append(out, monthSignal(mo, v == "more", "young months"))
		}
	}
	return out
}

func monthSignal(mo Month, above bool, chart string) Signal {
	s := Signal{Day: mo.Month.Last(), Direction: "better", From: mo.Month.First(), Until: mo.Month.Last(), Charts: []string{chart}}
	if above {
		s.Direction = "worse"
	}
	return s
}

// merge makes one signal of those in the same direction whose times touch, in
// the order of their days.
func merge(signals []Signal) []Signal {
	slices.SortStableFunc(signals, func(a, b Signal) int { return int(a.From) - int(b.From) })
	var out []Signal
	last := map[string]int{} // direction to index in out
	for _, s := range signals {
		k, ok := last[s.Direction]
		if !ok || out[k].Until.Known() && s.From > out[k].Until {
			last[s.Direction] = len(out)
			out = append(out, s)
			continue
		}
		o := &out[k]
		for _, chart := range s.Charts {
			if !slices.Contains(o.Charts, chart) {
				o.Charts = append(slices.Clone(o.Charts), chart)
			}
		}
		if s.Day < o.Day {
			o.Day, o.Order = s.Day, s.Order
		}
		switch {
		case !s.Until.Known() || !o.Until.Known():
			o.Until = cohort.NoDay
		case s.Until > o.Until:
			o.Until = s.Until
		}
	}
	slices.SortStableFunc(out, func(a, b Signal) int { return int(a.Day) - int(b.Day) })
	return out
}

// statement puts the series in one sentence, by rule.
func (w *watcher) statement(signals []Signal) string {
	rate := fmt.Sprintf("(While nothing changes, any chart signals in %.0f of 100 years.)", 100*falseAlarms)
	if len(signals) == 0 {
		return fmt.Sprintf("No lasting change since the baseline ended in %s. %s", w.b.To, rate)
	}
	s := signals[len(signals)-1]
	what := "More remakes than usual"
	if s.Direction == "better" {
		what = "Fewer remakes than usual"
	}
	text := fmt.Sprintf("%s since about %s, noticed with what was shipped on %s", what, s.From.Month(), s.Day)
	switch {
	case slices.Equal(s.Charts, []string{"months"}) || slices.Equal(s.Charts, []string{"young months"}):
		text = fmt.Sprintf("%s in %s, in that month by itself", what, s.From.Month())
	case s.Until.Known():
		text += fmt.Sprintf(", over by %s", s.Until)
	default:
		text += ", and still so"
	}
	switch n := len(signals) - 1; {
	case n == 1:
		text += "; one earlier signal"
	case n > 1:
		text += fmt.Sprintf("; %d earlier signals", n)
	}
	return text + ". " + rate
}

// counted sets the two counts behind the charts side by side.
func (w *watcher) counted() string {
	return fmt.Sprintf("Usual is %s (%.1f %%). Since then %d of %d mature orders were remade; %.1f were to be expected of such orders at the usual level.",
		w.usual(), 100*w.b.Share.Point, w.remade, len(w.rows), w.expected)
}
