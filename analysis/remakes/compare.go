package remakes

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
)

const compareMethod = "standardised risk, kind of boot and time taken into account, robust standard error by customer"

// A Comparer compares groups of orders with the kind of boot, the wearer and
// time taken into account, but no faults: it serves questions that are about
// faults themselves, as an intake rule is.
type Comparer struct {
	d     *regression.Design
	start *regression.Fit // the model without a group; nil where there is none
}

// NewComparer makes one on the orders that keep says; nil keeps all.
func NewComparer(c *cohort.Cohort, m Maturity, keep func(i int) bool) *Comparer {
	d, _ := newDesign(c, m, modelOptions{time: true, keep: keep})
	k := &Comparer{d: d}
	if f, err := d.Fit(regression.Columns{}, d.Whole(), nil); err == nil {
		k.start = f
	}
	return k
}

// A Comparison is the difference and ratio of the standardised risks with the
// group on and off for all, and the two-sided p of the difference.
type Comparison struct {
	Difference, Ratio stats.Estimate
	P                 stats.Value
}

// Compare takes one state an order: With is in the group, Without is not;
// others stand aside (Unknown with a term of their own).
func (k *Comparer) Compare(state []form.State) Comparison {
	none := func(n int, why string) Comparison {
		e := stats.Missing(n, compareMethod, why)
		return Comparison{e, e, stats.Value(math.NaN())}
	}
	d, levels := k.d.Split(func(i int) regression.Level { return exposureLevel(state[i], form.Unknown) })
	w := d.Whole()
	arms := w.Arms(levels)
	if why := tooFewForModel(levels, w); why != "" {
		return none(arms.N(), why)
	}
	f, err := d.Fit(regression.Columns{Added: levels}, w, k.start)
	if err != nil {
		return none(arms.N(), Refusal(err))
	}
	model := regression.Model{Fit: f, Questions: []regression.Question{f.AddedQuestion(0)}}
	es, _ := model.Standardise()
	u := regression.NewLinearization(model).Uncertainty(0, es[0])
	return comparison(es[0], u.Difference.SE, u.LogRatio.SE, arms.N())
}

func comparison(e regression.Effect, se, seLog float64, n int) Comparison {
	z := stats.Z(level)
	r := Comparison{
		Difference: stats.Estimate{Point: e.Difference(), Low: e.Difference() - z*se, High: e.Difference() + z*se, Level: level, N: n, Method: compareMethod},
		Ratio:      stats.Estimate{Point: e.Ratio(), Low: e.Ratio() * math.Exp(-z*seLog), High: e.Ratio() * math.Exp(z*seLog), Level: level, N: n, Method: compareMethod},
		P:          stats.Value(math.NaN()),
	}
	if se > 0 {
		r.P = stats.Value(2 * distuv.UnitNormal.CDF(-math.Abs(e.Difference())/se))
	}
	return r
}
