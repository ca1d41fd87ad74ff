package rules

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const worthMethod = "fall of the standardised risk of held first forms with what the call-back mends mended x success, joint model of all faults and the kind of boot, infinitesimal jackknife by customer and measurer, per 100 first forms"

// A success is the share of call-backs that mend a form, and its standard
// error; 0 where it was given.
type success struct {
	share, se float64
	from      string
}

// successOf is the share to reckon with, and where it comes from.
func successOf(o Options, l Ledger) success {
	switch {
	case o.Success > 0 && o.Success <= 1:
		return success{o.Success, 0, "given"}
	case l.Success.Given() && l.Success.N >= leastCalls:
		answered := l.Success.N
		return successIn(int(math.Round(l.Success.Point*float64(answered))), answered, fmt.Sprintf("from %d call-backs in the book", answered))
	}
	spread := stats.Z(level) * usualSpread
	return success{usualSuccess, usualSpread, fmt.Sprintf("taken as %.1f, %.1f to %.1f (judgement): the book holds %d answered call-backs, %d needed", usualSuccess, usualSuccess-spread, usualSuccess+spread, l.Success.N, leastCalls)}
}

// successIn is the share that so many call-backs tell. Where all or none mended
// their form, half of one more is thought of for the error, which is not nothing.
func successIn(mended, answered int, from string) success {
	n := float64(answered)
	p := float64(mended) / n
	unsure := p
	if mended == 0 || mended == answered {
		unsure = (float64(mended) + 0.5) / (n + 1)
	}
	return success{p, math.Sqrt(unsure * (1 - unsure) / n), from}
}

// at is the share so many standard errors from its estimate.
func (s success) at(draw float64) float64 { return math.Max(0, math.Min(1, s.share+draw*s.se)) }

// A worth is what one rule brings: the share of remakes avoided per first form
// if every call-back mended, with its influence by customer.
type worth struct {
	rule      int
	fall      float64
	influence []float64
}

// weigh sets what each rule is worth and what follows from that: call-backs per
// remake avoided and per remake caught, and what 100 first forms gain.
func (s *scorer) weigh(ctx context.Context, applied []Applied, d *Scorecard, done success, o Options) {
	s.mending = remakes.NewMending(s.c, s.m)
	found := make([]*worth, len(applied))
	stats.Parallel(o.Workers, len(applied), func(j int) {
		if found[j] = s.weighOne(applied[j], &d.Rules[j], done); found[j] != nil {
			found[j].rule = j
		}
	})
	found = slices.DeleteFunc(found, func(w *worth) bool { return w == nil })
	correct(ctx, found, s.mending.Clusters(), d, done.share, o)
	for j := range d.Rules {
		d.Rules[j].Net = net(d.Rules[j], d.Costs, d.Ledger)
	}
}

// weighOne sets what one rule is worth; nil where that can't be told.
func (s *scorer) weighOne(a Applied, r *Scored, done success) *worth {
	n := r.Held + r.NotHeld + r.Unknown
	missing := func(why string) *worth {
		r.Avoidable = stats.Missing(n, worthMethod, why)
		r.NumberNeeded = stats.Missing(r.Held, neededMethod, why)
		r.CallsPerCatch = stats.Missing(r.Held, catchMethod, why)
		r.WouldCatch = stats.Missing(r.Held, caughtMethod, why)
		r.Sensitivity = stats.Missing(n, caughtMethod, why)
		return nil
	}
	if r.TooFew != "" {
		return missing(r.TooFew)
	}
	c, lost, why := s.mending.Of(a.Held, faultsOf(a.Rule))
	if why != "" {
		return missing(why)
	}
	if len(lost) > 0 {
		r.Warnings = append(r.Warnings, "too rare, or with too few remakes, to be sure of: "+titles(lost))
	}
	r.Avoidable = avoided(c.Mean, c.Jackknife(), done, n, s.fewest(a.Held))
	r.NumberNeeded = needed(r.Avoidable, float64(r.Held)/float64(n))
	r.setCaught(s.mending.Risk(a.Held).LogitInterval(level, 0, caughtMethod), s.mending.Caught(a.Held).LogitInterval(level, 0, caughtMethod))
	return &worth{fall: c.Mean, influence: c.Influence}
}

