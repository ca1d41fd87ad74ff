package remakes

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const (
	adjustedMethod = "standardised risk, joint model of faults and descriptors, bootstrap by customer"
	// Remakes for each term of the model: under fewest the model is not made,
	// under few it is penalised (Firth).
	fewestPerTerm, fewPerTerm = 2, 5
	// manyRemakes is where one Newton step from the whole sample's estimates is
	// as good as a full refit in each replicate (TestTangentAgreesWithRefit).
	manyRemakes = 4000
	// With hugeRemakes the information of the draw is that of the whole sample
	// to half a percent, and is not taken anew.
	hugeRemakes = 40_000
)

// A riskModel is a fit with the questions put to it. into says which finding
// each question belongs to; len(cohort.Faults) stands for "any fault".
type riskModel struct {
	fit  *fit
	qs   []question
	into []int
}

// adjust fills in the adjusted part of the document.
func adjust(c *cohort.Cohort, m Maturity, o Options, doc *FaultsDocument) {
	doc.Model = ModelNote{Method: adjustedMethod, Replicates: o.Replicates, Seed: o.Seed, Terms: []string{}, Warnings: []string{}}
	if o.Replicates <= 0 {
		doc.refuseModel(notAsked)
		return
	}
	d := newDesign(c, m, designOptions{faults: true, time: true})
	rs := newResampler(d)
	weight, share := rs.whole()
	base, why := makeFit(d, d.all, nil, weight, share)
	doc.Model.describe(d, base)
	if why != "" {
		doc.refuseModel(why)
		return
	}
	models := questions(d, base, m, doc)
	points, all := ask(models, weight, share)
	if points == nil {
		return
	}
	width := 3*len(points) + 1
	ts := tangents(models)
	lean := leans(models, ts, points)
	if events(weight) < manyRemakes {
		ts = nil
	}
	reps := run(o.plan(), width, func() *refitter { return newRefitter(d, models, ts) },
		func(r *refitter, rng *rand.Rand, out []float64) error { return r.replicate(rng, out) })
	if reps == nil {
		doc.refuseModel("the run was stopped before the bootstrap was through")
		return
	}
	k := 0
	for _, mo := range models {
		for _, f := range mo.into {
			doc.finding(f).adjusted(points[k], reps.Values[3*k:3*k+3], lean[k])
			k++
		}
	}
	if len(models[0].qs) == 0 {
		doc.AttributableToAll = stats.Missing(doc.MatureOrders, adjustedMethod, "too few to tell: no noted or counted fault is common enough for the model")
	} else {
		doc.AttributableToAll = interval(all, reps.Values[width-1], doc.MatureOrders, int(events(weight)))
	}
	doc.qValues()
	for f := range doc.Faults {
		if w := unlikeDelays(c, c.Cut[f]); w != "" && doc.Faults[f].AdjustedRD.Given() {
			doc.Faults[f].AdjustedRD = doc.Faults[f].AdjustedRD.Warn(w)
		}
	}
}

func (doc *FaultsDocument) finding(f int) *FaultFinding {
	if f == len(doc.Faults) {
		return &doc.AnyFault
	}
	return &doc.Faults[f]
}

func (doc *FaultsDocument) refuseModel(why string) {
	for f := range doc.Faults {
		doc.Faults[f].withoutModel(why)
	}
	doc.AnyFault.withoutModel(why)
	doc.AttributableToAll = stats.Missing(doc.MatureOrders, adjustedMethod, why)
	if why != notAsked {
		doc.Model.Warnings = append(doc.Model.Warnings, why)
	}
}

func (n *ModelNote) describe(d *design, f *fit) {
	n.Orders, n.Patterns, n.Terms = len(d.slot), d.patterns(), d.terms
	n.Warnings = append(n.Warnings, d.notes...)
	n.Horizon = d.horizon()
	if n.Horizon < Horizon {
		n.Warnings = append(n.Warnings, fmt.Sprintf("no order has been followed for %d days yet: risks are those of the first %d days", Horizon, n.Horizon))
	}
	if f != nil {
		n.Remakes = int(math.Round(events(f.weight)))
		if f.firth {
			n.Method += ", Firth penalised likelihood"
			n.Warnings = append(n.Warnings, "few remakes for the number of terms, or a fault with no or only remakes: the model is penalised (Firth)")
		}
	}
}

