package regression

import (
	"math"
	"math/bits"
	"slices"

	"lastroom/analysis/stats"
)

// Policies are what any choice would bring of whom to rid of which exposures. The
// subjects stand in groups; of each group any set of its exposures may be taken
// off, which is one entry of a table of falls ([Falls]). A policy names one entry
// a group, so its worth is a sum over the table, and thousands of policies can be
// compared without going to the subjects again.
//
// Close to the estimates all falls move along a straight line with them, so the
// table of a resample follows from the influences of the clusters drawn
// ([Policies.Falls]), and so does a part of the sample held against the rest.
type Policies struct {
	Off   []uint32 // by group: the exposures that its subjects have and the model knows, a bit each
	First []int32  // by group: where its entries begin; one a set of its exposures, [Policies.Entry]

	t     *Linearization
	d     *Design
	n     float64 // subjects that means are over
	group []int32 // per subject: its group; inNone, outside
	cell  []int32 // per subject in a group: where the falls of its pattern begin in own
	own   []float64
	by    [][]float64 // per entry: how the sum of the falls moves with the estimates
	mover *mover
}

// What a subject is that is in no group.
const (
	InNone  = -1 // among those that means are over, and never treated
	Outside = -2
)

// Falls is a table of falls: Count subjects in each group, and the sum of the
// falls of their risk for each entry, with Total subjects in all.
type Falls struct {
	Total       float64
	Count, Fall []float64
}

// Policies lays out the table. The subjects are as d says ([Design.Restate] of
// the design that the model was fitted on); group gives the group of the k-th of
// them, of so many, or [InNone] or [Outside].
func (t *Linearization) Policies(d *Design, groups int, group func(k int) int) *Policies {
	p := &Policies{t: t, d: d, Off: make([]uint32, groups), First: make([]int32, groups), group: make([]int32, len(d.slot)), cell: make([]int32, len(d.slot))}
	for k := range d.slot {
		g := group(k)
		p.group[k] = int32(g)
		if g != Outside {
			p.n++
		}
		if g >= 0 {
			p.Off[g] |= p.exposures(d.Pattern(k))
		}
	}
	entries := int32(0)
	for g, off := range p.Off {
		p.First[g] = entries
		entries += 1 << bits.OnesCount32(off)
	}
	p.by = make([][]float64, entries)
	for e := range p.by {
		p.by[e] = make([]float64, t.fit.sums.P)
	}
	p.fill()
	p.mover = t.mover()
	return p
}

// exposures of a pattern that the model has a column for.
func (p *Policies) exposures(pattern int) (off uint32) {
	for e, c := range p.d.withCol {
		if c >= 0 && p.d.level[e][pattern] == With {
			off |= 1 << e
		}
	}
	return off
}

// Entry is where the set of exposures stands in the table, of a group; those that
// it has not are left out of account.
func (p *Policies) Entry(g int, off uint32) int { return int(p.First[g]) + compress(p.Off[g], off) }

// compress numbers the subsets of all from 0.
func compress(all, off uint32) (at int) {
	for k := 0; all != 0; k++ {
		if off&all&-all != 0 {
			at |= 1 << k
		}
		all &= all - 1
	}
	return at
}

