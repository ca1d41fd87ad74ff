package remakes

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/internal/invented"
	"lastroom/analysis/stats"
)

// example reads a worked example of testdata/checks; its README says where each
// comes from.
func example(t *testing.T, name string) map[string][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "checks", name))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	columns := map[string][]float64{}
	for _, row := range rows[1:] {
		for k, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				v = math.NaN()
			}
			columns[rows[0][k]] = append(columns[rows[0][k]], v)
		}
	}
	return columns
}

// plainFit is a fit of y on columns (an intercept is put before them), each row
// a pattern followed to the end; the first column is the exposure asked about.
func plainFit(y []float64, columns ...[]float64) (*fit, question) {
	d := &design{edges: []int{Horizon}, terms: make([]string, 1+len(columns)), withCol: []int{1}}
	weight := make([]float64, 2*len(y))
	exposure := make([]uint8, len(y))
	for i := range y {
		d.from = append(d.from, int32(len(d.col)))
		d.col, d.val = append(d.col, 0), append(d.val, 1)
		for k, c := range columns {
			if c[i] != 0 {
				d.col, d.val = append(d.col, uint16(k+1)), append(d.val, c[i])
			}
		}
		d.all = append(d.all, int32(len(d.col)))
		d.age = append(d.age, 0)
		weight[2*i+int(y[i])]++
		exposure[i] = clean
		if columns[0][i] == 1 {
			exposure[i] = withFault
		}
	}
	f := newFit(d, d.all, nil)
	f.weight, f.share = weight, []float64{1}
	return f, question{exposure, 1, -1, -1, 0}
}

func is(v []float64, level float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		if x == level {
			out[i] = 1
		}
	}
	return out
}

// Low birth weight (birthwt, R package MASS; Hosmer DW, Lemeshow S (2000)
// Applied Logistic Regression): coefficients by R glm; smoking set on and off
// for all: 0.416271, 0.245806, difference 0.170465, ratio 1.693495 (g-computation
// in R).
func TestStandardisedRiskOfBirthwt(t *testing.T) {
	b := example(t, "birthwt.csv")
	f, q := plainFit(b["low"], b["smoke"], b["age"], b["lwt"], is(b["race"], 2), is(b["race"], 3), b["ptl"], b["ht"], b["ui"])
	f.solve(50, 50, 1e-10)
	require.True(t, f.converged)
	for j, want := range []float64{0.464403, 0.923349, -0.0270698, -0.0151826, 1.263219, 0.861635, 0.541755, 1.833696, 0.758597} {
		assert.InDelta(t, want, f.beta[j], 1e-6, "coefficient %d", j)
	}
	es, _ := standardise(f, []question{q})
	assert.InDelta(t, 0.416271, es[0].on, 5e-7)
	assert.InDelta(t, 0.245806, es[0].off, 5e-7)
	assert.InDelta(t, 0.170465, es[0].difference(), 5e-7)
	assert.InDelta(t, 1.693495, es[0].ratio(), 5e-7)
	// The tangent gives the same answers at the estimates.
	l := newTangent(riskModel{f, []question{q}, nil}).lines[0].answer(f.weight, make([]float64, f.p))
	assert.InDelta(t, es[0].on, l.on, 1e-7)
	assert.InDelta(t, es[0].off, l.off, 1e-7)
}

