package rules

import (
	"context"
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const (
	level = stats.DefaultLevel
	// usualSuccess is the share of call-backs taken to mend a form where the
	// book holds too few call-backs to tell (judgement, no source).
	usualSuccess = 0.7
	// leastCalls is the number of answered call-backs that a success share is
	// read from.
	leastCalls = 20
)

// Score makes the scorecard on the first forms of mature orders. The context
// stops its bootstraps early: what they have not computed is then missing.
func Score(ctx context.Context, c *cohort.Cohort, applied []Applied, calls []Call, o Options) Scorecard {
	m := remakes.MatureAfter(c, o.MatureDays)
	s := newScorer(c, m, calls)
	d := Scorecard{
		AsOf: c.AsOf, Maturity: m, Costs: o.Costs, Months: s.months,
		Ledger: s.ledger(calls), Rules: []Scored{}, Warnings: []string{},
	}
	for _, i := range s.rows {
		if !hasForm(applied, i) {
			continue
		}
		d.FirstForms++
		if remakes.Event(c, i) {
			d.Remade++
		}
	}
	d.Success, d.SuccessFrom = success(o, d.Ledger)
	for _, a := range applied {
		d.Rules = append(d.Rules, s.score(a, d))
	}
	s.adjust(applied, &d, o.Workers)
	s.correct(ctx, applied, &d, o)
	for k, a := range applied {
		if a.From.Known() {
			s.since(ctx, a, calls, &d, k, o)
		}
		d.Rules[k].Words = d.Rules[k].say(d)
	}
	return d
}

// hasForm reports whether order i has a first form, as the order book says with
// any rule.
func hasForm(applied []Applied, i int) bool {
	return len(applied) == 0 || i >= len(applied[0].Held) || applied[0].Held[i] != form.NotAtRisk
}

// success is the success share to reckon with, and where it comes from.
func success(o Options, l Ledger) (float64, string) {
	switch {
	case o.Success > 0 && o.Success <= 1:
		return o.Success, "given"
	case l.Success.Given() && l.Success.N >= leastCalls:
		return l.Success.Point, fmt.Sprintf("from %d call-backs in the book", l.Success.N)
	}
	return usualSuccess, fmt.Sprintf("taken as %.1f (judgement): the book holds %d answered call-backs, %d needed", usualSuccess, l.Success.N, leastCalls)
}

// A scorer keeps what all rules share.
type scorer struct {
	c        *cohort.Cohort
	m        remakes.Maturity
	rows     []int  // mature orders
	cutFirst []bool // by cohort row: cut from its first form, never called back
	called   []bool
	months   int
}

func newScorer(c *cohort.Cohort, m remakes.Maturity, calls []Call) *scorer {
	s := &scorer{c: c, m: m, cutFirst: make([]bool, c.Len()), called: make([]bool, c.Len())}
	copy(s.called, c.CalledBack)
	for _, call := range calls {
		if call.Row >= 0 && call.Row < c.Len() {
			s.called[call.Row] = true
		}
	}
	months := map[cohort.Month]bool{}
	for i := range c.Shipped {
		s.cutFirst[i] = c.CutNo[i] == 1 && !s.called[i]
		if m.Is(c, i) {
			s.rows = append(s.rows, i)
			months[c.Shipped[i].Month()] = true
		}
	}
	s.months = len(months)
	return s
}

// tables of one rule.
type tables struct {
	all     stats.Table // held or not by remade or not, all first forms; what can't be judged is not held
	plain   stats.Table // of orders cut from their first form, never called back; judged ones only
	called  stats.Table // of orders called back
	unknown int
}

// of counts the orders that keep says; nil keeps all.
func (s *scorer) of(held []form.State, keep func(i int) bool) tables {
	var t tables
	for _, i := range s.rows {
		if keep != nil && !keep(i) {
			continue
		}
		h := held[i]
		if h == form.NotAtRisk {
			continue
		}
		event := remakes.Event(s.c, i)
		count(&t.all, h == form.With, event)
		if h == form.Unknown {
			t.unknown++
			continue
		}
		switch {
		case s.called[i]:
			count(&t.called, h == form.With, event)
		case s.cutFirst[i]:
			count(&t.plain, h == form.With, event)
		}
	}
	return t
}

func count(t *stats.Table, held, event bool) {
	switch {
	case held && event:
		t.A++
	case held:
		t.B++
	case event:
		t.C++
	default:
		t.D++
	}
}

func (s *scorer) score(a Applied, d Scorecard) Scored {
	r := Scored{Rule: a.Rule}
	if len(a.Held) != s.c.Len() {
		a.Held = make([]form.State, s.c.Len())
	}
	t := s.of(a.Held, nil)
	r.Held, r.NotHeld, r.Unknown = t.all.N1(), t.all.N0()-t.unknown, t.unknown
	r.Warnings = []string{}
	if t.unknown > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("could not be judged on %d forms; those are not held", t.unknown))
	}
	r.RemakesCaught, r.Remakes = t.all.A, t.all.A+t.all.C
	r.HeldShare = remakes.Rate(r.Held, t.all.N())
	r.HeldAMonth = aMonth(r.Held, s.months)
	r.Sensitivity = remakes.Rate(t.all.A, r.Remakes)
	r.RateHeld, r.RateNotHeld = remakes.Rate(t.plain.A, t.plain.N1()), remakes.Rate(t.plain.C, t.plain.N0())
	r.Difference = remakes.Difference(t.plain)
	r.CalledBack = remakes.Rate(t.called.A, t.called.N1())
	r.Fraction = fraction(t.plain)
	r.CallsPerCatch = perCatch(t.all)
	r.NumberNeeded = needed(r.Difference)
	r.Avoidable = avoidable(t, d.Success)
	r.Corrected = stats.Missing(t.all.N(), correctedMethod, "not asked for in this run")
	r.Net = net(t, d.Success, d.Costs, d.Ledger)
	r.KeptPromise = stats.Missing(0, promiseMethod, "the rule has no start day (from)")
	r.TooFew = tooFew(t)
	for k := len(s.rows) - 1; k >= 0; k-- {
		if i := s.rows[k]; a.Held[i] == form.With && remakes.Event(s.c, i) {
			r.Orders = append(r.Orders, s.c.OrderID[i])
		}
	}
	return r
}