// fill works out the falls of each pattern in each group, and how they move.
func (p *Policies) fill() {
	type pair struct{ pattern, group int32 }
	at := map[pair]int{}
	var pairs []pair
	var subjects []float64
	for k, g := range p.group {
		if g < 0 {
			continue
		}
		one := pair{int32(p.d.Pattern(k)), g}
		i, ok := at[one]
		if !ok {
			i = len(pairs)
			at[one] = i
			pairs, subjects = append(pairs, one), append(subjects, 0)
		}
		subjects[i]++
		p.cell[k] = int32(i)
	}
	f := p.t.fit
	restated := p.d.rows(f.columns)
	linear := restated.Times(f.Coef)
	x, cols, taken := make([]float64, f.sums.P), make([]int, 0, f.sums.P), make([]int, 0, len(p.d.withCol))
	first := make([]int32, len(pairs))
	for i, one := range pairs {
		first[i] = int32(len(p.own))
		pattern := int(one.pattern)
		eta := linear.At(pattern)
		r := stats.Logistic(eta)
		cols = restated.Dense(pattern, x, cols)
		for m := range 1 << bits.OnesCount32(p.Off[one.group]) {
			bare := eta
			taken = p.taken(one.group, m, pattern, taken)
			for _, c := range taken {
				bare -= f.Coef[c]
			}
			b := stats.Logistic(bare)
			p.own = append(p.own, r-b)
			if len(taken) == 0 {
				continue
			}
			by, slope, slopeBare := p.by[int(p.First[one.group])+m], subjects[i]*r*(1-r), subjects[i]*b*(1-b)
			for _, c := range cols {
				by[c] += x[c] * (slope - slopeBare)
			}
			for _, c := range taken {
				by[c] += slopeBare // the bare risk does not have it
			}
		}
	}
	for k, g := range p.group {
		if g >= 0 {
			p.cell[k] = first[p.cell[k]]
		}
	}
}

// taken are the columns of the exposures that entry m of group g takes off a
// pattern; cols is room for them.
func (p *Policies) taken(g int32, m, pattern int, cols []int) []int {
	all := p.Off[g]
	cols = cols[:0]
	for k := 0; all != 0; k++ {
		e := bits.TrailingZeros32(all)
		all &= all - 1
		if m>>k&1 == 1 && p.d.level[e][pattern] == With {
			cols = append(cols, p.d.withCol[e])
		}
	}
	return cols
}

// Clusters is how many weights [Policies.Falls] takes.
func (p *Policies) Clusters() int { return p.d.Clusters }

// Falls is the table where each cluster comes as often as weights say, estimates
// moved with them; nil for the sample as it is.
func (p *Policies) Falls(weights []float64) Falls {
	f := Falls{Count: make([]float64, len(p.Off)), Fall: make([]float64, len(p.by))}
	for k, g := range p.group {
		if g == Outside {
			continue
		}
		w := 1.0
		if weights != nil {
			w = weights[p.d.Cluster[k]]
		}
		f.Total += w
		if g < 0 || w == 0 {
			continue
		}
		f.Count[g] += w
		own, first := p.own[p.cell[k]:], p.First[g]
		for m := range 1 << bits.OnesCount32(p.Off[g]) {
			f.Fall[int(first)+m] += w * own[m]
		}
	}
	if weights == nil {
		return f
	}
	moved := p.mover.moved(weights)
	for e, by := range p.by {
		for j, v := range by {
			f.Fall[e] += v * moved[j]
		}
	}
	return f
}

// Contrast is the mean fall under the policy that takes entry(g) of each group,
// with its influences; see [Linearization.Contrast], whose answer it is where one
// set of exposures is taken off all. Fresh is the standard error of what other
// subjects of the same kind would add by being others, the model as it is.
func (p *Policies) Contrast(entry func(g int) int) (c Contrast, fresh float64) {
	by, own := make([]float64, p.t.fit.sums.P), make([]float64, len(p.group))
	for g := range p.Off {
		for j, v := range p.by[entry(g)] {
			by[j] += v / p.n
		}
	}
	for k, g := range p.group {
		if g >= 0 {
			own[k] = p.own[int(p.cell[k])+entry(int(g))-int(p.First[g])] / p.n
			c.Mean += own[k]
		}
	}
	through := p.t.influence(by, nil)
	u := slices.Clone(through)
	for k, g := range p.group {
		if g != Outside {
			own[k] -= c.Mean / p.n
			u[k] += own[k]
		}
	}
	c.Influence, c.Wider = p.d.byCluster(u), p.d.wider(u, through)
	for _, v := range p.d.byCluster(own) {
		fresh += v * v
	}
	return c, math.Sqrt(fresh)
}