// Hernan MA, Robins JM, Causal Inference: What If, Table 2.2: treatment goes
// with death crudely (7/13 v 3/7) but not once the condition L is taken into
// account: standardised 0.5 v 0.5.
func TestStandardisedRiskOfHernan(t *testing.T) {
	h := example(t, "hernan_table2_2.csv")
	both := make([]float64, len(h["A"]))
	for i := range both {
		both[i] = h["A"][i] * h["L"][i]
	}
	// Saturated within L: the effect is asked in each level and weighed by it.
	on, off := 0.0, 0.0
	for level := range 2 {
		var y, a []float64
		for i, l := range h["L"] {
			if l == float64(level) {
				y, a = append(y, h["Y"][i]), append(a, h["A"][i])
			}
		}
		f, q := plainFit(y, a)
		f.solve(50, 50, 1e-12)
		es, _ := standardise(f, []question{q})
		on += es[0].on * float64(len(y)) / float64(len(h["L"]))
		off += es[0].off * float64(len(y)) / float64(len(h["L"]))
	}
	assert.InDelta(t, 0.5, on, 1e-9)
	assert.InDelta(t, 0.5, off, 1e-9)
	// With L as a term beside it the ratio is 1 too: A has no effect in either.
	f, q := plainFit(h["Y"], h["A"], h["L"])
	f.solve(50, 50, 1e-12)
	es, _ := standardise(f, []question{q})
	assert.InDelta(t, 1, es[0].ratio(), 1e-9)
	crude, q := plainFit(h["Y"], h["A"])
	crude.solve(50, 50, 1e-12)
	es, _ = standardise(crude, []question{q})
	assert.InDelta(t, (7.0/13)/(3.0/7), es[0].ratio(), 1e-9)
}

// Heinze G, Schemper M (2002) Stat Med 21:2409-2419, endometrial data (R
// package brglm2): Firth estimates by R logistf and brglm2.
func TestFirthOfEndometrial(t *testing.T) {
	e := example(t, "endometrial.csv")
	f, _ := plainFit(e["HG"], e["NV"], e["PI"], e["EH"])
	f.solve(50, 50, 1e-9)
	assert.True(t, f.separated(), "NV has only events: maximum likelihood runs away")
	f.firth = true
	clear(f.beta)
	f.solve(500, 500, 1e-10)
	require.True(t, f.converged)
	for j, want := range []float64{3.774560, 2.929273, -0.0347518, -2.604164} {
		assert.InDelta(t, want, f.beta[j], 1e-6, "coefficient %d", j)
	}
	// Refitting the intercept puts the mean risk back to the observed share.
	f.recentre()
	mean := 0.0
	for i := range e["HG"] {
		mean += expit(f.linear(i)) / float64(len(e["HG"]))
	}
	assert.InDelta(t, events(f.weight)/float64(len(e["HG"])), mean, 1e-9)
}

// With orders followed for different times the estimates maximise the
// likelihood sum d log(F r) + n log(1 - F r): no small step improves on them.
func TestFitMaximisesTheLikelihood(t *testing.T) {
	c, _ := invented.Workshop{Orders: 3000, Intercept: -2.5, Seed: 3}.Make()
	d := newDesign(c, MatureAfter(c, 0), designOptions{faults: true, time: true})
	weight, share := newResampler(d).whole()
	f, why := makeFit(d, d.all, nil, weight, share, nil)
	require.Empty(t, why)
	require.False(t, f.firth)
	loglik := func() float64 {
		l := 0.0
		for i := range d.from {
			p := share[d.age[i]] * expit(f.linear(i))
			l += weight[2*i+1]*math.Log(math.Max(p, 1e-300)) + weight[2*i]*math.Log1p(-p)
		}
		return l
	}
	best := loglik()
	for j := range f.beta {
		for _, h := range []float64{-1e-3, 1e-3} {
			b := f.beta[j]
			f.beta[j] = b + h
			assert.LessOrEqual(t, loglik(), best+1e-9, "%s %+g", d.terms[j], h)
			f.beta[j] = b
		}
	}
}

