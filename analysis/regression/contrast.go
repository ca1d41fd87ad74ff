package regression

import (
	"slices"

	"lastroom/analysis/stats"
)

// Restate gives the same subjects and columns with other levels of the
// exposures: what would be said of a subject that had them. levels are of
// exposure e in a subject, by its own number. Only [Linearization.Contrast] may
// ask about it: its weights are not those of a fit.
func (d *Design) Restate(level func(e, subject int) Level) *Design {
	s := *d
	s.from, s.base, s.all, s.col, s.val, s.age = nil, nil, nil, nil, nil, nil
	s.slot, s.level = make([]int32, len(d.slot)), make([][]Level, len(d.level))
	seen := map[[2]uint64]int32{}
	levels := make([]Level, len(d.level))
	for k, slot := range d.slot {
		p, exposed := slot/2, uint64(0)
		for e := range levels {
			levels[e] = level(e, int(d.Subject[k]))
			exposed = exposed<<3 | uint64(levels[e])
		}
		key := [2]uint64{uint64(p), exposed}
		n, ok := seen[key]
		if !ok {
			n = int32(len(s.from))
			seen[key] = n
			s.from = append(s.from, int32(len(s.col)))
			s.col, s.val = append(s.col, d.col[d.from[p]:d.base[p]]...), append(s.val, d.val[d.from[p]:d.base[p]]...)
			s.base = append(s.base, int32(len(s.col)))
			s.addExposures(levels)
			s.age = append(s.age, d.age[p])
		}
		s.slot[k] = 2*n + slot%2
	}
	return &s
}

// A Contrast is a mean over some subjects, and the influence of each cluster on
// it.
type Contrast struct {
	Mean      float64
	Influence []float64
	Wider     float64 // [Jackknife.Wider]
}

// Jackknife is the contrast's uncertainty.
func (c Contrast) Jackknife() Jackknife {
	return jackknifeOf(c.Influence).widened(max(1, c.Wider))
}

// Contrast is the mean fall of the fitted risk when exposures are taken off part
// of the subjects, all else as it is; with off nil, the mean of what that part's
// risk is itself. The subjects are as d says ([Design.Restate] of the design that
// the model was fitted on). in are those that the mean is over, on those on whom
// every exposure in off is put from With to Clean; both by place among those
// that are in the design.
//
// It is the g-formula for a policy that treats part of a population (Hernan MA,
// Robins JM, Causal Inference: What If, ch. 13), its influence that of the
// estimates and of each cluster's own subjects.
func (t *Linearization) Contrast(d *Design, in, on func(k int) bool, off []bool) Contrast {
	f := t.fit
	at := *f
	at.d, at.ends = d, d.base
	if f.columns.Exposures {
		at.ends = d.all
	}
	weight, n := make([]float64, d.Patterns()), 0.0
	for k := range d.slot {
		if !in(k) {
			continue
		}
		n++
		if on(k) {
			weight[d.Pattern(k)]++
		}
	}
	value, by := make([]float64, d.Patterns()), make([]float64, f.p)
	x, cols := make([]float64, f.p), make([]int, 0, f.p)
	var out Contrast
	for i, w := range weight {
		if w == 0 {
			continue
		}
		eta := at.linear(i)
		bare, r := eta, stats.Logistic(eta)
		for e, take := range off {
			if c := d.withCol[e]; take && c >= 0 && d.level[e][i] == With {
				bare -= f.Coef[c]
			}
		}
		b, slope, slopeBare := 0.0, w/n*r*(1-r), 0.0
		if off != nil {
			b = stats.Logistic(bare)
			slopeBare = w / n * b * (1 - b)
		}
		value[i] = r - b
		out.Mean += w * value[i] / n
		cols = at.dense(i, x, cols)
		for _, c := range cols {
			by[c] += x[c] * (slope - slopeBare)
		}
		for e, take := range off {
			if c := d.withCol[e]; take && c >= 0 && d.level[e][i] == With {
				by[c] += slopeBare // the bare risk does not have it
			}
		}
	}
	through := t.influence(by, nil)
	u := slices.Clone(through)
	for k := range u {
		if !in(k) {
			continue
		}
		u[k] -= out.Mean / n
		if on(k) {
			u[k] += value[d.Pattern(k)] / n
		}
	}
	out.Influence, out.Wider = d.byCluster(u), d.wider(u, through)
	return out
}
