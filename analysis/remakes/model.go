package remakes

import (
	"errors"
	"fmt"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
)

// modelOptions choose what goes into a model besides the kind of boot.
type modelOptions struct {
	faults   bool              // noted and counted faults, those read off the numbers apart
	together bool              // those read off the numbers too
	time     bool              // trend and season of shipping
	months   bool              // the trend by month, not by quarter
	terms    []regression.Term // more of the caller's own
	// exposure is a question of the caller's own, without a column; nil for none.
	exposure func(i int) regression.Level
	// keep, if set, says which orders go in.
	keep func(i int) bool
}

// newDesign makes covariate patterns of the orders that were followed for 30
// days at least, and notes what was taken together.
func newDesign(c *cohort.Cohort, m Maturity, o modelOptions) (d *regression.Design, notes []string) {
	s := regression.Subjects{
		N:   c.Len(),
		Age: func(i int) int { return Age(c, i) },
		Event: func(i int) (int, bool) {
			if !Event(c, i) {
				return 0, false
			}
			if c.RemadeWithoutDay(i) {
				return regression.NoDay, true
			}
			return int(c.Remade[i] - c.Shipped[i]), true
		},
		Cluster: c.Customer, Second: whoMeasured(c), Keep: o.keep, Edges: ageEdges(m.Days),
	}
	terms := append(descriptors(c, o, &notes), o.terms...)
	var exposures []regression.Exposure
	if o.faults {
		for f, fault := range form.Faults {
			exposures = append(exposures, regression.Exposure{
				Name:  fault.ID,
				Level: func(i int) regression.Level { return exposureLevel(c.Cut[f][i], c.First[f][i]) },
				Apart: fault.Kind == form.Evident && !o.together,
			})
		}
	}
	if o.exposure != nil {
		exposures = append(exposures, regression.Exposure{Level: o.exposure, Apart: true})
	}
	return regression.NewDesign(s, terms, exposures), notes
}

// whoMeasured groups orders by the measurer of the form they were cut from. Where
// nobody is named, or measuring was done at home, each customer stands alone.
func whoMeasured(c *cohort.Cohort) []int32 {
	if len(c.Measurer.Levels) == 0 || len(c.MeasurerKind.Levels) == 0 {
		return nil // the book says nothing of who measured
	}
	codes := make([]int32, c.Len())
	for i, k := range c.Customer {
		codes[i] = c.Measurer.Code[i]
		if codes[i] == 0 || c.MeasurerKind.At(i) == "home" {
			codes[i] = int32(len(c.Measurer.Levels)) + k
		}
	}
	return codes
}

// ageEdges are the ages at which follow-up is cut: every 30 days, the day of
// maturity and the Horizon.
func ageEdges(mature int) []int {
	edges := []int{Horizon}
	for a := 30; a < Horizon; a += 30 {
		edges = append(edges, a)
	}
	if mature > 0 && mature < Horizon {
		edges = append(edges, mature)
	}
	slices.Sort(edges)
	return slices.Compact(edges)
}

// exposureLevel is the level of a fault on the form cut from; a call-back that
// mended it leaves it mended.
func exposureLevel(cut, first form.State) regression.Level {
	switch cut {
	case form.With:
		return regression.With
	case form.NotAtRisk:
		return regression.NotAtRisk
	case form.Without:
		if first == form.With {
			return regression.Mended
		}
		return regression.Clean
	}
	return regression.Unknown
}

// Refusal puts in words why there is no model.
func Refusal(err error) string {
	var few *regression.TooFewError
	switch {
	case err == nil:
		return ""
	case errors.As(err, &few) && few.Columns == 0:
		return fmt.Sprintf("too few to tell: %.0f of %.0f orders were remade", few.Events, few.Subjects)
	case errors.As(err, &few):
		return fmt.Sprintf("too few to tell: a model with %d terms needs about %.0f more remakes", few.Columns, few.Needed)
	}
	return "the model did not settle; more remakes are needed"
}

// tooFewForModel is the rule on orders and remakes, on the orders of the model.
func tooFewForModel(levels []regression.Level, w regression.Weights) string {
	return tooFewForRatio(w.Arms(levels))
}