// By hand: edges 30, 60, 365. Followed to 365: one report by 30, one by 60, two
// later. Followed to 60: two by 30, one by 60. Followed to 30: three.
// g(365) = 2/4; g(60) = (1+1)/(2+3) = 2/5; F(60) = 1/2, F(30) = 1/2 * 3/5.
func TestReportShareByHand(t *testing.T) {
	d := &design{edges: []int{30, 60, 365}}
	for _, e := range [][3]uint8{{0, 2, 1}, {1, 2, 1}, {2, 2, 2}, {0, 1, 2}, {1, 1, 1}, {0, 0, 3}} {
		for range e[2] {
			d.delays = append(d.delays, delay{0, e[0], e[1]})
		}
	}
	share := reportShare(d, nil)
	assert.InDeltaSlice(t, []float64{0.3, 0.5, 1}, share, 1e-12)
	// An order followed for 45 days: halfway between 0.3 and 0.5.
	assert.InDelta(t, 0.4, d.shareBy(share, 45), 1e-12)
	assert.InDelta(t, 0.15, d.shareBy(share, 15), 1e-12)
	assert.InDelta(t, 1, d.shareBy(share, 900), 1e-12)
}

// An extract taken while a third of the orders are young must say the same as
// one taken 400 days later, and use the young orders: closer to the late answer
// than the old orders alone are.
func TestYoungOrdersAreUsedNotThrownAway(t *testing.T) {
	long(t)
	var bias, young, old float64
	const workshops = 30
	for seed := range uint64(workshops) {
		c, _ := invented.Workshop{Orders: 4000, Intercept: -2.3, Idle: 400, Seed: seed}.Make()
		late := point(c.AsOf, c, nil)
		early := c.AsOf - 400
		all := point(early, c, nil)
		complete := point(early, c, func(i int) bool { return early-c.Shipped[i] >= Horizon })
		bias += (all - late) / workshops
		young += (all - late) * (all - late) / workshops
		old += (complete - late) * (complete - late) / workshops
	}
	assert.InDelta(t, 0, bias, 3*math.Sqrt(young/workshops))
	assert.Less(t, young, 0.8*old)
}

// point is the standardised difference of missing tape marks, as of a day.
func point(asOf cohort.Day, c *cohort.Cohort, keep func(i int) bool) float64 {
	then := *c
	then.AsOf = asOf
	d := newDesign(&then, MatureAfter(&then, 0), designOptions{faults: true, time: true, keep: keep})
	weight, share := newResampler(d).whole()
	f, _ := makeFit(d, d.all, nil, weight, share, nil)
	es, _ := standardise(f, []question{d.faultQuestion(0, 0)})
	return es[0].difference()
}

// Where reports come later with a fault than without, the finding says so.
func TestUnlikeDelaysAreSaid(t *testing.T) {
	c, _ := invented.Workshop{Orders: 4000, Intercept: -2, Idle: 400, Seed: 2}.Make()
	assert.Empty(t, unlikeDelays(c, c.Cut[0]))
	for i := range c.Shipped {
		if c.Cut[0][i] == form.With && c.Remade[i].Known() {
			c.Remade[i] = min(c.Remade[i]+60, c.Shipped[i]+Horizon)
		}
	}
	assert.Contains(t, unlikeDelays(c, c.Cut[0]), "leans on equal delays")
}

// The robust standard error must be that of the bootstrap, within what 300
// replicates can tell.
func TestComparisonAgreesWithBootstrap(t *testing.T) {
	long(t)
	c, _ := invented.Workshop{Orders: 6000, Intercept: -2.5, Seed: 8}.Make()
	m := MatureAfter(c, 0)
	marks := c.Cut[0]
	got := NewComparer(c, m, nil).Compare(marks)
	require.True(t, got.Difference.Bounded(), "%v", got.Difference.Warnings)
	// The same model by the long way: descriptors and the fault alone.
	d := newDesign(c, m, designOptions{time: true, extra: func(i int) bool { return marks[i] == form.With }, keep: func(i int) bool { return marks[i] != form.Unknown }})
	weight, share := newResampler(d).whole()
	f, why := makeFit(d, d.ends, d.extra, weight, share, nil)
	require.Empty(t, why)
	e := make([]uint8, d.patterns())
	for i, x := range d.extra {
		e[i] = clean
		if x == 1 {
			e[i] = withFault
		}
	}
	mo := []riskModel{{f, []question{{e, f.p - 2, -1, -1, 0}}, nil}}
	r := newRefitter(d, mo, nil)
	var diffs []float64
	for k := range 300 {
		r.models[0].fit.weight, r.models[0].fit.share = r.rs.draw(stats.Source(1, k))
		es, _ := r.again(0)
		diffs = append(diffs, es[0].difference())
	}
	se := (got.Difference.High - got.Difference.Low) / (2 * stats.Z(level))
	assert.InDelta(t, 1, se/spread(diffs), 0.12)
	points, _ := ask(mo, weight, share)
	assert.InDelta(t, points[0].difference(), got.Difference.Point, 0.2*se, "orders not judged aside")
}

