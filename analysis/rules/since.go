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

const promiseMethod = "remakes avoided since the start over remakes promised before it, bootstrap by customer (percentile)"

// leastMonthsBefore is how many shipping months with mature orders a trend can
// be carried from; leastMonthsAfter how many it is carried to.
const (
	leastMonthsBefore = 6
	leastMonthsAfter  = 3
)

// unsurePromise is the width of the kept share's interval over which it says
// nothing to a person.
const unsurePromise = 1.5

// traps are said beside every before-and-after.
var traps = []string{
	"Rules are switched on after bad months, and bad months are followed by better ones by themselves (regression to the mean): the trend before the start is carried on, but a single bad stretch just before it still flatters the rule.",
	"Who was called back was not drawn by lot: called, mended and ignored forms are chosen groups, and their remake shares differ for that too.",
	"Whatever else changed at the same time (staff, leather, season of orders) counts as the rule's.",
}

// since fills in what happened after a rule's start.
func (s *scorer) since(ctx context.Context, a Applied, calls []Call, d *Scorecard, k int, o Options) {
	r := &d.Rules[k]
	x := &Since{From: a.From, Traps: traps}
	r.Since = x
	after := func(i int) bool { return s.began(i) >= a.From }
	keep := func(i int) bool { return !a.Until.Known() || s.began(i) <= a.Until }
	months := [2]map[cohort.Month]bool{{}, {}}
	for _, i := range s.rows {
		if !keep(i) {
			continue
		}
		event := remakes.Event(s.c, i)
		if !after(i) {
			x.Before.add(event)
			months[0][s.c.Shipped[i].Month()] = true
			continue
		}
		x.After.add(event)
		months[1][s.c.Shipped[i].Month()] = true
		s.fate(a, i, event, x)
	}
	for _, sp := range []*Span{&x.Before, &x.After, &x.Mended, &x.CutAnyway, &x.Ignored} {
		sp.close()
	}
	success := s.calls(a, calls, x, d)
	why := ""
	if len(months[0]) < leastMonthsBefore || len(months[1]) < leastMonthsAfter {
		why = fmt.Sprintf("too few to tell: %d mature months before and %d since the start, %d and %d needed", len(months[0]), len(months[1]), leastMonthsBefore, leastMonthsAfter)
	}
	s.judge(ctx, a, x, r, why, success, keep, after, o)
	x.Words = x.say(r.KeptPromise)
}

// began is the day an order came under the rules: its first form's arrival.
func (s *scorer) began(i int) cohort.Day {
	if d := s.c.Received[i]; d.Known() {
		return d
	}
	return s.c.Shipped[i]
}

// fate files a first form held since the start under what became of it.
func (s *scorer) fate(a Applied, i int, event bool, x *Since) {
	if len(a.Held) != s.c.Len() || a.Held[i] != form.With {
		return
	}
	switch {
	case !s.called[i]:
		x.Ignored.add(event)
	case s.c.CutNo[i] > 1:
		x.Mended.add(event)
	default:
		x.CutAnyway.add(event)
	}
}

// calls counts the call-backs on forms the rule holds, since its start, and is
// the success share to reckon with.
func (s *scorer) calls(a Applied, calls []Call, x *Since, d *Scorecard) float64 {
	answered, resolved := 0, 0
	for _, call := range calls {
		if call.Row < 0 || call.Row >= s.c.Len() || len(a.Held) != s.c.Len() || a.Held[call.Row] != form.With || s.began(call.Row) < a.From {
			continue
		}
		x.Calls++
		if call.Resolved != form.Unknown {
			answered++
		}
		if call.Resolved == form.With {
			resolved++
		}
	}
	x.Success = remakes.Rate(resolved, answered)
	if answered >= leastCalls {
		return x.Success.Point
	}
	return d.Success
}

