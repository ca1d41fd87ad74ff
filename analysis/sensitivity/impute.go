package sensitivity

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// What the imputation takes (judgement).
const (
	// cycles are how often each fault is drawn anew given the others before an
	// imputation is taken.
	cycles = 3
	// As many imputations as forms in a hundred lack something, within these:
	// White IR, Royston P, Wood AM (2011) Stat Med 30:377-399, section 7.
	fewestImputations, mostImputations = 5, 20
	// loose and tight are the precisions of what is known beforehand of an
	// effect on the logit scale: a standard deviation of 2, for a measurer of 1.
	// They hold estimates where a fault is rare or a column decides it.
	loose, tight = 0.25, 1
)

// A filler fills in the faults of forms cut from that could not be judged, one
// after the other by chained equations: each by a logistic model of what the
// order was, the month, who measured, what became of the order, and the other
// faults as they were filled in last.
//
// van Buuren S (2007) Stat Methods Med Res 16:219-242; the outcome must be in the
// model: Moons KGM et al. (2006) J Clin Epidemiol 59:1092-1101.
type filler struct {
	c     *cohort.Cohort
	m     remakes.Maturity
	terms []regression.Term
	blank [][]int32 // per fault: the rows on which it is not known
	order []int     // faults with blanks, the fewest first
	// terms alone, per fault of order: what of its model is in all imputations alike
	alone []*regression.Design
}

func newFiller(c *cohort.Cohort, m remakes.Maturity) *filler {
	f := &filler{c: c, m: m, terms: remakes.Covariates(c), blank: make([][]int32, len(c.Cut))}
	for e, states := range c.Cut {
		known := 0
		for i, s := range states {
			switch s {
			case form.Unknown:
				f.blank[e] = append(f.blank[e], int32(i))
			case form.With:
				known++
			}
		}
		if len(f.blank[e]) > 0 && known > 0 {
			f.order = append(f.order, e)
		}
	}
	slices.SortStableFunc(f.order, func(a, b int) int { return len(f.blank[a]) - len(f.blank[b]) })
	f.terms = append(f.terms, f.outcome())
	f.alone = make([]*regression.Design, len(c.Cut))
	for _, e := range f.order {
		f.alone[e] = regression.NewDesign(regression.Subjects{
			N: c.Len(), Edges: []int{1}, Cluster: make([]int32, c.Len()),
			Age:   func(int) int { return 1 },
			Event: func(i int) (int, bool) { return 0, c.Cut[e][i] == form.With },
			Keep:  func(i int) bool { return c.Cut[e][i] != form.NotAtRisk },
		}, f.terms, nil)
	}
	return f
}

// outcome is what became of an order: remade, mature and kept, or not yet told.
func (f *filler) outcome() regression.Term {
	return regression.Term{
		Names:  []string{"remade", "young"},
		Values: [][]float64{{0, 0}, {1, 0}, {0, 1}},
		Code: func(i int) int {
			switch {
			case remakes.Event(f.c, i):
				return 1
			case f.m.Is(f.c, i):
				return 0
			}
			return 2
		},
	}
}

// incomplete is the share of orders that lack something.
func (f *filler) incomplete() float64 {
	lacks := make([]bool, f.c.Len())
	n := 0.0
	for _, e := range f.order {
		for _, i := range f.blank[e] {
			if !lacks[i] {
				lacks[i] = true
				n++
			}
		}
	}
	return n / math.Max(1, float64(len(lacks)))
}

// imputations are how many are worth making.
func (f *filler) imputations() int {
	return max(fewestImputations, min(mostImputations, int(math.Ceil(100*f.incomplete()))))
}

// fill is one imputation: the cohort with the blanks filled in.
func (f *filler) fill(ctx context.Context, rng *rand.Rand) *cohort.Cohort {
	c := *f.c
	c.Cut = slices.Clone(c.Cut)
	for _, e := range f.order {
		c.Cut[e] = slices.Clone(c.Cut[e])
		with, known := 0.0, 0.0
		for _, s := range f.c.Cut[e] {
			switch s {
			case form.With:
				with, known = with+1, known+1
			case form.Without:
				known++
			}
		}
		f.draw(rng, c.Cut[e], f.blank[e], func(int) float64 { return with / known })
	}
	start := make([][]float64, len(c.Cut))
	for range cycles {
		for _, e := range f.order {
			if ctx.Err() != nil {
				return &c
			}
			start[e] = f.again(rng, &c, e, start[e])
		}
	}
	return &c
}

func (f *filler) draw(rng *rand.Rand, states []form.State, rows []int32, risk func(k int) float64) {
	for k, i := range rows {
		states[i] = form.Without
		if rng.Float64() < risk(k) {
			states[i] = form.With
		}
	}
}