// birthwt by the sandwich: the delta-method standard error of the smoking
// difference given what was observed is 0.0729572 (R, CHECKS of the example);
// the robust one with random covariates must be near it.
func TestComparisonOfBirthwt(t *testing.T) {
	b := example(t, "birthwt.csv")
	f, q := plainFit(b["low"], b["smoke"], b["age"], b["lwt"], is(b["race"], 2), is(b["race"], 3), b["ptl"], b["ht"], b["ui"])
	f.solve(50, 50, 1e-10)
	for i := range b["low"] {
		f.d.slot, f.d.customer = append(f.d.slot, int32(2*i)+int32(b["low"][i])), append(f.d.customer, int32(i))
	}
	f.d.customers = len(b["low"])
	got := compared(f, q, len(b["low"]))
	assert.InDelta(t, 0.170465, got.Difference.Point, 5e-7)
	assert.InDelta(t, 0.0729572, (got.Difference.High-got.Difference.Low)/(2*stats.Z(level)), 0.006)
}

// The interval is that of stats.BCa when the jackknife values have the same
// acceleration.
func TestLeaningIsBCa(t *testing.T) {
	rng := stats.Source(4, 4)
	influence, jack := make([]float64, 500), make([]float64, 500)
	for k := range influence {
		influence[k] = math.Exp(rng.NormFloat64())
		jack[k] = -influence[k]
	}
	values := make([]float64, 400)
	for k := range values {
		values[k] = math.Exp(0.3 * rng.NormFloat64())
	}
	want := stats.BCa(1.05, values, jack, expanded(25), 7)
	got := leaning(1.05, values, jackknifeOf(influence).acceleration, 7, 25)
	assert.InDelta(t, want.Low, got.Low, 1e-9)
	assert.InDelta(t, want.High, got.High, 1e-9)
	assert.Equal(t, level, got.Level)
	assert.InDelta(t, 2.063899*math.Sqrt(25.0/24), stats.Z(expanded(25)), 1e-5, "Student's t, 24 degrees of freedom, from tables: 2.0639, times sqrt(n/(n-1))")
}

// A replicate takes Firth's leverages from the whole sample: its estimates must
// be those of a fit with its own, but for a tenth of their spread.
func TestFirthReplicates(t *testing.T) {
	c, _ := invented.Workshop{Orders: 900, Intercept: -2.6, Seed: 3}.Make()
	d := newDesign(c, MatureAfter(c, 0), designOptions{faults: true, time: true})
	weight, share := newResampler(d).whole()
	f, why := makeFit(d, d.all, nil, weight, share, nil)
	require.Empty(t, why)
	require.True(t, f.firth)
	q := d.faultQuestion(0, 0)
	var quick, own []float64
	rs := newResampler(d)
	for k := range 40 {
		a := f.fork()
		a.weight, a.share = rs.draw(stats.Source(2, k))
		a.refit(true)
		es, _ := standardise(a, []question{q})
		quick = append(quick, es[0].difference())
		a.hat = nil
		a.solve(60, 60, 1e-8)
		a.recentre()
		es, _ = standardise(a, []question{q})
		own = append(own, es[0].difference())
	}
	for k := range own {
		assert.InDelta(t, own[k], quick[k], 0.25*spread(own))
	}
	assert.InDelta(t, 1, spread(quick)/spread(own), 0.05)
}