// judge fits the change and holds it against the promise.
func (s *scorer) judge(ctx context.Context, a Applied, x *Since, r *Scored, why string, success float64, keep, after func(i int) bool, o Options) {
	if why != "" {
		x.Step = stats.Missing(x.After.Orders, "segmented regression", why)
		x.Promised, r.KeptPromise = x.Step, stats.Missing(x.After.Orders, promiseMethod, why)
		return
	}
	promised := func(times func(i int) float64) float64 {
		return s.promised(a, success, func(i int) bool { return keep(i) && !after(i) }, times)
	}
	c := remakes.ChangeAt(ctx, s.c, s.m, keep, after, promised, remakes.Options{Replicates: o.Replicates, Seed: o.Seed, Workers: o.Workers, Progress: o.Progress})
	x.Step, x.Promised, r.KeptPromise = hundred(c.Risk), hundred(c.Promised), c.Kept
	r.KeptPromise.Method = promiseMethod
	switch {
	case !c.Promised.Given() && c.Risk.Given():
		r.KeptPromise = stats.Missing(x.After.Orders, promiseMethod, "too few held and not held forms before the start to say what was promised")
	case c.Risk.Given() && !(c.Promised.Low > 0):
		r.KeptPromise = stats.Missing(x.After.Orders, promiseMethod, "the orders before the start promised nothing sure, so there is nothing to hold it against")
	case c.Kept.Bounded() && c.Kept.High-c.Kept.Low > unsurePromise:
		r.KeptPromise = r.KeptPromise.Warn("too wide to tell: more mature orders since the start are needed")
	}
}

// hundred turns a share into so many per 100.
func hundred(e stats.Estimate) stats.Estimate {
	e.Point, e.Low, e.High = 100*e.Point, 100*e.Low, 100*e.High
	return e
}

// promised is the avoidable share of the orders that keep says, order i
// counting so many times; NaN where it can't be given.
func (s *scorer) promised(a Applied, success float64, keep func(i int) bool, times func(i int) float64) float64 {
	if len(a.Held) != s.c.Len() {
		return math.NaN()
	}
	var w weighed
	for _, i := range s.rows {
		if keep(i) {
			w.add(a.Held[i], s.cutFirst[i], remakes.Event(s.c, i), times(i))
		}
	}
	return w.avoidable(success)
}

// weighed are a rule's counts with weights: of all first forms, and of those
// cut as they came.
type weighed struct {
	held, all                float64
	heldN, heldX, notN, notX float64
}

func (w *weighed) add(held form.State, cutFirst, event bool, times float64) {
	if held == form.NotAtRisk {
		return
	}
	w.all += times
	x := 0.0
	if event {
		x = times
	}
	if held == form.With {
		w.held += times
	}
	switch {
	case !cutFirst || held == form.Unknown:
	case held == form.With:
		w.heldN, w.heldX = w.heldN+times, w.heldX+x
	default:
		w.notN, w.notX = w.notN+times, w.notX+x
	}
}

// avoidable is held share x success x (rate held - rate not held).
func (w weighed) avoidable(success float64) float64 {
	if w.heldN == 0 || w.notN == 0 || w.all == 0 {
		return math.NaN()
	}
	return success * w.held / w.all * (w.heldX/w.heldN - w.notX/w.notN)
}

func (x *Since) say(kept stats.Estimate) string {
	head := fmt.Sprintf("Since %s: %d of %d orders remade, %d of %d before", x.From, x.After.Remade, x.After.Orders, x.Before.Remade, x.Before.Orders)
	if !x.Step.Given() || !x.Step.Bounded() {
		return head + "; " + first(x.Step.Warnings)
	}
	s := fmt.Sprintf("%s. With the trend carried on: %+.1f remakes per 100 orders (95 %% interval %+.1f to %+.1f)", head, x.Step.Point, x.Step.Low, x.Step.High)
	switch {
	case x.Step.High < 0:
		s += ": fewer since the start"
	case x.Step.Low > 0:
		s += ": more since the start"
	default:
		s += ": it may as well be none"
	}
	switch {
	case kept.Bounded() && kept.High-kept.Low > unsurePromise:
		return s + ". What share of the promise came true can't be told yet."
	case kept.Bounded():
		return fmt.Sprintf("%s. Of what was promised, %.0f %% came true (%.0f to %.0f %%).", s, 100*kept.Point, 100*kept.Low, 100*kept.High)
	}
	return s + "."
}

func first(why []string) string {
	if len(why) == 0 {
		return "no figure"
	}
	return why[0]
}
