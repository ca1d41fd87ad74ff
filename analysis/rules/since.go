package rules

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const promiseMethod = "remakes avoided since the start over remakes promised before it, bootstrap by customer and of the success share (percentile)"

const promisedMethod = "what mending the held forms before the start would have brought x success, the scorecard's model, bootstrap by customer and of the success share (percentile), per 100 orders"

// leastMonthsBefore is how many shipping months with mature orders a trend can
// be carried from; leastMonthsAfter how many it is carried to.
const (
	leastMonthsBefore = 6
	leastMonthsAfter  = 3
)

// washoutDays before a start are left out: a bad stretch is what makes a workshop
// switch a rule on, and it ends by itself. A quarter (judgement).
const washoutDays = 92

// PromiseTold reports whether the kept share of the promise is narrow enough to be
// told to a person.
func (r Scored) PromiseTold() bool {
	return r.KeptPromise.Bounded() && r.KeptPromise.High-r.KeptPromise.Low <= unsurePromise
}

// unsurePromise is the width of the kept share's interval over which it says
// nothing to a person.
const unsurePromise = 1.5

// traps are said beside every before-and-after.
var traps = []string{
	"Rules are switched on after bad months, and bad months are followed by better ones by themselves (regression to the mean): the quarter before the start is left out, and what all forms did in the same months is taken off; a longer bad stretch of the held forms alone still flatters the rule.",
	"Who was called back was not drawn by lot: called, mended and ignored forms are chosen groups, and their remake shares differ for that too.",
	"Whatever else changed at the same time for the held forms only counts as the rule's.",
}

// since fills in what happened after the starts of the rules. Rules that began
// (and ended) on one day are one change: it is fitted once, for the forms that any
// of them holds, and told with the first of them.
func (s *scorer) since(ctx context.Context, applied []Applied, calls []Call, d *Scorecard, done success, o Options) {
	controls := s.neverHeld(applied)
	first := map[[2]cohort.Day]int{}
	together := map[[2]cohort.Day][]string{}
	for _, a := range applied {
		if a.From.Known() {
			k := [2]cohort.Day{a.From, a.Until}
			together[k] = append(together[k], a.ID)
		}
	}
	for k, a := range applied {
		if !a.From.Known() {
			continue
		}
		began := [2]cohort.Day{a.From, a.Until}
		r := &d.Rules[k]
		x := &Since{From: a.From, WashoutDays: washoutDays, Together: []string{}, Traps: traps}
		r.Since = x
		keep := func(i int) bool { return !a.Until.Known() || s.began(i) <= a.Until }
		months := s.spans(a, keep, x)
		r.InForce = a.InForceOn(s.c.AsOf)
		r.SlippedThrough = s.slipped(a, keep)
		mended := s.calls(a, calls, x, done)
		for _, id := range together[began] {
			if id != a.ID {
				x.Together = append(x.Together, id)
			}
		}
		at, told := first[began]
		if told {
			r.KeptPromise = s.toldWith(d.Rules[at], x)
			continue
		}
		first[began] = k
		why := ""
		if months[0] < leastMonthsBefore || months[1] < leastMonthsAfter {
			why = fmt.Sprintf("too few to tell: %d mature months before and %d since the start, %d and %d needed", months[0], months[1], leastMonthsBefore, leastMonthsAfter)
		}
		s.judge(ctx, s.anyOf(applied, a), controls, x, r, why, mended, keep, o)
		x.Words = x.say(r.KeptPromise)
	}
}

// slipped counts the forms that the rule held since its start and that were cut
// as they came.
func (s *scorer) slipped(a Applied, keep func(i int) bool) (n int) {
	for i, h := range a.Held {
		if h == form.With && keep(i) && s.began(i) >= a.From && s.c.CutNo[i] == 1 {
			n++
		}
	}
	return n
}

// toldWith fills in what was fitted with the first rule of that day.
func (s *scorer) toldWith(first Scored, x *Since) stats.Estimate {
	x.Step, x.Controlled, x.Verdict = first.Since.Step, first.Since.Controlled, first.Since.Verdict
	why := fmt.Sprintf("began on the same day as %s: one change, told there", first.ID)
	x.Promised = stats.Missing(x.After.Orders, promiseMethod, why)
	x.Words = fmt.Sprintf("Since %s, together with %s: one change, told with %s.", x.From, strings.Join(x.Together, ", "), first.ID)
	return x.Promised
}

// spans counts the orders before the washout and since the start, and what
// became of the held ones; months are the shipping months of either.
func (s *scorer) spans(a Applied, keep func(i int) bool, x *Since) (months [2]int) {
	seen := [2]map[cohort.Month]bool{{}, {}}
	for _, i := range s.rows {
		if !keep(i) || s.washedOut(a, i) {
			continue
		}
		if s.began(i) < a.From {
			s.add(&x.Before, i)
			seen[0][s.c.Shipped[i].Month()] = true
			continue
		}
		s.add(&x.After, i)
		seen[1][s.c.Shipped[i].Month()] = true
		if len(a.Held) == s.c.Len() && a.Held[i] == form.With {
			s.fate(i, &x.Ignored, &x.Mended, &x.CutAnyway)
		}
	}
	for _, sp := range []*Span{&x.Before, &x.After, &x.Mended, &x.CutAnyway, &x.Ignored} {
		sp.close()
	}
	return [2]int{len(seen[0]), len(seen[1])}
}

func (s *scorer) washedOut(a Applied, i int) bool {
	return s.began(i) < a.From && s.began(i) >= a.From-washoutDays
}

