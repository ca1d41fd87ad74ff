package remakes

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

const (
	adjustedMethod = "standardised risk, joint model of faults and descriptors"
	bootstrapped   = adjustedMethod + ", bootstrap by customer"
	// Remakes for each term of the model: under fewest the model is not made,
	// under few it is penalised (Firth).
	fewestPerTerm, fewPerTerm = 2, 5
	// manyRemakes is where answers move along straight lines with the orders'
	// weights, and the jackknife gives what a bootstrap would (TestJackknifeAgreesWithBootstrap).
	manyRemakes = 4000
)

// A riskModel is a fit with the questions put to it. into says which finding
// each question belongs to; len(form.Faults) stands for "any fault".
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
	base, why := makeFit(d, d.all, nil, weight, share, nil)
	doc.Model.describe(d, base)
	if why != "" {
		doc.refuseModel(why)
		return
	}
	models := questions(d, base, m, doc, o.Workers)
	points, all := ask(models, weight, share)
	if points == nil {
		return
	}
	lean := leansOf(models, points, o.Workers)
	if events(weight) >= manyRemakes {
		doc.jackknifed(models, points, lean, all)
	} else if !doc.bootstrapped(d, models, points, lean.of, all, o.plan()) {
		doc.refuseModel("the run was stopped before the bootstrap was through")
		return
	}
	if len(models[0].qs) == 0 {
		doc.AttributableToAll = stats.Missing(doc.MatureOrders, adjustedMethod, "too few to tell: no noted or counted fault is common enough for the model")
	}
	doc.qValues()
	for f := range doc.Faults {
		if w := unlikeDelays(c, c.Cut[f]); w != "" && doc.Faults[f].AdjustedRD.Given() {
			doc.Faults[f].AdjustedRD = doc.Faults[f].AdjustedRD.Warn(w)
		}
	}
}

// bootstrapped gives all answers their intervals by resampling customers; false
// when it was stopped.
func (doc *FaultsDocument) bootstrapped(d *design, models []riskModel, points []effect, lean []lean, all float64, p plan) bool {
	width := 3*len(points) + 1
	reps := run(p, width, func() *refitter { return newRefitter(d, models, nil) },
		func(r *refitter, rng *rand.Rand, out []float64) error { return r.replicate(rng, out) })
	if reps == nil {
		return false
	}
	doc.each(models, func(k int, f *FaultFinding) { f.adjusted(points[k], reps.Values[3*k:3*k+3], lean[k]) })
	doc.AttributableToAll = interval(all, reps.Values[width-1], doc.MatureOrders, int(events(models[0].fit.weight)))
	return true
}

// jackknifed gives all answers their intervals by formula.
func (doc *FaultsDocument) jackknifed(models []riskModel, points []effect, lean leanings, all float64) {
	doc.Model.Replicates = 0
	doc.Model.Method += ", " + jackknifeMethod
	doc.each(models, func(k int, f *FaultFinding) { f.jackknifed(points[k], lean.of[k]) })
	doc.AttributableToAll = lean.all.interval(all, doc.MatureOrders, int(events(models[0].fit.weight)))
}

// each calls do with the number of each question and the finding it is about.
func (doc *FaultsDocument) each(models []riskModel, do func(k int, f *FaultFinding)) {
	k := 0
	for _, mo := range models {
		for _, f := range mo.into {
			do(k, doc.finding(f))
			k++
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
// where there are too few remakes for any model. start, if given, is a fit of
// fewer columns to start from.
func makeFit(d *design, ends []int32, extra []uint8, weight, share []float64, start *fit) (*fit, string) {
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
	if start != nil && !start.firth {
		copy(f.beta, start.beta)
	}
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
func questions(d *design, base *fit, m Maturity, doc *FaultsDocument, workers int) []riskModel {
	mature := d.matureEdge(m)
	joint := riskModel{fit: base}
	var alone []oneMore
	for f, fault := range form.Faults {
		why := tooFewForModel(d.exposure[f], base.weight)
		switch {
		case why != "":
			doc.Faults[f].withoutModel(why)
		case fault.Kind == form.Evident:
			alone = append(alone, oneMore{f, d.all, d.exposure[f]})
		default:
			joint.qs, joint.into = append(joint.qs, d.faultQuestion(f, mature)), append(joint.into, f)
		}
	}
	any := anyExposure(d)
	if why := tooFewForModel(any, base.weight); why != "" {
		doc.AnyFault.withoutModel(why)
	} else {
		alone = append(alone, oneMore{len(form.Faults), d.ends, any})
	}
	fits, whys := make([]*fit, len(alone)), make([]string, len(alone))
	stats.Abreast(workers, len(alone), func(k int) { fits[k], whys[k] = addOne(d, alone[k].ends, alone[k].exposure, base) })
	models := []riskModel{joint}
	for k, x := range alone {
		if whys[k] != "" {
			doc.finding(x.into).withoutModel(whys[k])
			continue
		}
		p := fits[k].p
		models = append(models, riskModel{fits[k], []question{{x.exposure, p - 2, -1, p - 1, mature}}, []int{x.into}})
	}
	return models
}

// oneMore is one exposure to be added to the descriptors, or to all columns.
type oneMore struct {
	into     int
	ends     []int32
	exposure []uint8
}

// addOne fits the model with one further exposure.
func addOne(d *design, ends []int32, exposure []uint8, base *fit) (*fit, string) {
	var start *fit
	if &ends[0] == &base.ends[0] {
		start = base
	}
	return makeFit(d, ends, extraOf(exposure), base.weight, base.share, start)
}

// extraOf are the two further columns of one exposure: with it, not known.
func extraOf(exposure []uint8) []uint8 {
	extra := make([]uint8, len(exposure))
	for i, e := range exposure {
		switch e {
		case withFault:
			extra[i] = 1
		case notKnown:
			extra[i] = 2
		}
	}
	return extra
}

func anyExposure(d *design) []uint8 {
	any := make([]uint8, d.patterns())
	for f, fault := range form.Faults {
		if fault.Kind == form.Evident {
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

// adjusted sets a finding's adjusted fields; values are those of difference,
// ratio and remakes in each replicate.
func (f *FaultFinding) adjusted(e effect, values [][]float64, l lean) {
	n := f.With + f.Without
	f.AdjustedRD = leaning(e.difference(), values[0], l.difference.acceleration, n, l.remakes)
	f.AdjustedRR = leaning(e.ratio(), values[1], l.ratio.acceleration, n, l.remakes)
	f.Attributable = interval(e.remakes, values[2], n, l.remakes)
	f.tested(e, spread(values[0]))
}

// jackknifed does the same by formula.
func (f *FaultFinding) jackknifed(e effect, l lean) {
	n := f.With + f.Without
	f.AdjustedRD = l.difference.interval(e.difference(), n, l.remakes)
	f.AdjustedRR = exponential(l.ratio.interval(math.Log(e.ratio()), n, l.remakes))
	f.Attributable = l.sum.interval(e.remakes, n, l.remakes)
	f.tested(e, l.difference.se)
}

// tested sets what follows from the adjusted difference, its standard error
// and the ratio.
func (f *FaultFinding) tested(e effect, se float64) {
	f.EValue = stats.EValue(f.AdjustedRR)
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
