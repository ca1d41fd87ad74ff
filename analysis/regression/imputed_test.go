package regression

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

// smoking is the trial of tailored letters against smoking (Sutton and Gilbert
// 2007), those who smoked at the start: quit, not quit,
// not said, by arm, as printed with the help of White's rctmiss for Stata
// (github.com/UCL/rctmiss, testlogs/rctmiss_cscript.log, read).
func smoking(t *testing.T) (d *Design, c Columns, silent func(k int) float64) {
	var y, letter []float64
	var said []bool
	put := func(n int, quit, arm float64, heard bool) {
		for range n {
			y, letter, said = append(y, quit), append(letter, arm), append(said, heard)
		}
	}
	put(51, 1, 0, true)
	put(364, 0, 0, true)
	put(150, 0, 0, false)
	put(73, 1, 1, true)
	put(390, 0, 1, true)
	put(136, 0, 1, false)
	d, c = plain(t, y, letter)
	return d, c, func(k int) float64 {
		if said[d.Subject[k]] {
			return 0
		}
		return 1
	}
}

// imputed is the log odds ratio of the letters and its standard error.
func imputed(t *testing.T, odds float64) (logOdds, se float64) {
	d, c, silent := smoking(t)
	spoken, err := d.Fit(c, d.Only(func(k int) float64 { return 1 - silent(k) }), nil)
	require.NoError(t, err)
	m := d.Impute(NewLinearization(Model{Fit: spoken}), silent, func(int) float64 { return odds })
	f, err := d.Fit(c, m.Weights(), nil)
	require.NoError(t, err)
	j := d.withCol[0]
	by := make([]float64, f.sums.P)
	by[j] = 1
	return f.Coef[j], jackknifeOf(d.byCluster(NewLinearization(Model{Fit: f}).influence(by, nil))).SE
}

// The same file prints the odds ratio with silence taken for smoking: 1.398718,
// standard error 0.2697208 by its full sandwich, which has n/(n-1) for 1,164
// persons.
func TestSilenceAsNoEvent(t *testing.T) {
	b, se := imputed(t, 0)
	assert.InDelta(t, 1.398718, math.Exp(b), 5e-7)
	assert.InDelta(t, 0.2697208, math.Exp(b)*se*math.Sqrt(1164.0/1163), 5e-7)
}

// With one exposure and nothing else, both the figure and its variance have a
// formula: the pattern-mixture model of White IR, Higgins JPT, Wood AM (2008) Stat Med
// 27:711-727 (doi 10.1002/sim.3008, of which the abstract was read); the variance is
// worked out here by the delta method. At odds
// ratio 1 they are those of the persons who said, of whom the file has 364, 51,
// 390, 73.
func TestSilenceAgainstFormula(t *testing.T) {
	for _, odds := range []float64{0, 0.3, 1, 2.5, 10} {
		logit, variance := [2]float64{}, 0.0
		for a, n := range [2][3]float64{{51, 364, 150}, {73, 390, 136}} {
			said := n[0] + n[1]
			p, missing, all := n[0]/said, n[2]/(said+n[2]), said+n[2]
			base := 1 - p + odds*p
			g := odds * p / base
			risk := (1-missing)*p + missing*g
			v := math.Pow(1-missing+missing*odds/(base*base), 2)*p*(1-p)/said + (g-p)*(g-p)*missing*(1-missing)/all
			logit[a] = stats.Logit(risk)
			variance += v / math.Pow(risk*(1-risk), 2)
		}
		b, se := imputed(t, odds)
		assert.InDelta(t, logit[1]-logit[0], b, 1e-9, "odds %g", odds)
		assert.InDelta(t, math.Sqrt(variance), se, 1e-9, "odds %g", odds)
	}
	b, se := imputed(t, 1)
	assert.InDelta(t, math.Log(73*364/(390.0*51)), b, 1e-9)
	assert.InDelta(t, math.Sqrt(1/73.0+1/364.0+1/390.0+1/51.0), se, 1e-9)
}