// neverHeld are the first forms that no rule with a start day holds: the
// controls.
func (s *scorer) neverHeld(applied []Applied) []bool {
	free := make([]bool, s.c.Len())
	for i := range free {
		free[i] = true
	}
	for _, a := range applied {
		if !a.From.Known() || len(a.Held) != len(free) {
			continue
		}
		for i, h := range a.Held {
			free[i] = free[i] && h == form.Without
		}
	}
	return free
}

// anyOf is the rule that holds what any rule of a's days holds, and mends what any mends.
func (s *scorer) anyOf(applied []Applied, a Applied) Applied {
	all := a
	all.Held = make([]form.State, s.c.Len())
	copy(all.Held, a.Held)
	for _, b := range applied {
		if b.From != a.From || b.Until != a.Until || len(b.Held) != len(all.Held) {
			continue
		}
		for i, h := range b.Held {
			if h == form.With {
				all.Held[i] = form.With
			}
		}
		if len(all.Mends) == 0 || len(b.Mends) == 0 {
			all.Mends = nil // every fault
		} else {
			all.Mends = append(slices.Clone(all.Mends), b.Mends...)
		}
	}
	return all
}

// began is the day an order came under the rules: its first form's arrival.
func (s *scorer) began(i int) cohort.Day {
	if d := s.c.Received[i]; d.Known() {
		return d
	}
	return s.c.Shipped[i]
}

// calls counts the call-backs on forms the rule holds, since its start, and is
// the success share to reckon with: theirs where they are enough, otherwise the
// scorecard's.
func (s *scorer) calls(a Applied, calls []Call, x *Since, done success) success {
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
		return successIn(resolved, answered, "")
	}
	return done
}

// judge fits the change and holds it against the promise.
func (s *scorer) judge(ctx context.Context, a Applied, controls []bool, x *Since, r *Scored, why string, mended success, keep func(i int) bool, o Options) {
	x.Verdict = tooFewToTell
	if why != "" {
		x.Step = stats.Missing(x.After.Orders, "segmented regression", why)
		x.Controlled = stats.Missing(x.After.Orders, "difference in differences", why)
		x.Promised, r.KeptPromise = x.Step, stats.Missing(x.After.Orders, promiseMethod, why)
		return
	}
	held := func(i int) bool { return a.Held[i] == form.With }
	looked := func(i int) bool { return keep(i) && !s.washedOut(a, i) && (held(i) || controls[i]) }
	c := remakes.ChangeAt(ctx, s.c, s.m, remakes.Break{
		Keep: looked, Since: func(i int) bool { return s.began(i) >= a.From }, Treated: held,
		Promised: s.promised(a, mended, looked),
	}, remakes.Options{Replicates: o.Replicates, Seed: o.Seed, Workers: o.Workers, Progress: o.Progress})
	x.Step, x.Controlled, x.Promised, r.KeptPromise = hundred(c.Risk), hundred(c.Controlled), hundred(c.Promised), c.Kept
	r.KeptPromise.Method, x.Promised.Method = promiseMethod, promisedMethod
	switch {
	case !x.Step.Bounded() || !x.Controlled.Bounded():
	case x.Step.High < 0 && x.Controlled.High < 0:
		x.Verdict = fewerSince
	case x.Step.Low > 0 && x.Controlled.Low > 0:
		x.Verdict = moreSince
	default:
		x.Verdict = noChangeShown
	}
	switch {
	case !c.Promised.Given() && c.Controlled.Given():
		r.KeptPromise = stats.Missing(x.After.Orders, promiseMethod, "too few orders or remakes to say what was promised")
	case c.Controlled.Given() && !(c.Promised.Low > 0):
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

// promised is what the rule was worth on the looked orders before its start, by the
// scorecard's own model of all orders ([Scored.Avoidable]; those before a start are
// seldom enough for a model of their own), per order, order i counting so many
// times and the success share as far from its estimate as is drawn; NaN where it
// can't be given.
func (s *scorer) promised(a Applied, mended success, looked func(i int) bool) func(times func(i int) float64, draw float64) float64 {
	before := func(i int) bool { return s.began(i) < a.From && !s.washedOut(a, i) && s.m.Is(s.c, i) }
	drawn := func(i int) bool { return before(i) && looked(i) }
	held := make([]form.State, s.c.Len())
	for i := range held {
		held[i] = form.NotAtRisk
		if drawn(i) {
			held[i] = a.Held[i]
		}
	}
	fall, _, why := s.mending.Of(held, faultsOf(a.Rule))
	if why != "" {
		return func(func(i int) float64, float64) float64 { return math.NaN() }
	}
	again := s.mending.Resampled(fall, drawn)
	return func(times func(i int) float64, draw float64) float64 { return mended.at(draw) * again(times) }
}

func (x *Since) say(kept stats.Estimate) string {
	head := fmt.Sprintf("Since %s: %d of %d orders remade, %d of %d before (without the %d days before the start)", x.From, x.After.Remade, x.After.Orders, x.Before.Remade, x.Before.Orders, x.WashoutDays)
	if len(x.Together) > 0 {
		head += fmt.Sprintf(". Began together with %s: one change", strings.Join(x.Together, ", "))
	}
	if x.Verdict == tooFewToTell {
		e := x.Step
		if e.Bounded() {
			e = x.Controlled
		}
		return head + "; " + first(e.Warnings)
	}
	s := fmt.Sprintf("%s. Held forms, the course before carried on: %+.1f remakes per 100 orders (95 %% interval %+.1f to %+.1f); less what the other forms did in the same months: %+.1f (%+.1f to %+.1f)",
		head, x.Step.Point, x.Step.Low, x.Step.High, x.Controlled.Point, x.Controlled.Low, x.Controlled.High)
	switch x.Verdict {
	case fewerSince:
		s += ": fewer since the start, as both say"
	case moreSince:
		s += ": more since the start, as both say"
	default:
		s += ": no change that both show"
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
