package regression

import (
	"slices"

	"lastroom/analysis/stats"
)

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
	at := d.rows(f.columns)
	linear := at.Times(f.Coef)
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
	value, by := make([]float64, d.Patterns()), make([]float64, f.sums.P)
	x, cols := make([]float64, f.sums.P), make([]int, 0, f.sums.P)
	var out Contrast
	for i, w := range weight {
		if w == 0 {
			continue
		}
		eta := linear.At(i)
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
		cols = at.Dense(i, x, cols)
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