// adjust compares held and let-through forms with the kind of boot taken into
// account.
func (s *scorer) adjust(applied []Applied, d *Scorecard, workers int) {
	k := remakes.NewComparer(s.c, s.m, func(i int) bool { return s.cutFirst[i] })
	p := make([]float64, len(applied))
	stats.Parallel(workers, len(applied), func(j int) {
		held := applied[j].Held
		if len(held) != s.c.Len() {
			held = make([]form.State, s.c.Len())
		}
		got := k.Compare(held)
		r := &d.Rules[j]
		r.AdjustedRD, r.AdjustedRR, r.PValue = got.Difference, got.Ratio, got.P
		p[j] = float64(got.P)
	})
	for j, q := range stats.BenjaminiHochberg(p) {
		d.Rules[j].QValue = stats.Value(q)
	}
}

func fraction(t stats.Table) stats.Estimate {
	if e := remakes.Ratio(t); !e.Given() {
		return stats.Missing(t.N(), "population attributable fraction", e.Warnings...)
	}
	return stats.PopulationAttributableFraction(t, level)
}

// tooFew says why a rule can't be judged.
func tooFew(t tables) string {
	switch {
	case t.plain.N1() < remakes.LeastOrders:
		return fmt.Sprintf("too few to tell: %d held forms were cut as they were, %d needed", t.plain.N1(), remakes.LeastOrders)
	case t.plain.N0() < remakes.LeastOrders:
		return fmt.Sprintf("too few to tell: %d forms were not held, %d needed", t.plain.N0(), remakes.LeastOrders)
	case t.plain.A+t.plain.C < 2*remakes.LeastEvents:
		return fmt.Sprintf("too few to tell: %d remakes, %d needed", t.plain.A+t.plain.C, 2*remakes.LeastEvents)
	}
	return ""
}