// again draws fault e anew given all else, and gives the model's estimates to
// start from next time.
func (f *filler) again(rng *rand.Rand, c *cohort.Cohort, e int, start []float64) []float64 {
	var others []regression.Exposure
	for o, states := range c.Cut {
		if o != e {
			others = append(others, regression.Exposure{Name: form.Faults[o].ID, Level: func(i int) regression.Level { return levels[states[i]] }})
		}
	}
	d := f.alone[e].Expose(c.Len(), others)
	known := d.Only(func(k int) float64 {
		if f.c.Cut[e][d.Subject[k]] == form.Unknown {
			return 0
		}
		return 1
	})
	columns := regression.Columns{Exposures: true}
	if len(start) != len(d.Names) { // a fault crossed what is common enough
		start = nil
	}
	fit, err := d.Ridge(columns, known, f.precision(d), start)
	if err != nil {
		return nil // the last draw stands
	}
	drawn, risk := fit.Draw(rng), make([]float64, 0, len(f.blank[e]))
	for k, i := range d.Subject { // in the order of the rows, as the blanks are
		if f.c.Cut[e][i] == form.Unknown {
			risk = append(risk, drawn.Risk(d.Pattern(k)))
		}
	}
	f.draw(rng, c.Cut[e], f.blank[e], func(k int) float64 { return risk[k] })
	return fit.Coef
}

// levels of a fault in the model of another.
var levels = [...]regression.Level{
	form.With: regression.With, form.Without: regression.Clean, form.NotAtRisk: regression.NotAtRisk, form.Unknown: regression.Unknown,
}

// precision is what is known beforehand of each column; nothing of the first,
// the intercept.
func (f *filler) precision(d *regression.Design) []float64 {
	p := slices.Repeat([]float64{loose}, len(d.Names))
	p[0] = 0
	at := 1
	for k, t := range f.terms {
		if k == len(f.terms)-2 { // who measured stands before the outcome
			for j := range t.Names {
				p[at+j] = tight
			}
		}
		at += len(t.Names)
	}
	return p
}

// A filled figure is one fault's with the blanks filled in.
type filled struct {
	estimate stats.Estimate
	missing  float64 // fraction of the information
}

// imputed are the figures of each fault from so many imputations, put together
// by Rubin's rules; nil where the context ended it.
func (f *filler) imputed(ctx context.Context, times int, seed uint64, workers int, progress func(done, total int)) []filled {
	all := make([][]remakes.FaultEffect, times)
	done := counter{total: times, tell: progress}
	stats.Parallel(workers, times, func(k int) {
		c := f.fill(ctx, stats.Source(seed, k))
		if ctx.Err() == nil {
			j := remakes.NewJoint(c, f.m)
			all[k], _ = j.Effects(j.Design.Whole(), nil, 1)
		}
		done.one()
	})
	if ctx.Err() != nil {
		return nil
	}
	out := make([]filled, len(f.c.Cut))
	for e, states := range f.c.Cut {
		n := 0
		for i, s := range states {
			if s != form.NotAtRisk && f.m.Is(f.c, i) {
				n++
			}
		}
		one := make([]remakes.FaultEffect, times)
		for k := range all {
			one[k] = all[k][e]
		}
		out[e] = pool(one, n)
	}
	return out
}

// pool puts one fault's effects in several imputations together. The interval
// leans as those of the single ones, as far as it is theirs; remakes in the
// smaller arm carry the information, as in the intervals of the fault table.
func pool(effects []remakes.FaultEffect, n int) filled {
	var points, variances []float64
	fewest, lean := math.MaxInt, 0.0
	for _, e := range effects {
		if e.Why != "" {
			return filled{stats.Missing(n, imputedMethod, e.Why), math.NaN()}
		}
		points = append(points, e.Effect.Difference())
		variances = append(variances, e.Difference.SE*e.Difference.SE)
		fewest = min(fewest, e.Fewest)
		lean += e.Difference.Acceleration / float64(len(effects))
	}
	p := stats.Pool(points, variances, float64(fewest-1))
	j := regression.Jackknife{SE: math.Sqrt(p.Total), Acceleration: lean * math.Pow(p.Within/p.Total, 1.5)}
	x := stats.Estimate{Point: p.Point, Level: stats.DefaultLevel, N: n, Method: imputedMethod}
	x.Low, x.High = j.Limits(p.Point, p.T(x.Level)*math.Sqrt(float64(fewest)/float64(fewest-1)))
	return filled{x, p.Missing}
}
