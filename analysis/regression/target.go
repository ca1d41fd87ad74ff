package regression

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// A Targeting is what it would bring to take some exposures off single subjects:
// those whose risk falls most by it. Who they are is read off the same model that
// says what it brings, so the figure flatters itself; [Targeting.Optimism] says by
// how much.
type Targeting struct {
	t       *Linearization
	d       *Design
	off     []bool
	subject []bool    // per subject: among those that means are over
	n       float64   // how many those are
	fall    []float64 // per pattern
}

// Target works out the falls. The subjects are as d says ([Design.Restate] of the
// design that the model was fitted on).
func (t *Linearization) Target(d *Design, in func(k int) bool, off []bool) *Targeting {
	g := &Targeting{t: t, d: d, off: off, subject: make([]bool, len(d.slot))}
	for k := range d.slot {
		if g.subject[k] = in(k); g.subject[k] {
			g.n++
		}
	}
	g.fall = g.falls(t.fit.Coef)
	return g
}

// Fall is what the k-th subject's risk falls by.
func (g *Targeting) Fall(k int) float64 { return g.fall[g.d.Pattern(k)] }

// falls are by pattern, at some estimates.
func (g *Targeting) falls(coef []float64) []float64 {
	with, without := g.risks(coef)
	for i, b := range without {
		with[i] -= b
	}
	return with
}

// risks are by pattern, at some estimates: as it is, and with the exposures taken off.
func (g *Targeting) risks(coef []float64) (with, without []float64) {
	x, all := g.d.rows(g.t.fit.columns), g.d.patterns()
	with, without = make([]float64, len(all)), make([]float64, len(all))
	x.Odds(coef, all, with)
	x.Odds(g.untaken(coef), all, without)
	for i, odds := range with {
		with[i], without[i] = odds/(1+odds), without[i]/(1+without[i])
	}
	return with, without
}

// untaken is a vector, one number a column, without what is in the columns of the
// exposures to take off.
func (g *Targeting) untaken(b []float64) []float64 {
	b = slices.Clone(b)
	for e, take := range g.off {
		if c := g.d.withCol[e]; take && c >= 0 {
			b[c] = 0
		}
	}
	return b
}

// Optimism is, for each least fall, how much more the mean fall seems to be that
// comes of taking the exposures off all who reach it than it is: they are picked by
// a model of the other parts of the clusters, and looked at in the part left out,
// in the mean over all parts. part gives the part of each cluster, of so many. A
// pick by all clusters is less optimistic in proportion.
func (g *Targeting) Optimism(parts int, part []int, least []float64) []float64 {
	at, mover := g.d.rows(g.t.fit.columns), g.t.mover()
	with, without := g.risks(g.t.fit.Coef)
	out := make([]float64, len(least))
	patterns := g.d.Patterns()
	all, others, weights := make([]float64, patterns), make([]float64, patterns), make([]float64, g.d.Clusters)
	many, total := float64(parts), 0.0
	for k, in := range g.subject {
		if in {
			all[g.d.Pattern(k)]++
		}
	}
	for apart := range parts {
		for c, in := range part {
			weights[c] = many / (many - 1)
			if in == apart {
				weights[c] = 0
			}
		}
		moved := mover.moved(weights)
		there := slices.Clone(g.t.fit.Coef)
		floats.Add(there, moved)
		clear(others)
		total = 0
		for k, in := range g.subject {
			if in {
				others[g.d.Pattern(k)] += weights[g.d.Cluster[k]]
				total += weights[g.d.Cluster[k]]
			}
		}
		picked, by, bare := g.falls(there), at.Times(moved), at.Times(g.untaken(moved))
		for i, n := range all {
			if n == 0 {
				continue
			}
			r, b := with[i], without[i]
			change := r*(1-r)*by.At(i) - b*(1-b)*bare.At(i)
			whole := n * (r - b)
			seen := others[i]*(r-b) + n*change
			// What weights do is linear in them: the part left out is what the
			// whole has over the others.
			here := many*whole - (many-1)*seen
			for h, fall := range least {
				if picked[i] >= fall {
					out[h] += seen/total - here/(many*g.n-(many-1)*total)
				}
			}
		}
	}
	for h := range out {
		out[h] = math.Max(0, out[h]/many*(many-1)/many)
	}
	return out
}