// aMonth is the mean count a month with the exact Poisson interval.
func aMonth(held, months int) stats.Estimate {
	const method = "mean a month, exact Poisson interval"
	if months == 0 {
		return stats.Missing(0, method, "no mature month yet")
	}
	lo, hi := poissonLimits(held)
	n := float64(months)
	return stats.Estimate{Point: float64(held) / n, Low: lo / n, High: hi / n, Level: level, N: months, Method: method}
}

// perCatch is call-backs per remake caught: one over the share of remakes
// among held forms, with the limits of that share turned over.
func perCatch(t stats.Table) stats.Estimate {
	const method = "held forms per remake caught, Wilson limits turned over"
	if t.N1() < remakes.LeastOrders {
		return stats.Missing(t.N1(), method, fmt.Sprintf("too few to tell: %d held forms, %d needed", t.N1(), remakes.LeastOrders))
	}
	if t.A == 0 {
		return stats.Missing(t.N1(), method, fmt.Sprintf("none of the %d held forms was remade", t.N1()))
	}
	e := remakes.Rate(t.A, t.N1())
	e.Point, e.Low, e.High = 1/e.Point, 1/e.High, 1/e.Low
	e.Method = method
	return e
}

// needed is call-backs per remake avoided, at full success; none where the
// difference's interval holds 0.
func needed(difference stats.Estimate) stats.Estimate {
	if !difference.Given() {
		return stats.Missing(difference.N, "number needed", difference.Warnings...)
	}
	if !(difference.Low > 0) {
		return stats.Missing(difference.N, "number needed", "the difference may as well be none")
	}
	return stats.NumberNeeded(difference)
}

// avoidable is per 100 first forms: held share x success x (rate held - rate
// not held), the rates those of forms cut as they came. The interval is that
// of the difference; held share and success are taken as they stand.
func avoidable(t tables, success float64) stats.Estimate {
	const method = "held share x success x difference (Newcombe), per 100 first forms"
	diff := remakes.Difference(t.plain)
	if !diff.Given() || t.all.N() == 0 {
		return stats.Missing(t.all.N(), method, diff.Warnings...)
	}
	k := 100 * success * float64(t.all.N1()) / float64(t.all.N())
	return stats.Estimate{Point: k * diff.Point, Low: k * diff.Low, High: k * diff.High, Level: level, N: t.all.N(), Method: method}
}

// net is what 100 first forms gain: remakes avoided at their cost, less
// call-backs at theirs and the days they take.
func net(t tables, success float64, costs Costs, l Ledger) stats.Estimate {
	const method = "avoidable remakes x cost of a remake - call-backs x their cost, per 100 first forms"
	n := t.all.N()
	switch {
	case costs.Remake == nil && costs.Callback == nil:
		return stats.Missing(n, method, "no costs given: what a remake and a call-back cost is needed")
	case costs.Remake == nil:
		return stats.Missing(n, method, "the cost of a remake is not given")
	case costs.Callback == nil:
		return stats.Missing(n, method, "the cost of a call-back is not given")
	}
	a := avoidable(t, success)
	if !a.Given() {
		return stats.Missing(n, method, a.Warnings...)
	}
	call := *costs.Callback
	var notes []string
	if costs.DayOfDelay != nil {
		if l.MeanDays.Given() {
			call += *costs.DayOfDelay * l.MeanDays.Point
		} else {
			notes = append(notes, "the cost of a day of delay is left out: the book does not tell how long a call-back takes")
		}
	}
	spent := 100 * float64(t.all.N1()) / float64(n) * call
	gain := func(avoided float64) float64 { return avoided**costs.Remake - spent }
	e := stats.Estimate{Point: gain(a.Point), Low: gain(a.Low), High: gain(a.High), Level: level, N: n, Method: method, Warnings: notes}
	if math.IsNaN(e.Point) || math.IsInf(e.Point, 0) {
		return stats.Missing(n, method, "the costs are no finite numbers")
	}
	if e.Low > e.High {
		e.Low, e.High = e.High, e.Low
	}
	return e
}
