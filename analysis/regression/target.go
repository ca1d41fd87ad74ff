package regression

import (
	"math"

	"lastroom/analysis/stats"
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
	linear := g.d.rows(g.t.fit.columns).times(coef)
	out := make([]float64, g.d.Patterns())
	for i := range out {
		eta := linear.at(i)
		out[i] = stats.Logistic(eta) - stats.Logistic(eta-g.taken(i, coef))
	}
	return out
}

// taken is what the exposures to take off add to a pattern's x b.
func (g *Targeting) taken(pattern int, b []float64) (sum float64) {
	for e, take := range g.off {
		if c := g.d.withCol[e]; take && c >= 0 && g.d.level[e][pattern] == With {
			sum += b[c]
		}
	}
	return sum
}

// Optimism is, for each least fall, how much more the mean fall seems to be that
// comes of taking the exposures off all who reach it than it is: they are picked by
// a model of the other parts of the clusters, and looked at in the part left out,
// in the mean over all parts. part gives the part of each cluster, of so many. A
// pick by all clusters is less optimistic in proportion.
func (g *Targeting) Optimism(parts int, part []int, least []float64) []float64 {
	f, at := g.t.fit, g.d.rows(g.t.fit.columns)
	linear := at.times(f.Coef)
	influence := g.t.onCoefs(g.d)
	out := make([]float64, len(least))
	patterns := g.d.Patterns()
	all, others := make([]float64, patterns), make([]float64, patterns)
	many, total := float64(parts), 0.0
	for k, in := range g.subject {
		if in {
			all[g.d.Pattern(k)]++
		}
	}
	for apart := range parts {
		weight := func(c int32) float64 {
			if part[c] == apart {
				return 0
			}
			return many / (many - 1)
		}
		moved, there := make([]float64, len(influence)), append([]float64{}, f.Coef...)
		for j, by := range influence {
			for c, v := range by {
				moved[j] += (weight(int32(c)) - 1) * v
			}
			there[j] += moved[j]
		}
		clear(others)
		total = 0
		for k, in := range g.subject {
			if in {
				others[g.d.Pattern(k)] += weight(g.d.Cluster[k])
				total += weight(g.d.Cluster[k])
			}
		}
		picked, along := g.falls(there), at.times(moved)
		for i, n := range all {
			if n == 0 {
				continue
			}
			eta, by := linear.at(i), along.at(i)
			r, b := stats.Logistic(eta), stats.Logistic(eta-g.taken(i, f.Coef))
			change := r*(1-r)*by - b*(1-b)*(by-g.taken(i, moved))
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

// onCoefs is the influence of each cluster on each estimate.
func (t *Linearization) onCoefs(d *Design) [][]float64 {
	out := make([][]float64, t.fit.p)
	for j := range out {
		one := make([]float64, t.fit.p)
		one[j] = 1
		out[j] = d.byCluster(t.influence(one, nil))
	}
	return out
}