// horizon is the last edge that any order was followed to.
func (d *design) horizon() int {
	last := uint8(0)
	for _, a := range d.age {
		last = max(last, a)
	}
	return d.edges[last]
}

func events(weight []float64) float64 {
	x := 0.0
	for s := 1; s < len(weight); s += 2 {
		x += weight[s]
	}
	return x
}

// makeFit fits the risk model by maximum likelihood, or, where remakes are few
// or the data separate, by Firth's penalised likelihood. It refuses in words
// where there are too few remakes for any model.
func makeFit(d *design, ends []int32, extra []uint8, weight, share []float64) (*fit, string) {
	f := newFit(d, ends, extra)
	f.weight, f.share = weight, share
	x, n := events(weight), 0.0
	for _, w := range weight {
		n += w
	}
	if x == 0 || x == n {
		return f, fmt.Sprintf("too few to tell: %.0f of %.0f orders were remade", x, n)
	}
	f.beta[0] = math.Log(x / (n - x))
	f.solve(50, 50, 1e-9)
	terms := 0
	for _, a := range f.alias {
		if !a {
			terms++
		}
	}
	if need := float64(fewestPerTerm*terms) - x; need > 0 {
		return f, fmt.Sprintf("too few to tell: a model with %d terms needs about %.0f more remakes", terms, need)
	}
	if x < float64(fewPerTerm*terms) || !f.converged || f.separated() {
		f.firth = true
		clear(f.beta)
		f.beta[0] = math.Log(x / (n - x))
		f.solve(200, 200, 1e-8)
		if !f.converged {
			return f, "the model did not settle; more remakes are needed"
		}
		f.hat = f.leverages()
		f.recentre()
	}
	return f, ""
}

// separated reports an effect of a fault so large that only one with no, or
// only, remakes has it. A mended or unknown level without a remake may drift
// off alone: nobody asks for its effect, and the others do not follow it.
func (f *fit) separated() bool {
	for _, j := range f.d.withCol {
		if j >= 0 && math.Abs(f.beta[j]) > 8 {
			return true
		}
	}
	return f.extra != nil && math.Abs(f.beta[f.p-2]) > 8
}

// questions are the models and what is asked of them: all noted and counted
// faults in one, "any fault" alone, and each fault read off the numbers added
// alone to the first.
func questions(d *design, base *fit, m Maturity, doc *FaultsDocument) []riskModel {
	mature := d.matureEdge(m)
	joint := riskModel{fit: base}
	models := []riskModel{}
	for f, fault := range cohort.Faults {
		why := tooFewForModel(d.exposure[f], base.weight)
		switch {
		case why != "":
			doc.Faults[f].withoutModel(why)
		case fault.Kind == cohort.Evident:
			if g, why := addOne(d, d.all, d.exposure[f], base); why != "" {
				doc.Faults[f].withoutModel(why)
			} else {
				models = append(models, riskModel{g, []question{{d.exposure[f], g.p - 2, -1, g.p - 1, mature}}, []int{f}})
			}
		default:
			joint.qs, joint.into = append(joint.qs, d.faultQuestion(f, mature)), append(joint.into, f)
		}
	}
	any := anyExposure(d)
	if why := tooFewForModel(any, base.weight); why != "" {
		doc.AnyFault.withoutModel(why)
	} else if g, why := addOne(d, d.ends, any, base); why != "" {
		doc.AnyFault.withoutModel(why)
	} else {
		models = append(models, riskModel{g, []question{{any, g.p - 2, -1, g.p - 1, mature}}, []int{len(cohort.Faults)}})
	}
	return append([]riskModel{joint}, models...)
}

// addOne fits the model with one further exposure.
func addOne(d *design, ends []int32, exposure []uint8, base *fit) (*fit, string) {
	extra := make([]uint8, len(exposure))
	for i, e := range exposure {
		switch e {
		case withFault:
			extra[i] = 1
		case notKnown:
			extra[i] = 2
		}
	}
	return makeFit(d, ends, extra, base.weight, base.share)
}

