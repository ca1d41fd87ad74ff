package human

import (
	"math"
	"sync"

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

// UnusualKinds is how many kinds there are; crowd.logDensities is written for it.
const UnusualKinds = 4

// unusuals are all of them. That there are such people is published; how many
// and how far is judged, so that few of them are questioned and few faults are
// missed for it.
//
//   - Wide or narrow feet, high or low heels for their length. Of the survey's
//     women 0.30 %, of its men 0.10 % have a measure more than 4 conditional SDs
//     off, where the log-Gaussian has 0.04 % (benchmark, section 2).
//   - One calf thinner or thicker. 6 of 101 people differed by 10 mm or more
//     (Stein 1995, Chest 107); a normal difference of SD 4 mm has 1.2 %.
var unusuals = [UnusualKinds]unusual{
	{share: 0.1, ratio: Ratio{form.Ball, form.Length}, wide: 4},
	{share: 0.05, ratio: Ratio{form.Heel, form.Length}, wide: 4},
	{share: 0.025, calfSD: [2]float64{form.Left: 9}},
	{share: 0.025, calfSD: [2]float64{form.Right: 9}},
}

// logUsual is the logarithm of the share of the others.
var logUsual = func() float64 {
	left := 1.0
	for _, u := range unusuals {
		left -= u.share
	}
	return math.Log(left)
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

// A crowd is the law of the people of unusuals, worked out side by side so that
// the processor need not wait for one sum before it adds to the next.
type crowd struct {
	mean [][UnusualKinds]float64
	prec [][UnusualKinds]float64 // lower triangles of the precisions, row by row, twice what is off the diagonal
	logC [UnusualKinds]float64   // with the share
}

// AddUnusual adds the unusual people to the law of numbers with these terms in
// w. Where the last terms are known to have logarithms l, it is the law given
// them, as Given has it. They are worked out when Law first asks for them, since
// LeastLaw is enough for most forms; where they can't be, the law goes without.
func (g *Gauss) AddUnusual(w *World, terms []Term, l []float64) {
	g.unusual = sync.OnceValue(func() *crowd { return newCrowd(g.N, w, terms, l) })
}

// newCrowd is nil where the law of a kind can't be worked out.
func newCrowd(n int, w *World, terms []Term, l []float64) *crowd {
	c := &crowd{mean: make([][UnusualKinds]float64, n), prec: make([][UnusualKinds]float64, n*(n+1)/2)}
	for k, u := range unusuals {
		other := u.of(w)
		theirs := make([]Term, len(terms))
		for i, t := range terms {
			theirs[i] = other.Term(t.Coord)
			theirs[i].Form, theirs[i].Years = t.Form, t.Years
		}
		o := Given(other, theirs, l)
		if o == nil {
			return nil
		}
		c.logC[k] = math.Log(u.share) + o.LogC
		at := 0
		for i := range n {
			c.mean[i][k] = o.Mean[i]
			for j := range i {
				c.prec[at+j][k] = 2 * o.Prec[i*n+j]
			}
			c.prec[at+i][k] = o.Prec[i*n+i]
			at += i + 1
		}
	}
	return c
}

// Law is the log density of good forms, of all kinds of people, at l; logP is
// that of the usual ones, which Weigh gives. moves is scratch space, N long.
func (g *Gauss) Law(l []float64, moves [][UnusualKinds]float64, logP float64) float64 {
	if g.unusual == nil {
		return logP
	}
	crowd := g.unusual()
	if crowd == nil {
		return logP
	}
	parts := crowd.logDensities(l, moves)
	usual := logUsual + logP
	top := usual
	for _, p := range parts {
		top = max(top, p)
	}
	sum := math.Exp(usual - top)
	for _, p := range parts {
		sum += math.Exp(p - top)
	}
	return top + math.Log(sum)
}

// LeastLaw is a bound that Law is never below, without the unusual people.
func LeastLaw(logP float64) float64 { return logUsual + logP }

// logDensities are the log densities of each kind at l, times their shares.
func (c *crowd) logDensities(l []float64, moves [][UnusualKinds]float64) (out [UnusualKinds]float64) {
	var q0, q1, q2, q3 float64
	at := 0
	for i, mean := range c.mean {
		x := l[i]
		m := [UnusualKinds]float64{x - mean[0], x - mean[1], x - mean[2], x - mean[3]}
		moves[i] = m
		row := c.prec[at : at+i+1]
		at += i + 1
		var s0, s1, s2, s3 float64
		for j := range row {
			r, m := &row[j], &moves[j]
			s0 += r[0] * m[0]
			s1 += r[1] * m[1]
			s2 += r[2] * m[2]
			s3 += r[3] * m[3]
		}
		q0 += m[0] * s0
		q1 += m[1] * s1
		q2 += m[2] * s2
		q3 += m[3] * s3
	}
	for k, q := range [UnusualKinds]float64{q0, q1, q2, q3} {
		out[k] = c.logC[k] - q/2
	}
	return out
}
