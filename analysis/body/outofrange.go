package body

import (
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// A rangeOf is one number (den < 0) or ratio of a form with the mean and SD of
// its logarithm as written.
type rangeOf struct {
	num, den int
	mean, sd float64
}

// formRanges lists the numbers and the main ratios of each foot for the core
// coordinates of a form.
func formRanges(w *human.World, coords []human.Coord) (out []rangeOf) {
	at := map[int]int{}
	for i, c := range coords {
		at[c.Core] = i
		out = append(out, rangeOf{i, -1, w.Core.Mean[c.Core], math.Sqrt(w.Measuring.Inflate * w.Core.Cov[c.Core][c.Core])})
	}
	for side := range 2 {
		for _, q := range human.Ratios {
			a := side*human.FeatureCount + human.Feature(form.Scheme{}, q.Num)
			b := side*human.FeatureCount + human.Feature(form.Scheme{}, q.Den)
			i, okA := at[a]
			j, okB := at[b]
			if !okA || !okB {
				continue
			}
			v := w.Core.Cov[a][a] + w.Core.Cov[b][b] - 2*w.Core.Cov[a][b]
			out = append(out, rangeOf{i, j, w.Core.Mean[a] - w.Core.Mean[b], math.Sqrt(w.Measuring.Inflate * v)})
		}
	}
	return out
}

// rangeScore is the largest distance of any number or ratio from the middle of
// its range, in SDs of the form model; with the sex unknown, each by the sex
// that it fits better. Its limit is set for the whole form.
func (lay *layout) rangeScore(l []float64) float64 {
	worst := 0.0
	for k := range lay.ranges[0] {
		best := math.Inf(1)
		for _, list := range lay.ranges {
			r := &list[k]
			x := l[r.num] - r.mean
			if r.den >= 0 {
				x -= l[r.den]
			}
			best = math.Min(best, math.Abs(x)/r.sd)
		}
		worst = math.Max(worst, best)
	}
	return worst
}