// Share is by arithmetic what the persons together have.
func TestShareWithTheSilent(t *testing.T) {
	d, c, silent := smoking(t)
	spoken, err := d.Fit(c, d.Only(func(k int) float64 { return 1 - silent(k) }), nil)
	require.NoError(t, err)
	m := d.Impute(NewLinearization(Model{Fit: spoken}), silent, func(int) float64 { return 1 })
	all := m.Share(func(int) bool { return true })
	assert.InDelta(t, (124+150*51/415.0+136*73/463.0)/1164, all.Mean, 1e-9)
	one := m.Share(func(k int) bool { return d.Levels(0)[d.Pattern(k)] == Clean })
	assert.InDelta(t, 51/415.0, one.Mean, 1e-9)
	assert.InDelta(t, math.Sqrt(one.Mean*(1-one.Mean)/415), one.Jackknife().SE, 1e-9)
}

// The influence of a cluster through both models, and through the share of
// reports by an age, is the derivative by its weight: against the difference
// quotient of refits of both.
func TestInfluenceThroughImputation(t *testing.T) {
	d := simulated(6000, 12)
	c := Columns{Exposures: true}
	silent := func(k int) float64 { // the young in part
		switch {
		case d.Subject[k]%3 != 0 || d.slot[k]%2 == 1:
			return 0
		case d.Edges[d.age[d.Pattern(k)]] < 365:
			return 0.6
		}
		return 1
	}
	odds := func(k int) float64 { return 0.7 + float64(d.Subject[k]%2) }
	weighed := func(w Weights, multiple []float64) Weights {
		out := Weights{Slot: make([]float64, len(w.Slot)), Share: d.reportShare(multiple)}
		for k, slot := range d.slot {
			out.Slot[slot&^1] += multiple[d.Cluster[k]] * w.counts.without[k]
			out.Slot[slot|1] += multiple[d.Cluster[k]] * w.counts.with[k]
		}
		return out.count(nil)
	}
	both := func(multiple []float64) (Model, *Imputation) {
		f := d.newFit(c, weighed(d.Only(func(k int) float64 { return 1 - silent(k) }), multiple))
		f.solve(50, 50, 1e-13)
		m := d.Impute(NewLinearization(Model{Fit: f}), silent, odds)
		g := d.newFit(c, weighed(m.Weights(), multiple))
		g.solve(50, 50, 1e-13)
		return Model{g, []Question{d.Question(0, 90), d.Question(1, 90)}}, m
	}
	answers := func(multiple []float64) (out []float64) {
		m, i := both(multiple)
		es, _ := m.Standardise()
		for _, e := range es {
			out = append(out, e.Difference(), e.Events)
		}
		x, n := 0.0, 0.0
		for k, cl := range d.Cluster {
			x, n = x+multiple[cl]*i.counts.with[k], n+multiple[cl]
		}
		return append(out, x/n)
	}
	multiple := make([]float64, d.Clusters)
	for k := range multiple {
		multiple[k] = 1
	}
	spoken := d.newFit(c, d.Only(func(k int) float64 { return 1 - silent(k) }))
	spoken.solve(50, 50, 1e-13)
	im := d.Impute(NewLinearization(Model{Fit: spoken}), silent, odds)
	f := d.newFit(c, im.Weights())
	f.solve(50, 50, 1e-13)
	m := Model{f, []Question{d.Question(0, 90), d.Question(1, 90)}}
	es, _ := m.Standardise()
	at := NewLinearization(m)
	var influences [][]float64
	for k, e := range es {
		l := at.respond(m.Questions[k])
		for _, g := range []gradient{l.combined(f.weights, e, 1, 1), l.sum()} {
			u, _ := at.influences(g)
			influences = append(influences, d.byCluster(u))
		}
	}
	influences = append(influences, im.Share(func(int) bool { return true }).Influence)
	const h = 1e-3
	for _, who := range []int32{d.Cluster[d.delays[0].subject], d.Cluster[d.delays[len(d.delays)-1].subject], 0, 3, 17, int32(d.Clusters) - 1} {
		multiple[who] = 1 + h
		up := answers(multiple)
		multiple[who] = 1 - h
		down := answers(multiple)
		multiple[who] = 1
		for k, u := range influences {
			largest := 0.0
			for _, v := range u {
				largest = math.Max(largest, math.Abs(v))
			}
			assert.InDelta(t, (up[k]-down[k])/(2*h), u[who], 1e-3*largest, "answer %d, cluster %d", k, who)
		}
	}
}