func anyExposure(d *design) []uint8 {
	any := make([]uint8, d.patterns())
	for f, fault := range cohort.Faults {
		if fault.Kind == cohort.Evident {
			continue
		}
		for i, e := range d.exposure[f] {
			switch {
			case e == withFault:
				any[i] = withFault
			case e == notKnown && any[i] != withFault:
				any[i] = notKnown
			}
		}
	}
	return any
}

// matureEdge is the index of the edge at which orders are mature.
func (d *design) matureEdge(m Maturity) int {
	for k, e := range d.edges {
		if e >= m.Days {
			return k
		}
	}
	return len(d.edges) - 1
}

// tooFewForModel is the rule on orders and events, on the orders of the model.
func tooFewForModel(exposure []uint8, weight []float64) string {
	return tooFewForRatio(arms(exposure, weight))
}

// arms counts the orders with and without the exposure.
func arms(exposure []uint8, weight []float64) stats.Table {
	var t stats.Table
	for i, e := range exposure {
		n0, n1 := int(weight[2*i]), int(weight[2*i+1])
		switch e {
		case withFault:
			t.A, t.B = t.A+n1, t.B+n0
		case clean, mended:
			t.C, t.D = t.C+n1, t.D+n0
		}
	}
	return t
}

// ask answers all questions on the orders as they are.
func ask(models []riskModel, weight, share []float64) (points []effect, all float64) {
	for k, mo := range models {
		mo.fit.weight, mo.fit.share = weight, share
		es, sum := standardise(mo.fit, mo.qs)
		if k == 0 {
			all = sum
		}
		points = append(points, es...)
	}
	return points, all
}

// A refitter refits all models on one bootstrap sample after another.
type refitter struct {
	rs       *resampler
	whole    []riskModel // as fitted on all orders
	models   []riskModel
	tangents []*tangent // nil where remakes are few enough for full refits
	huge     bool
}

// A lean is what the bootstrap intervals of one effect are corrected by: the
// acceleration of difference and ratio, from each customer's influence (the
// infinitesimal jackknife), and the remakes in the smaller arm.
type lean struct {
	difference, ratio float64
	remakes           int
}

func leans(models []riskModel, ts []*tangent, points []effect) []lean {
	var all []lean
	for i, mo := range models {
		for k := range mo.qs {
			e := points[len(all)]
			on, off := influence(mo.fit, ts[i], k, e)
			x := arms(mo.qs[k].exposure, mo.fit.weight)
			all = append(all, lean{
				acceleration(on, off, 1, 1), acceleration(on, off, 1/e.on, 1/e.off), min(x.A, x.C),
			})
		}
	}
	return all
}

// acceleration is sum d^3/(6 (sum d^2)^(3/2)) of the influences d = a on - b off
// (Efron B (1987) J Am Stat Assoc 82:171-185; their mean is 0).
func acceleration(on, off []float64, a, b float64) float64 {
	var two, three float64
	for c, v := range on {
		d := a*v - b*off[c]
		two += d * d
		three += d * d * d
	}
	if two == 0 {
		return 0
	}
	return three / (6 * math.Pow(two, 1.5))
}

// tangents are the models' tangents.
func tangents(whole []riskModel) []*tangent {
	var ts []*tangent
	for _, mo := range whole {
		ts = append(ts, newTangent(mo))
	}
	return ts
}

func newRefitter(d *design, whole []riskModel, ts []*tangent) *refitter {
	r := &refitter{rs: newResampler(d), whole: whole, tangents: ts, huge: events(whole[0].fit.weight) >= hugeRemakes}
	for _, mo := range whole {
		r.models = append(r.models, riskModel{mo.fit.fork(), mo.qs, mo.into})
	}
	return r
}

// replicate puts difference, ratio and remakes of each question into out, and
// last the remakes that go with all noted and counted faults.
func (r *refitter) replicate(rng *rand.Rand, out []float64) error {
	weight, share := r.rs.draw(rng)
	k := 0
	for i, mo := range r.models {
		mo.fit.weight, mo.fit.share = weight, share
		es, all := r.again(i)
		for _, e := range es {
			out[k], out[k+1], out[k+2] = e.difference(), e.ratio(), e.remakes
			k += 3
		}
		if i == 0 {
			out[len(out)-1] = all
		}
	}
	return nil
}

