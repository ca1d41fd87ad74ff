package sensitivity

import (
	"context"
	"fmt"
	"slices"
	"sync/atomic"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// rule says when the complete cases and the other figures are said to disagree.
const rule = "filled in and complete cases disagree where one 95 % interval leaves out 0 and the other does not, or where the figure with the blanks filled in lies outside the interval of the complete cases; the worst case could turn a difference where its interval leaves out 0 as counted and holds it in the worst case"

const imputedMethod = "standardised risk difference, joint model of faults and descriptors, faults not judged filled in by multiple imputation (chained logistic models: order, channel, measurer, month, outcome, other faults), Rubin's rules with Barnard and Rubin's degrees of freedom"

const completeMethod = "standardised risk difference, joint model of faults and descriptors, forms on which the fault was judged, infinitesimal jackknife by customer and measurer"

// UnjudgedOptions of [Unjudged]. The zero value is the default.
type UnjudgedOptions struct {
	Seed    uint64
	Workers int
	// BoundsOnly leaves the imputation out.
	BoundsOnly bool
	Progress   func(done, total int)

	imputations int // 0: as many as the share of blanks asks for
}

// A Blanks says how far faults that nobody could judge could move the findings.
type Blanks struct {
	AsOf         cohort.Day       `json:"as_of"`
	Maturity     remakes.Maturity `json:"maturity"`
	MatureOrders int              `json:"mature_orders"`
	Imputations  int              `json:"imputations"` // 0: none were made
	Cycles       int              `json:"cycles"`
	Seed         uint64           `json:"seed"`
	Rule         string           `json:"rule"`
	Faults       []Blank          `json:"faults"`
	Words        []string         `json:"words"`
	Warnings     []string         `json:"warnings"`
}

// A Blank is a fault that was not judged on every form at risk.
type Blank struct {
	Fault              string         `json:"fault"`
	Title              string         `json:"title"`
	AtRisk             int            `json:"at_risk"`
	Unknown            int            `json:"unknown"`
	UnknownAmongRemade stats.Estimate `json:"unknown_among_remade"`
	UnknownAmongKept   stats.Estimate `json:"unknown_among_kept"`
	// Counted is the difference on the complete cases as counted, Bounds where it
	// lies whatever the others were.
	Counted stats.Estimate `json:"risk_difference"`
	Bounds  Bounds         `json:"worst_case"`
	// Complete is the adjusted difference where the fault is known, Imputed with
	// the blanks of all faults filled in. Missing is the fraction of the
	// information on it that went with the blanks.
	Complete stats.Estimate `json:"adjusted_risk_difference"`
	Imputed  stats.Estimate `json:"imputed_risk_difference"`
	Missing  stats.Value    `json:"missing_information"`
	// Disagree and WorstCaseTurns are by rule; Words say so.
	Disagree       bool   `json:"disagree"`
	WorstCaseTurns bool   `json:"worst_case_turns"`
	Words          string `json:"words"`
	// Orders are those on which it is not known; see [remakes.Behind].
	Orders []string `json:"-" cbor:"orders"`
}

// Unjudged holds the fault table's complete cases against the worst case and,
// unless left out, against multiple imputation under the assumption that blanks
// are at random given order, channel, measurer, month, outcome and the other
// faults.
func Unjudged(ctx context.Context, c *cohort.Cohort, table remakes.FaultTable, o UnjudgedOptions) Blanks {
	b := Blanks{
		AsOf: c.AsOf, Maturity: table.Maturity, MatureOrders: table.MatureOrders, Seed: o.Seed, Rule: rule,
		Faults: []Blank{}, Words: []string{}, Warnings: []string{},
	}
	var faults []int
	for f, x := range table.Faults {
		if x.Unknown > 0 {
			faults = append(faults, f)
			b.Faults = append(b.Faults, blankOf(x))
		}
	}
	if len(faults) == 0 {
		b.Words = append(b.Words, "Every fault could be judged on every form at risk of it.")
		return b
	}
	if !o.BoundsOnly {
		b.impute(ctx, c, table.Maturity, faults, o)
	}
	for k := range b.Faults {
		b.Faults[k].judge()
		if w := b.Faults[k].Words; w != "" {
			b.Words = append(b.Words, form.Capitalised(b.Faults[k].Title)+": "+w+".")
		}
	}
	if len(b.Words) == 0 {
		b.Words = append(b.Words, "No figure turns by the rule below.")
	}
	return b
}

func blankOf(x remakes.FaultFinding) Blank {
	t := stats.TwoByTwo{A: x.RemadeWith, B: x.With - x.RemadeWith, C: x.RemadeWithout, D: x.Without - x.RemadeWithout}
	const notMade = "not asked for in this run"
	return Blank{
		Fault: x.Fault, Title: x.Title, AtRisk: x.AtRisk, Unknown: x.Unknown,
		UnknownAmongRemade: x.UnknownAmongRemade, UnknownAmongKept: x.UnknownAmongKept,
		Counted: x.RiskDifference, Bounds: worstCase(t, x.RemadeUnknown, x.Unknown-x.RemadeUnknown),
		Complete: x.AdjustedRD, Imputed: stats.Missing(x.AtRisk, imputedMethod, notMade), Missing: nan, Orders: x.UnknownOrders,
	}
}

// impute sets what multiple imputation gives. As far as the blanks' figure is
// another than that of the complete cases by the same formula, it is moved and
// widened from the fault table's: only the blanks may make the two differ.
func (b *Blanks) impute(ctx context.Context, c *cohort.Cohort, m remakes.Maturity, faults []int, o UnjudgedOptions) {
	fill := newFiller(c, m)
	times := fill.imputations()
	if o.imputations > 0 {
		times = o.imputations
	}
	imputed := fill.imputed(ctx, times, o.Seed, o.Workers, o.Progress)
	if imputed == nil {
		b.Warnings = append(b.Warnings, "the run was stopped before the imputations were through")
		return
	}
	b.Imputations, b.Cycles = times, cycles
	j := remakes.NewJoint(c, m)
	complete, _ := j.Effects(j.Design.Whole(), nil, o.Workers)
	for k, f := range faults {
		x := &b.Faults[k]
		known := x.AtRisk - x.Unknown
		alone := stats.Missing(known, completeMethod, complete[f].Why)
		if complete[f].Why == "" {
			alone = complete[f].Difference.Interval(complete[f].Effect.Difference(), known, complete[f].Fewest)
			alone.Method = completeMethod
		}
		x.Imputed, x.Missing = carried(x.Complete, alone, imputed[f].estimate), stats.Value(imputed[f].missing)
		x.Imputed.N = x.AtRisk
		if !x.Complete.Given() {
			x.Complete = alone
		}
	}
}

// judge applies rule.
func (x *Blank) judge() {
	if from := sideOf(x.Counted); x.Bounds.Given() && (from == above && x.Bounds.IntervalLow <= 0 || from == below && x.Bounds.IntervalHigh >= 0) {
		x.WorstCaseTurns = true
		worst, far, end := x.Bounds.Low, x.Bounds.IntervalLow, "from"
		if from == below {
			worst, far, end = x.Bounds.High, x.Bounds.IntervalHigh, "up to"
		}
		x.Words = fmt.Sprintf("not judged on %d of %d forms; if those were all as bad for the finding as can be, the difference as counted would be %s per 100 (95 %% interval %s %s), not %s",
			x.Unknown, x.AtRisk, per100(float64(worst)), end, per100(float64(far)), per100(x.Counted.Point))
	}
	complete, filled := sideOf(x.Complete), sideOf(x.Imputed)
	if complete < 0 || filled < 0 {
		return
	}
	p := x.Imputed.Point
	x.Disagree = complete != filled || p < x.Complete.Low || p > x.Complete.High
	if !x.Disagree {
		return
	}
	words := fmt.Sprintf("with the %d forms that were not judged filled in (multiple imputation) the adjusted difference is %s per 100 (%s to %s), on those judged alone %s (%s to %s)",
		x.Unknown, per100(p), per100(x.Imputed.Low), per100(x.Imputed.High), per100(x.Complete.Point), per100(x.Complete.Low), per100(x.Complete.High))
	if x.Words != "" {
		words = x.Words + "; " + words
	}
	x.Words = words
}

// Warned is the table with findings that say where the blanks could turn them.
func (b Blanks) Warned(t remakes.FaultTable) remakes.FaultTable {
	t.Faults = slices.Clone(t.Faults)
	for k := range t.Faults {
		f := &t.Faults[k]
		i := slices.IndexFunc(b.Faults, func(x Blank) bool { return x.Fault == f.Fault })
		if i < 0 || b.Faults[i].Words == "" {
			continue
		}
		f.Warnings = append(f.Warnings[:len(f.Warnings):len(f.Warnings)], b.Faults[i].Words)
		f.Words.Certainty += " Caution: " + b.Faults[i].Words + "."
	}
	return t
}

// A counter tells of work done, from several goroutines.
type counter struct {
	done  atomic.Int64
	total int
	tell  func(done, total int)
}

func (c *counter) one() {
	if n := c.done.Add(1); c.tell != nil {
		c.tell(int(n), c.total)
	}
}
