package remakes

import (
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const (
	baselineMonths = 12   // mature months that say what was usual
	leastBaseline  = 10   // remakes in them
	quietOrders    = 1000 // orders to a false alarm, at least
	quietMonths    = 24   // months' worth of them, at least
	watchedRatio   = 2.0  // the change of the odds that the CUSUMs are tuned for
	ewmaLambda     = 0.2
	ewmaWidth      = 2.86
	leastLaney     = 20 // points that a p' chart needs
	maxGaps        = 60 // points of the g chart
)

// Watch makes the monitored series: the p chart, and beside it charts that add
// up small changes, taking the orders' mix into account. All stand on mature
// orders only.
func Watch(c *cohort.Cohort, o Options) Trend {
	m := MatureAfter(c, o.MatureDays)
	t := Trend{AsOf: c.AsOf, Monthly: ByMonth(c, m), Charts: []Chart{}, Words: []string{}, Warnings: []string{}}
	t.Laney = laney(t.Monthly)
	w := newWatcher(c, m, t.Monthly)
	if w.why != "" {
		t.Warnings = append(t.Warnings, w.why)
		t.Words = append(t.Words, t.Laney.Words, w.why)
		return t
	}
	if w.expected.Why != "" {
		t.Warnings = append(t.Warnings, "not adjusted for the orders' mix: "+w.expected.Why)
	}
	t.Warnings = append(t.Warnings, "A new form or a new remake policy is a break: start a new baseline there, don't pool.")
	t.Charts = []Chart{w.ewma(t.Monthly), w.bernoulli(), w.riskAdjusted(watchedRatio), w.riskAdjusted(1 / watchedRatio), w.gaps()}
	t.Words = t.say()
	return t
}

// A watcher keeps what the charts share: the mature orders in shipping order.
type watcher struct {
	c        *cohort.Cohort
	rows     []int
	event    []bool
	risk     []float64 // expected by mix, to baseline level
	expected Expectation
	p0       float64 // share of remakes in the baseline
	baseline string
	quiet    float64 // orders to a false alarm that the charts are tuned for
	why      string
}

func newWatcher(c *cohort.Cohort, m Maturity, monthly Monthly) *watcher {
	w := &watcher{c: c, expected: ExpectedByMix(c, m)}
	last := cohort.Month(0)
	months := 0
	for _, mo := range monthly.Months {
		if mo.Mature {
			months++
			if months <= baselineMonths {
				last = mo.Month
			}
		}
	}
	n, x, sum := 0, 0, 0.0
	for i := range c.Shipped {
		if !m.Is(c, i) {
			continue
		}
		event := Event(c, i)
		w.rows, w.event, w.risk = append(w.rows, i), append(w.event, event), append(w.risk, w.expected.ByNow[i])
		if months > 0 && c.Shipped[i].Month() <= last {
			n++
			sum += w.expected.ByNow[i]
			if event {
				x++
			}
		}
	}
	if x < leastBaseline || x == n {
		w.why = fmt.Sprintf("no charts that add up: %d remakes in the first %d mature months, %d needed to say what is usual", x, min(months, baselineMonths), leastBaseline)
		return w
	}
	w.p0 = float64(x) / float64(n)
	w.baseline = fmt.Sprintf("the first %d mature months, %d of %d orders remade", min(months, baselineMonths), x, n)
	w.quiet = math.Max(quietOrders, quietMonths*float64(len(w.rows))/float64(max(1, months)))
	for k := range w.risk {
		w.risk[k] = math.Min(0.999, w.risk[k]*float64(x)/sum)
	}
	return w
}

// laney is the p' chart, used where the months vary clearly more than binomial
// chance allows.
func laney(monthly Monthly) Laney {
	l := Laney{SigmaZ: Number(math.NaN()), Limits: []MonthLimits{}}
	var x, n []int
	var months []Month
	for _, mo := range monthly.Months {
		if mo.Mature && mo.Shipped >= LeastOrders {
			x, n, months = append(x, mo.Remade), append(n, mo.Shipped), append(months, mo)
		}
	}
	if len(months) < leastLaney {
		l.Words = fmt.Sprintf("Whether the months vary more than chance allows can't be told yet: %d mature months, %d needed.", len(months), leastLaney)
		return l
	}
	chart := stats.LaneyP(x, n)
	l.SigmaZ = Number(chart.SigmaZ)
	// The mean moving range of k points has a relative standard error near
	// 0.83/sqrt(k); two of them above 1 count as clearly above.
	clearly := 1 + 2*0.83/math.Sqrt(float64(len(months)))
	l.Used = chart.SigmaZ > clearly
	if !l.Used {
		l.Words = fmt.Sprintf("The months vary as chance allows (sigma z %.2f): the exact limits stand.", chart.SigmaZ)
		return l
	}
	l.Words = fmt.Sprintf("The months vary %.1f times as much as chance allows: Laney's p' limits are wider, and are the ones to read. They can hide real trouble; look at the sums too.", chart.SigmaZ)
	for k, mo := range months {
		lim, rate := chart.Limits[k], float64(x[k])/float64(n[k])
		l.Limits = append(l.Limits, MonthLimits{mo.Month, Number(lim.Low), Number(lim.High), rate < lim.Low || rate > lim.High})
	}
	return l
}

// ewma averages the mature months' standardised excess over the expected
// remakes.
func (w *watcher) ewma(monthly Monthly) Chart {
	ch := Chart{
		Name: "ewma", Title: "EWMA of the months' excess over what their orders let expect", Unit: "months",
		Centre: 0, RunLength: Number(stats.EWMARunLength(ewmaLambda, ewmaWidth, 0)), ShiftRunLength: Number(stats.EWMARunLength(ewmaLambda, ewmaWidth, 1)),
		Tuned: fmt.Sprintf("weight %.1f on the newest month, limits %.2f standard deviations of the average; the shifted run length is for a lasting excess of one standard deviation of a month. Usual is %s", ewmaLambda, ewmaWidth, w.baseline),
		Steps: []Step{}, Signals: []Signal{}, Warnings: []string{},
	}
	excess, last := w.excess()
	mature := map[cohort.Month]bool{}
	for _, mo := range monthly.Months {
		mature[mo.Month] = mo.Mature
	}
	z, k := 0.0, 0
	for _, e := range excess {
		if !mature[e.month] {
			continue
		}
		k++
		if !math.IsNaN(e.z) {
			z += ewmaLambda * (e.z - z)
		}
		lim := stats.EWMALimits(0, 1, ewmaLambda, ewmaWidth, k)
		ch.Limit, ch.LowLimit = Number(lim.High), Number(lim.Low)
		ch.Steps = append(ch.Steps, Step{e.month, last[e.month], Number(z), Number(z), Number(lim.Low), Number(lim.High)})
		switch {
		case z > lim.High:
			ch.Signals = append(ch.Signals, Signal{Day: last[e.month], Direction: "worse"})
		case z < lim.Low:
			ch.Signals = append(ch.Signals, Signal{Day: last[e.month], Direction: "better"})
		}
	}
	return ch
}

type monthExcess struct {
	month cohort.Month
	z     float64
}

// excess is each month's (observed - expected)/sd, and its last shipping day.
func (w *watcher) excess() ([]monthExcess, map[cohort.Month]cohort.Day) {
	var list []monthExcess
	last := map[cohort.Month]cohort.Day{}
	diff, variance := 0.0, 0.0
	for k, i := range w.rows {
		mo := w.c.Shipped[i].Month()
		diff -= w.risk[k]
		variance += w.risk[k] * (1 - w.risk[k])
		if w.event[k] {
			diff++
		}
		last[mo] = w.c.Shipped[i]
		if k+1 == len(w.rows) || w.c.Shipped[w.rows[k+1]].Month() != mo {
			z := math.NaN()
			if variance > 0 {
				z = diff / math.Sqrt(variance)
			}
			list = append(list, monthExcess{mo, z})
			diff, variance = 0, 0
		}
	}
	return list, last
}

// bernoulli is the order-by-order CUSUM for a doubling of the odds.
func (w *watcher) bernoulli() Chart {
	ch := Chart{Name: "cusum", Title: "CUSUM of single orders, for twice the odds of a remake", Unit: "orders", Centre: Number(w.p0),
		Limit: Number(math.NaN()), LowLimit: Number(math.NaN()), RunLength: Number(math.NaN()), ShiftRunLength: Number(math.NaN()),
		Steps: []Step{}, Signals: []Signal{}, Warnings: []string{}}
	p1 := watchedRatio * w.p0 / (1 - w.p0 + watchedRatio*w.p0)
	chart, ok := stats.NewBernoulliCUSUM(w.p0, p1)
	limit, found := 0, false
	if ok {
		limit, found = chart.Limit(w.quiet)
	}
	if !found {
		ch.Warnings = append(ch.Warnings, "no such chart at this remake share")
		return ch
	}
	ch.Limit = Number(limit)
	ch.RunLength, ch.ShiftRunLength = Number(chart.RunLength(w.p0, limit)), Number(chart.RunLength(chart.P1, limit))
	ch.Tuned = fmt.Sprintf("+%d on a remake, -1 on any other order; share %.3f against %.3f. Usual is %s", chart.M-1, w.p0, chart.P1, w.baseline)
	path, signals := chart.Path(w.event, limit)
	values := make([]float64, len(path))
	for k, v := range path {
		values[k] = float64(v)
	}
	w.fill(&ch, values, signals, "worse")
	return ch
}

// fill turns an order-by-order sum into steps by month, and its signals.
func (w *watcher) fill(ch *Chart, sum []float64, signals []int, direction string) {
	peak := 0.0
	for k, i := range w.rows {
		peak = math.Max(peak, sum[k])
		if k+1 == len(w.rows) || w.c.Shipped[w.rows[k+1]].Month() != w.c.Shipped[i].Month() {
			ch.Steps = append(ch.Steps, Step{w.c.Shipped[i].Month(), w.c.Shipped[i], Number(sum[k]), Number(peak), Number(math.NaN()), ch.Limit})
			peak = 0
		}
	}
	for _, k := range signals {
		ch.Signals = append(ch.Signals, Signal{w.c.Shipped[w.rows[k]], w.c.OrderID[w.rows[k]], direction})
	}
}

// riskAdjusted is the CUSUM on each order's own expected risk, so that taller
// boots this month do not count as worse work.
func (w *watcher) riskAdjusted(ratio float64) Chart {
	ch := Chart{Name: "risk_adjusted_cusum", Title: "CUSUM by the orders' mix, for twice the odds of a remake", Unit: "orders",
		Centre: Number(w.p0), LowLimit: Number(math.NaN()), Steps: []Step{}, Signals: []Signal{}, Warnings: []string{}}
	direction := "worse"
	if ratio < 1 {
		ch.Name, ch.Title, direction = "risk_adjusted_cusum_better", "CUSUM by the orders' mix, for half the odds of a remake", "better"
	}
	risk, weights := grouped(w.risk)
	limit := w.limitFor(risk, weights, ratio)
	ch.Limit = Number(limit)
	ch.RunLength = Number(stats.RiskAdjustedRunLength(risk, weights, ratio, 1, limit))
	ch.ShiftRunLength = Number(stats.RiskAdjustedRunLength(risk, weights, ratio, ratio, limit))
	ch.Tuned = fmt.Sprintf("log-likelihood weights on each order's expected risk (kind of boot, channel, wearer), odds times %.2g. Usual is %s", ratio, w.baseline)
	if math.IsNaN(limit) {
		ch.Warnings = append(ch.Warnings, "no limit with the wanted run length was found")
		return ch
	}
	sum, signals := stats.RiskAdjustedCUSUM(w.risk, w.event, ratio, limit)
	w.fill(&ch, sum, signals, direction)
	return ch
}

// limitFor is the limit with about the wanted run length, by halving.
func (w *watcher) limitFor(risk, weights []float64, ratio float64) float64 {
	length := func(h float64) float64 { return stats.RiskAdjustedRunLength(risk, weights, ratio, 1, h) }
	lo, hi := 0.1, 2.0
	for range 6 {
		l := length(hi)
		if math.IsNaN(l) {
			return math.NaN()
		}
		if l >= w.quiet {
			break
		}
		lo, hi = hi, hi*1.6
	}
	for range 7 {
		mid := (lo + hi) / 2
		if length(mid) >= w.quiet {
			hi = mid
		} else {
			lo = mid
		}
	}
	if !(length(hi) >= w.quiet*0.9) {
		return math.NaN()
	}
	return hi
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
// with few remakes.
func (w *watcher) gaps() Chart {
	high := stats.GeometricQuantile(1-chartTail, w.p0)
	ch := Chart{Name: "g", Title: "orders between remakes", Unit: "remakes", Centre: Number((1 - w.p0) / w.p0),
		Limit: Number(high), LowLimit: Number(math.NaN()), RunLength: Number(1 / chartTail), ShiftRunLength: Number(math.NaN()),
		Tuned: fmt.Sprintf("exact geometric limit: a gap is longer with a chance of at most %.5f. There is no lower limit: after any remake the next may follow at once. Usual is %s", chartTail, w.baseline),
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
			ch.Steps = append(ch.Steps, Step{w.c.Shipped[i].Month(), w.c.Shipped[i], Number(gap), Number(gap), Number(math.NaN()), Number(high)})
			if gap > high {
				ch.Signals = append(ch.Signals, Signal{w.c.Shipped[i], w.c.OrderID[i], "better"})
			}
		}
		gap = 0
	}
	if n := len(ch.Steps); n > maxGaps {
		ch.Warnings = append(ch.Warnings, fmt.Sprintf("showing the last %d of %d gaps", maxGaps, n))
		ch.Steps = ch.Steps[n-maxGaps:]
	}
	return ch
}

// say puts the series in words, by rule.
func (t Trend) say() []string {
	words := []string{t.Laney.Words}
	for _, ch := range t.Charts {
		switch {
		case ch.Name == "g" || len(ch.Steps) == 0:
			continue
		case len(ch.Signals) == 0:
			words = append(words, fmt.Sprintf("%s: no signal (while nothing has changed, one false alarm in %.0f %s).", ch.Title, float64(ch.RunLength), ch.Unit))
		default:
			s := ch.Signals[len(ch.Signals)-1]
			words = append(words, fmt.Sprintf("%s: %s, the last (%s) with what was shipped on %s; while nothing has changed there is one false alarm in %.0f %s.",
				ch.Title, signals(len(ch.Signals)), s.Direction, s.Day, float64(ch.RunLength), ch.Unit))
		}
	}
	return words
}

func signals(n int) string {
	if n == 1 {
		return "1 signal"
	}
	return fmt.Sprintf("%d signals", n)
}
