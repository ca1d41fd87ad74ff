package remakes

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
)

const adjustedMethod = "standardised risk, joint model of faults and descriptors"

// manyRemakes is where answers move along straight lines with the orders'
// weights, and the jackknife gives what a bootstrap would (TestJackknifeAgreesWithBootstrap).
const manyRemakes = 4000

// A riskModel is a fit with the questions put to it. into says which finding
// each question belongs to; len(form.Faults) stands for "any fault".
type riskModel struct {
	regression.Model
	into []int
}

// adjust fills in the adjusted part of the table.
func adjust(ctx context.Context, c *cohort.Cohort, m Maturity, o Options, table *FaultTable) {
	table.Model = ModelNote{Method: adjustedMethod, Replicates: o.Replicates, Seed: o.Seed, Terms: []string{}, Warnings: []string{}}
	if o.Replicates <= 0 {
		table.refuseModel(notAsked)
		return
	}
	d, notes := newDesign(c, m, modelOptions{faults: true, time: true})
	w := d.Whole()
	base, err := d.Fit(regression.Columns{Exposures: true}, w, nil)
	table.Model.describe(d, base, w, notes)
	if err != nil {
		table.refuseModel(Refusal(err))
		return
	}
	asked := questions(d, base, w, m, table, true, nil, o.Workers)
	models := make([]regression.Model, len(asked))
	for i, a := range asked {
		models[i] = a.Model
	}
	points, all := answers(models)
	if points == nil {
		return
	}
	uncertainty, ofAll := uncertainties(models, o.Workers)
	remakes := int(w.Events())
	if remakes >= manyRemakes {
		table.Model.Replicates = 0
		table.Model.Method += ", " + regression.JackknifeMethod
		table.each(asked, func(k int, f *FaultFinding) { f.byFormula(points[k], uncertainty[k]) })
		table.AttributableToAll = adjustedBy(ofAll.Interval(all, table.MatureOrders, remakes))
	} else {
		width := 3*len(points) + 1
		reps := regression.Run(ctx, o.bootstrap(), width,
			func() *regression.Refitter { return regression.NewRefitter(d, models, nil) },
			func(r *regression.Refitter, rng *rand.Rand, out []float64) { r.Replicate(rng, out) })
		if reps == nil {
			table.refuseModel("the run was stopped before the bootstrap was through")
			return
		}
		table.each(asked, func(k int, f *FaultFinding) { f.byReplicates(points[k], reps[3*k:3*k+3], uncertainty[k]) })
		table.AttributableToAll = adjustedBy(ofAll.Widen(regression.Percentile(all, reps[width-1], table.MatureOrders, remakes)))
	}
	if len(models[0].Questions) == 0 {
		table.AttributableToAll = stats.Missing(table.MatureOrders, adjustedMethod, "too few to tell: no noted or counted fault is common enough for the model")
	}
	table.qValues()
	for f := range table.Faults {
		if w := unlikeDelays(c, c.Cut[f]); w != "" && table.Faults[f].AdjustedRD.Given() {
			table.Faults[f].AdjustedRD = table.Faults[f].AdjustedRD.Warn(w)
		}
	}
}

// answers are those of all models on the orders as they are, and the remakes
// that go with all exposures of the first.
func answers(models []regression.Model) (points []regression.Effect, all float64) {
	for k, m := range models {
		es, sum := m.Standardise()
		if k == 0 {
			all = sum
		}
		points = append(points, es...)
	}
	return points, all
}

// uncertainties are those of all answers, in their order, and of the remakes
// that go with all exposures of the first model.
func uncertainties(models []regression.Model, workers int) (of []regression.Uncertainty, all regression.Jackknife) {
	by := make([][]regression.Uncertainty, len(models))
	stats.Parallel(workers, len(models), func(i int) {
		l := regression.NewLinearization(models[i])
		es, _ := models[i].Standardise()
		for k, e := range es {
			by[i] = append(by[i], l.Uncertainty(k, e))
		}
		if i == 0 && len(es) > 0 {
			all = l.UncertaintyOfAll()
		}
	})
	for _, u := range by {
		of = append(of, u...)
	}
	return of, all
}

// each calls do with the number of each question and the finding it is about.
func (table *FaultTable) each(models []riskModel, do func(k int, f *FaultFinding)) {
	k := 0
	for _, mo := range models {
		for _, f := range mo.into {
			do(k, table.finding(f))
			k++
		}
	}
}

func (table *FaultTable) finding(f int) *FaultFinding {
	if f == len(table.Faults) {
		return &table.AnyFault
	}
	return &table.Faults[f]
}

func (table *FaultTable) refuseModel(why string) {
	for f := range table.Faults {
		table.Faults[f].withoutModel(why)
	}
	table.AnyFault.withoutModel(why)
	table.AttributableToAll = stats.Missing(table.MatureOrders, adjustedMethod, why)
	if why != notAsked {
		table.Model.Warnings = append(table.Model.Warnings, why)
	}
}

func (n *ModelNote) describe(d *regression.Design, f *regression.Fit, w regression.Weights, notes []string) {
	n.Orders, n.Patterns, n.Terms = len(d.Subject), d.Patterns(), d.Names
	n.Warnings = append(n.Warnings, notes...)
	n.Horizon = d.Horizon()
	if n.Horizon < Horizon {
		n.Warnings = append(n.Warnings, fmt.Sprintf("no order has been followed for %d days yet: risks are those of the first %d days", Horizon, n.Horizon))
	}
	n.Remakes = int(math.Round(w.Events()))
	if f.Firth {
		n.Method += ", Firth penalised likelihood"
		n.Warnings = append(n.Warnings, "few remakes for the number of terms, or a fault with no or only remakes: the model is penalised (Firth)")
	}
}

