package risk

import (
	"math"

	"lastroom/analysis/cohort"
)

// FallsOfFirst are, by row of a cohort, how much lower the risk would be with the
// faults of the order's first form mended, seen from the day it came: what a
// call-back about it would be for. The alarm score is known of the form cut from
// alone, so of a first form that was not cut from it is not judged.
func (l *Learnt) FallsOfFirst(c *cohort.Cohort) []float64 {
	out := make([]float64, c.Len())
	for i, x := range CasesOf(c) {
		first := *x
		first.Cut = x.First
		if c.CutNo[i] != 1 {
			first.Alarm = math.NaN()
		}
		if mended, changed := l.Mended(&first); changed {
			out[i] = l.Model.risk(&first) - l.Model.risk(mended)
		}
	}
	return out
}