// faultsOf are the faults that a rule mends, by their place in the catalogue;
// all where it does not say.
func faultsOf(r Rule) []int {
	var faults []int
	for f, x := range form.Faults {
		if len(r.Mends) == 0 || slices.Contains(r.Mends, x.ID) {
			faults = append(faults, f)
		}
	}
	return faults
}

func titles(faults []int) string {
	var words []string
	for _, f := range faults {
		words = append(words, form.Faults[f].Title)
	}
	return strings.Join(words, ", ")
}

// fewest are the remakes in the smaller group, of held and other forms that
// were cut as they came: they carry the information.
func (s *scorer) fewest(held []form.State) int {
	t := s.of(held)
	return min(t.plain.A, t.plain.C)
}

// avoided is fall x success per 100, with the uncertainty of both: variances of
// a product of independent figures, third moments (the acceleration) of the
// fall's part.
func avoided(fall float64, j regression.Jackknife, done success, n, fewest int) stats.Estimate {
	of := done.share * j.SE
	se := math.Sqrt(of*of + fall*fall*done.se*done.se + j.SE*j.SE*done.se*done.se)
	both := regression.Jackknife{SE: 100 * se}
	if se > 0 {
		both.Acceleration = j.Acceleration * math.Pow(of/se, 3)
	}
	e := both.Interval(100*done.share*fall, n, fewest)
	e.Method = worthMethod
	return e
}

const neededMethod = "held forms over remakes avoided, limits of the latter turned over"

// needed is call-backs per remake avoided; none where the interval of what is
// avoided holds 0.
func needed(avoidable stats.Estimate, heldShare float64) stats.Estimate {
	if !(avoidable.Low > 0) {
		return stats.Missing(avoidable.N, neededMethod, "what it avoids may as well be nothing")
	}
	calls := 100 * heldShare
	return stats.Estimate{Point: calls / avoidable.Point, Low: calls / avoidable.High, High: calls / avoidable.Low, Level: level, N: avoidable.N, Method: neededMethod}
}

const (
	catchMethod  = "held forms per remake caught had all been cut as they came, joint model, limits of the risk turned over"
	caughtMethod = "remakes of the held forms had all first forms been cut as they came, joint model, infinitesimal jackknife by customer and measurer"
)

// setCaught sets what the rule catches from the risk of the held forms and their
// share in all remakes, both had all forms been cut as they came: call-backs of
// the past have no part in either.
func (r *Scored) setCaught(risk, share stats.Estimate) {
	r.CallsPerCatch = stats.Estimate{Point: 1 / risk.Point, Low: 1 / risk.High, High: 1 / risk.Low, Level: level, N: r.Held, Method: catchMethod}
	r.WouldCatch = risk.Map(func(p float64) float64 { return p * float64(r.Held) })
	r.WouldCatch.N = r.Held
	r.Sensitivity, r.Sensitivity.N = share, r.Held+r.NotHeld+r.Unknown
}

// noDelay warns where a day of delay has its cost, and nobody knows how many.
const noDelay = "the cost of a day of delay is left out: the book does not tell how long a call-back takes"

// callCost is what a call-back costs with the days it takes, as far as is known;
// given is false where it is not.
func callCost(c Costs, l Ledger) (call float64, given bool) {
	if c.Callback == nil {
		return 0, false
	}
	call = *c.Callback
	if c.DayOfDelay != nil && l.MeanDays.Given() {
		call += *c.DayOfDelay * l.MeanDays.Point
	}
	return call, true
}