// questions are the models and what is asked of them: all noted and counted
// faults in one, each fault read off the numbers added alone to the first, and, if
// asked for, "any fault" alone. near, if given, are models to start from.
func questions(d *regression.Design, base *regression.Fit, w regression.Weights, m Maturity, table *FaultTable, withAny bool, near Fits, workers int) []riskModel {
	joint := riskModel{Model: regression.Model{Fit: base}}
	type addition struct {
		into    int
		columns regression.Columns
	}
	var alone []addition
	for f, fault := range form.Faults {
		levels := d.Levels(f)
		why := tooFewForModel(levels, w)
		switch {
		case why != "":
			table.Faults[f].withoutModel(why)
		case fault.Kind == form.Evident:
			alone = append(alone, addition{f, regression.Columns{Exposures: true, Added: levels}})
		default:
			joint.Questions, joint.into = append(joint.Questions, d.Question(f, m.Days)), append(joint.into, f)
		}
	}
	if withAny {
		levels := anyLevels(d)
		if why := tooFewForModel(levels, w); why != "" {
			table.AnyFault.withoutModel(why)
		} else {
			alone = append(alone, addition{len(form.Faults), regression.Columns{Added: levels}})
		}
	}
	fits, errs := make([]*regression.Fit, len(alone)), make([]error, len(alone))
	stats.Parallel(workers, len(alone), func(k int) {
		start := near.of(alone[k].into)
		if start == nil && alone[k].columns.Exposures {
			start = base
		}
		fits[k], errs[k] = d.Fit(alone[k].columns, w, start)
	})
	models := []riskModel{joint}
	for k, x := range alone {
		if errs[k] != nil {
			table.finding(x.into).withoutModel(Refusal(errs[k]))
			continue
		}
		models = append(models, riskModel{regression.Model{Fit: fits[k], Questions: []regression.Question{fits[k].AddedQuestion(m.Days)}}, []int{x.into}})
	}
	return models
}

// anyLevels are the levels of "at least one noted or counted fault".
func anyLevels(d *regression.Design) []regression.Level {
	levels := make([]regression.Level, d.Patterns())
	for f, fault := range form.Faults {
		if fault.Kind == form.Evident {
			continue
		}
		for i, l := range d.Levels(f) {
			switch {
			case l == regression.With:
				levels[i] = regression.With
			case l == regression.Unknown && levels[i] != regression.With:
				levels[i] = regression.Unknown
			}
		}
	}
	return levels
}

// byReplicates sets a finding's adjusted fields; values are those of
// difference, ratio and remakes in each replicate.
func (f *FaultFinding) byReplicates(e regression.Effect, values [][]float64, u regression.Uncertainty) {
	n := f.With + f.Without
	f.AdjustedRD = adjustedBy(u.Difference.Widen(regression.BCa(e.Difference(), values[0], u.Difference.Lean(), n, u.Fewest)))
	ratio := regression.BCa(e.Ratio(), values[1], u.LogRatio.Lean(), n, u.Fewest)
	f.AdjustedRR = adjustedBy(u.LogRatio.Widen(ratio.Map(math.Log)).Map(math.Exp))
	f.Attributable = adjustedBy(u.Events.Widen(regression.Percentile(e.Events, values[2], n, u.Fewest)))
	f.tested(e, max(1, u.Difference.Wider)*regression.Spread(values[0]))
}

// byFormula does the same by the jackknife.
func (f *FaultFinding) byFormula(e regression.Effect, u regression.Uncertainty) {
	n := f.With + f.Without
	f.AdjustedRD = adjustedBy(u.Difference.Interval(e.Difference(), n, u.Fewest))
	f.AdjustedRR = adjustedBy(u.LogRatio.Interval(math.Log(e.Ratio()), n, u.Fewest)).Map(math.Exp)
	f.Attributable = adjustedBy(u.Events.Interval(e.Events, n, u.Fewest))
	f.tested(e, u.Difference.SE)
}

// adjustedBy puts the name of the model before that of the interval.
func adjustedBy(e stats.Estimate) stats.Estimate {
	e.Method = adjustedMethod + ", " + e.Method
	return e
}

// tested sets what follows from the adjusted difference, its standard error
// and the ratio.
func (f *FaultFinding) tested(e regression.Effect, se float64) {
	f.EValue = stats.EValue(f.AdjustedRR)
	f.AdjustedP, f.AdjustedQ = stats.Value(math.NaN()), stats.Value(math.NaN())
	if se > 0 {
		f.AdjustedP = stats.Value(2 * distuv.UnitNormal.CDF(-math.Abs(e.Difference())/se))
	}
}

// qValues sets the adjusted q values and says which faults are findings.
func (table *FaultTable) qValues() {
	table.across(func(f *FaultFinding) *stats.Value { return &f.AdjustedP }, func(f *FaultFinding) *stats.Value { return &f.AdjustedQ })
	for f := range table.Faults {
		x := &table.Faults[f]
		x.Finding = x.AdjustedQ <= FindingLevel && x.AdjustedRD.Low > 0
	}
}