// again answers model i's questions on the drawn weights.
func (r *refitter) again(i int) (es []effect, all float64) {
	f, whole := r.models[i].fit, r.whole[i].fit
	if r.tangents == nil {
		copy(f.beta, whole.beta)
		if i > 0 && &f.ends[0] == &r.whole[0].fit.ends[0] {
			f.follow(r.models[0].fit, r.whole[0].fit)
		}
		f.refit(i == 0)
		return standardise(f, r.models[i].qs)
	}
	t := r.tangents[i]
	step := t.step(f, i == 0 && !r.huge)
	for _, l := range t.lines {
		es = append(es, l.answer(f.weight, step))
	}
	if i == 0 {
		all = t.all.sum(f.weight, step)
	}
	return es, all
}

// follow moves the estimates as far as the joint model's have moved from the
// whole sample's: a good start for a model that only adds one fault to it.
func (f *fit) follow(joint, whole *fit) {
	for j, b := range whole.beta {
		f.beta[j] += joint.beta[j] - b
	}
}

// refit starts from the whole sample's estimates and goes on until it settles.
// The information is taken anew in the first rounds only; that of the last one
// is near enough to go on with.
func (f *fit) refit(joint bool) {
	switch {
	case f.firth:
		f.solve(8, 2, 3e-3)
		f.recentre()
	case joint:
		f.solve(8, 2, 3e-3)
	default:
		f.solve(8, 1, 3e-3)
	}
}

func interval(point float64, values []float64, n, remakes int) stats.Estimate {
	e := stats.Percentile(point, values, expanded(remakes), n)
	e.Level, e.Method = level, adjustedMethod+" (expanded percentile)"
	return e
}

// leaning is the BCa interval with the acceleration given; where it has no
// answer the percentile interval serves.
func leaning(point float64, values []float64, acceleration float64, n, remakes int) stats.Estimate {
	e := interval(point, values, n, remakes)
	if !e.Bounded() {
		return e
	}
	sorted := slices.DeleteFunc(slices.Clone(values), math.IsNaN)
	slices.Sort(sorted)
	z0, tail := stats.BiasCorrection(point, sorted), (1-expanded(remakes))/2
	lo, hi := stats.BCaLevel(z0, acceleration, tail), stats.BCaLevel(z0, acceleration, 1-tail)
	if lo < hi {
		e.Low, e.High = stats.Quantile7(sorted, lo), stats.Quantile7(sorted, hi)
		e.Method = adjustedMethod + " (expanded BCa)"
	}
	return e
}

// expanded is the level at which the replicates are cut, so that the interval
// covers as said where remakes are few: bootstrap intervals are as much too
// narrow as normal ones, and Student's t for the remakes in the smaller arm
// makes up for it. After Hesterberg TC (2015) Am Stat 69:371-386, whose n is
// here the remakes: they, not the orders, carry the information.
func expanded(remakes int) float64 {
	if remakes < 2 {
		return level
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(remakes - 1)}.Quantile((1 + level) / 2)
	return 2*distuv.UnitNormal.CDF(t) - 1
}

// adjusted sets a finding's adjusted fields; values are those of difference,
// ratio and remakes in each replicate.
func (f *FaultFinding) adjusted(e effect, values [][]float64, l lean) {
	n := f.With + f.Without
	f.AdjustedRD = leaning(e.difference(), values[0], l.difference, n, l.remakes)
	f.AdjustedRR = leaning(e.ratio(), values[1], l.ratio, n, l.remakes)
	f.Attributable = interval(e.remakes, values[2], n, l.remakes)
	f.EValue = stats.EValue(f.AdjustedRR)
	se := spread(values[0])
	f.AdjustedP, f.AdjustedQ = Number(math.NaN()), Number(math.NaN())
	if se > 0 {
		f.AdjustedP = Number(2 * distuv.UnitNormal.CDF(-math.Abs(e.difference())/se))
	}
}

// qValues sets the adjusted q values and says which faults are findings.
func (doc *FaultsDocument) qValues() {
	doc.across(func(f *FaultFinding) *Number { return &f.AdjustedP }, func(f *FaultFinding) *Number { return &f.AdjustedQ })
	for f := range doc.Faults {
		x := &doc.Faults[f]
		x.Finding = x.AdjustedQ <= FindingLevel && x.AdjustedRD.Low > 0
	}
}