// net is what 100 first forms gain: remakes avoided, less the optimism of the
// rule's rank, at their cost; less call-backs at theirs and the days they take.
func net(r Scored, costs Costs, l Ledger) stats.Estimate {
	const method = "avoidable remakes (corrected) x cost of a remake - call-backs x their cost and days, per 100 first forms"
	n := r.Held + r.NotHeld + r.Unknown
	switch {
	case costs.Remake == nil && costs.Callback == nil:
		return stats.Missing(n, method, "no costs given: what a remake and a call-back cost is needed")
	case costs.Remake == nil:
		return stats.Missing(n, method, "the cost of a remake is not given")
	case costs.Callback == nil:
		return stats.Missing(n, method, "the cost of a call-back is not given")
	case !r.Avoidable.Given():
		return stats.Missing(n, method, r.Avoidable.Warnings...)
	}
	a := r.Best()
	call, _ := callCost(costs, l)
	var notes []string
	if !r.Corrected.Given() {
		notes = append(notes, "not corrected for the rule's rank: not asked for in this run")
	}
	if costs.DayOfDelay != nil && !l.MeanDays.Given() {
		notes = append(notes, noDelay)
	}
	spent := 100 * float64(r.Held) / float64(n) * call
	e := a.Map(func(avoided float64) float64 { return avoided**costs.Remake - spent })
	e.N, e.Method, e.Warnings = n, method, notes
	if math.IsNaN(e.Point) || math.IsInf(e.Point, 0) {
		return stats.Missing(n, method, "the costs are no finite numbers")
	}
	if e.Low > e.High {
		e.Low, e.High = e.High, e.Low
	}
	return e
}

// Best is the corrected figure where it was made.
func (r Scored) Best() stats.Estimate {
	if r.Corrected.Given() {
		return r.Corrected
	}
	return r.Avoidable
}

const correctedMethod = "avoidable per 100, less the optimism of its rank (bootstrap by customer)"

// enoughForMean is how many resamples a mean optimism needs at most: it is a
// mean, where an interval needs quantiles (judgement).
const enoughForMean = 200

// correct takes the optimism out of the scorecard. A rule that stands first
// among many stands there partly by luck: in each resample of customers the
// rules are ranked anew, and the figure of the rule at each rank is held against
// what the same rule has on the orders as they are. The mean excess at a rank is
// taken off the rule that holds this rank; nothing is ever added. A resample
// moves a rule's figure by the drawn customers' influences.
// After Harrell FE, Lee KL, Mark DB (1996) Stat Med 15:361-387.
func correct(ctx context.Context, found []*worth, clusters int, d *Scorecard, share float64, o Options) {
	if o.Replicates <= 0 || len(found) == 0 {
		return
	}
	apparent, influence := make([]float64, len(found)), make([]float64, len(found)*clusters) // by customer, one a rule
	for j, w := range found {
		apparent[j] = w.fall
		for c, v := range w.influence {
			influence[c*len(found)+j] = v
		}
	}
	b := regression.Bootstrap{Replicates: min(o.Replicates, enoughForMean), Seed: o.Seed, Workers: o.Workers}
	reps := regression.Run(ctx, b, len(found), func() []float64 { return make([]float64, clusters) },
		func(times []float64, rng *rand.Rand, out []float64) {
			stats.ResampleClusters(rng, times)
			v := slices.Clone(apparent)
			for c, m := range times {
				if m == 1 {
					continue
				}
				for j, of := range influence[c*len(found):][:len(found)] {
					v[j] += (m - 1) * of
				}
			}
			for rank, j := range ranked(v) {
				out[rank] = v[j] - apparent[j]
			}
		})
	if reps == nil {
		return
	}
	for rank, j := range ranked(apparent) {
		r := &d.Rules[found[j].rule]
		optimism := 0.0
		for _, v := range reps[rank] {
			optimism += 100 * share * v / float64(len(reps[rank]))
		}
		optimism = math.Max(0, optimism) // low ranks are no reason to add any
		r.Corrected = r.Avoidable.Map(func(x float64) float64 { return x - optimism })
		r.Corrected.Method = correctedMethod
	}
}

// ranked are the indices of v, highest first.
func ranked(v []float64) []int {
	order := make([]int, len(v))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(v[b], v[a]) })
	return order
}
