package rules

import (
	"context"
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const (
	level = stats.DefaultLevel
	// usualSuccess is the share of call-backs taken to mend a form where the
	// book holds too few call-backs to tell (judgement, no source).
	// usualSpread is its standard error: 0.5 to 0.9 at the usual level.
	usualSuccess, usualSpread = 0.7, 0.1
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
		Ledger: s.ledger(calls), Rules: []Scored{}, Desk: []DeskLine{}, Warnings: []string{},
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
	done := successOf(o, d.Ledger)
	d.Success, d.SuccessFrom = done.share, done.from
	for k := range applied {
		if len(applied[k].Held) != c.Len() {
			applied[k].Held = make([]form.State, c.Len())
		}
		d.Rules = append(d.Rules, s.score(applied[k], d))
	}
	s.adjust(applied, &d, o.Workers)
	s.weigh(ctx, applied, &d, done, o)
	s.deskLines(&d, done, o)
	s.since(ctx, applied, calls, &d, done, o)
	for k := range applied {
		d.Rules[k].Words = d.Rules[k].say(d)
	}
	return d
}

// hasForm reports whether order i has a first form, as the order book says with
// any rule.
func hasForm(applied []Applied, i int) bool {
	return len(applied) == 0 || i >= len(applied[0].Held) || applied[0].Held[i] != form.NotAtRisk
}

// A scorer keeps what all rules share.
type scorer struct {
	c        *cohort.Cohort
	m        remakes.Maturity
	rows     []int  // mature orders
	cutFirst []bool // by cohort row: cut from its first form, never called back
	called   []bool
	months   int
	mending  *remakes.Mending
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
	all     stats.TwoByTwo // held or not by remade or not, all first forms; what can't be judged is not held
	plain   stats.TwoByTwo // of orders cut from their first form, never called back; judged ones only
	called  stats.TwoByTwo // of orders called back
	unknown int
}

func (s *scorer) of(held []form.State) tables {
	var t tables
	for _, i := range s.rows {
		h := held[i]
		if h == form.NotAtRisk {
			continue
		}
		event := remakes.Event(s.c, i)
		t.all.Add(h == form.With, event)
		if h == form.Unknown {
			t.unknown++
			continue
		}
		switch {
		case s.called[i]:
			t.called.Add(h == form.With, event)
		case s.cutFirst[i]:
			t.plain.Add(h == form.With, event)
		}
	}
	return t
}

func (s *scorer) score(a Applied, d Scorecard) Scored {
	r := Scored{Rule: a.Rule}
	t := s.of(a.Held)
	r.Held, r.NotHeld, r.Unknown = t.all.N1(), t.all.N0()-t.unknown, t.unknown
	r.Warnings = []string{}
	if t.unknown > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("could not be judged on %d forms; those are not held", t.unknown))
	}
	r.RemakesCaught, r.Remakes = t.all.A, t.all.A+t.all.C
	r.HeldShare = remakes.Rate(r.Held, t.all.N())
	r.HeldAMonth = aMonth(r.Held, s.months)
	r.RateHeld, r.RateNotHeld = remakes.Rate(t.plain.A, t.plain.N1()), remakes.Rate(t.plain.C, t.plain.N0())
	r.Difference = remakes.Difference(t.plain)
	r.CalledBack = remakes.Rate(t.called.A, t.called.N1())
	r.Fraction = fraction(t.plain)
	r.CrudeAvoidable = crudeAvoidable(t, d.Success)
	r.Corrected = stats.Missing(t.all.N(), correctedMethod, "not asked for in this run")
	r.KeptPromise = stats.Missing(0, promiseMethod, "the rule has no start day (from)")
	r.TooFew = tooFew(t)
	r.HeldOrders = remakes.Behind(s.c, s.rows, func(i int) bool { return a.Held[i] == form.With })
	r.UnknownOrders = remakes.Behind(s.c, s.rows, func(i int) bool { return a.Held[i] == form.Unknown })
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

func fraction(t stats.TwoByTwo) stats.Estimate {
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

// crudeAvoidable is per 100 first forms: held share x success x (rate held - rate
// not held), the rates those of forms cut as they came. The interval is that
// of the difference; held share and success are taken as they stand.
func crudeAvoidable(t tables, success float64) stats.Estimate {
	const method = "held share x success x difference (Newcombe), per 100 first forms"
	diff := remakes.Difference(t.plain)
	if !diff.Given() || t.all.N() == 0 {
		return stats.Missing(t.all.N(), method, diff.Warnings...)
	}
	k := 100 * success * float64(t.all.N1()) / float64(t.all.N())
	return stats.Estimate{Point: k * diff.Point, Low: k * diff.Low, High: k * diff.High, Level: level, N: t.all.N(), Method: method}
}
