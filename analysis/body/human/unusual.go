package human

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/form"
)

// An unusual is a kind of healthy people of whom the survey's log-Gaussian thinks
// too little: the law of good forms is a mixture of it and of these.
type unusual struct {
	share  float64
	ratio  Ratio      // whose
	wide   float64    // variance is this many times the survey's; 0: no ratio
	calfSD [2]float64 // mm by which one calf differs beyond the usual, by side
}

// unusuals are all of them. That there are such people is published; how many
// and how far is judged, so that few of them are questioned and few faults are
// missed for it.
//
//   - Wide or narrow feet, high or low heels for their length. Of the survey's
//     women 0.30 %, of its men 0.10 % have a measure more than 4 conditional SDs
//     off, where the log-Gaussian has 0.04 % (benchmark, section 2).
//   - One calf thinner or thicker. 6 of 101 people differed by 10 mm or more
//     (Stein 1995, Chest 107); a normal difference of SD 4 mm has 1.2 %.
var unusuals = [...]unusual{
	{share: 0.1, ratio: Ratio{form.Ball, form.Length}, wide: 4},
	{share: 0.05, ratio: Ratio{form.Heel, form.Length}, wide: 4},
	{share: 0.025, calfSD: [2]float64{form.Left: 9}},
	{share: 0.025, calfSD: [2]float64{form.Right: 9}},
}

// usualShare is the share of the others.
var usualShare = func() float64 {
	left := 1.0
	for _, u := range unusuals {
		left -= u.share
	}
	return left
}()

// of is the world of such people.
func (u unusual) of(w *World) *World {
	out, fig := *w, *w.Figures
	if u.wide > 0 {
		num, den := Feature(form.Scheme{}, u.ratio.Num), Feature(form.Scheme{}, u.ratio.Den)
		var along [FeatureCount]float64 // covariance with the logarithm of the ratio
		for i := range along {
			along[i] = fig.cov[i][num] - fig.cov[i][den]
		}
		v := along[num] - along[den]
		for i := range fig.cov {
			for j := range fig.cov[i] {
				fig.cov[i][j] += (u.wide - 1) * along[i] * along[j] / v
			}
		}
	}
	out.Figures, out.Core = &fig, CoreMoments(&fig, &w.Measuring, w.Step)
	for side, sd := range u.calfSD {
		i := side*FeatureCount + AtCalf
		out.Core.bodyCov[i][i] += math.Pow(sd/out.Core.body[i], 2)
		out.Core.Cov[i][i] += math.Pow(sd/out.Core.Written[i], 2)
	}
	return &out
}

// AddUnusual adds the unusual people to the law of numbers with these terms in
// w. Where the last terms are known to have logarithms l, it is the law given
// them, as Given has it; false where it can't be worked out.
func (g *Gauss) AddUnusual(w *World, terms []Term, l []float64) bool {
	for _, u := range unusuals {
		other := u.of(w)
		theirs := make([]Term, len(terms))
		for i, t := range terms {
			theirs[i] = other.Term(t.Coord)
			theirs[i].Form, theirs[i].Years = t.Form, t.Years
		}
		o := Given(other, theirs, l)
		if o == nil {
			return false
		}
		g.unusual = append(g.unusual, o)
	}
	return true
}

// Law is the log density of good forms, of all kinds of people, at l; logP is
// that of the usual ones, which Weigh gives. r is scratch space.
func (g *Gauss) Law(l, r []float64, logP float64) float64 {
	if len(g.unusual) == 0 {
		return logP
	}
	var parts [len(unusuals) + 1]float64
	for k, o := range g.unusual {
		parts[k] = math.Log(unusuals[k].share) + o.LogDensity(l, r)
	}
	parts[len(unusuals)] = math.Log(usualShare) + logP
	return floats.LogSumExp(parts[:])
}
