package remakes

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
)

// A Joint is the fault table's adjusted part, open to outcomes that are weighed
// otherwise than reported (package sensitivity).
type Joint struct {
	Design *regression.Design
	m      Maturity
}

// A FaultEffect is a fault's adjusted effect, with the jackknife of its difference
// and the events in the smaller arm; Why says why there is none.
type FaultEffect struct {
	Effect     regression.Effect
	Difference regression.Jackknife
	Fewest     int
	Why        string
}

// NewJoint is that of the orders of a cohort.
func NewJoint(c *cohort.Cohort, m Maturity) *Joint {
	d, _ := newDesign(c, m, modelOptions{faults: true, time: true})
	return &Joint{d, m}
}

// Fits are the models behind effects. The effects of the same orders at other weights
// are found quicker from there.
type Fits []riskModel

// of is the model that fault f is asked of alone, nil for none.
func (fits Fits) of(f int) *regression.Fit {
	for k, m := range fits {
		if k > 0 && m.into[0] == f {
			return m.Fit
		}
	}
	return nil
}

// Effects are those of each fault of the catalogue, by the models that the fault
// table has them from; near, if given, are models to start from.
func (j *Joint) Effects(w regression.Weights, near Fits, workers int) ([]FaultEffect, Fits) {
	out := make([]FaultEffect, len(form.Faults))
	var start *regression.Fit
	if len(near) > 0 {
		start = near[0].Fit
	}
	base, err := j.Design.Fit(regression.Columns{Exposures: true}, w, start)
	if err != nil {
		for f := range out {
			out[f].Why = Refusal(err)
		}
		return out, nil
	}
	refused := FaultTable{Faults: make([]FaultFinding, len(form.Faults))}
	asked := questions(j.Design, base, w, j.m, &refused, false, near, workers)
	for f := range out {
		for _, why := range refused.Faults[f].AdjustedRD.Warnings {
			out[f].Why = why
		}
	}
	stats.Parallel(workers, len(asked), func(i int) {
		l := regression.NewLinearization(asked[i].Model)
		effects, _ := asked[i].Standardise()
		for k, e := range effects {
			x := FaultEffect{Effect: e}
			x.Difference, x.Fewest = l.Difference(k, e)
			out[asked[i].into[k]] = x
		}
	})
	return out, asked
}

// Covariates are what an order was, the month and who measured, for a model of
// something else than remakes.
func Covariates(c *cohort.Cohort) []regression.Term {
	var notes []string // nobody reads here what was taken together
	return append(descriptors(c, modelOptions{time: true, months: true}, &notes), factorTerms("measurer", c.Measurer, &notes))
}
