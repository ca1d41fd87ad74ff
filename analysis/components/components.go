// Package components tells apart where the spread of repeated readings comes
// from: variance components of a model with two crossed random factors (who was
// measured, who measured), their interaction and the trial, by restricted maximum
// likelihood, for any number of readings in each cell, also none.
//
//	reading = fixed effects + row + column + row x column + trial
//
// All four are independent normal draws. [Fit] gives their standard deviations,
// the intraclass correlation and the fixed effects, each with an interval:
// profile likelihood for the spreads, Student's t for the fixed effects.
//
// The likelihood is that of Bates D, Mächler M, Bolker B, Walker S (2015) Fitting
// linear mixed-effects models using lme4, J Stat Softw 67(1), sections 3.2 to
// 3.5, worked out on the cells' means: the interaction and then the rows are
// eliminated by hand, since either is a diagonal block, and a matrix as large as
// the number of columns and fixed effects is left; rows with the same cells are
// summed up beforehand. So it costs little with thousands of rows.
package components

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/stats"
)

// A Reading is one number: of which row (who was measured), in which column (who
// measured), with the fixed effects' values, which must be the same in all
// readings of a row by a column.
type Reading struct {
	Row, Column int
	X           []float64
	Y           float64
}

// A Fit is a fitted model. The spreads are standard deviations in the unit of the
// readings; each method searches its own interval.
type Fit struct {
	Fixed []stats.Estimate
	// Criterion is -2 times the restricted log-likelihood at the optimum.
	Criterion float64

	m     *model
	best  place
	level float64
}

// errTooFew says that the readings don't allow the model: the spread of a trial
// takes a cell with two readings or, without interaction, more cells than effects.
var errTooFew = errors.New("too few readings for variance components")

// relative spreads: of rows, columns and interaction over that of a trial. Signs
// don't matter.
type relative [3]float64

const (
	rows = iota
	columns
	interactions
)

// A place is a value of all parameters; trial is the trial's variance, NaN for
// the likeliest given the others.
type place struct {
	trial float64
	of    relative
}

// Effects says which effects a model has besides the rows' and the trial's.
type Effects int

// RowsOnly leaves the columns without an effect: they only tell readings with
// different fixed effects apart. Interaction takes a cell with two readings,
// without which it can't be told from the trial.
const (
	RowsOnly Effects = iota
	Crossed
	Interaction
)

// Of fits the model. Readings that are not finite are left out. [errTooFew] is told
// where there is nothing to tell apart.
func Of(readings []Reading, effects Effects, level float64) (*Fit, error) {
	m := cellsOf(readings)
	if effects == RowsOnly {
		m.columns = 1
	}
	m.interaction = effects == Interaction && m.n > m.cells && m.columns > 1
	if effects == Interaction && !m.interaction || m.rows < 2 || m.n < m.rows+m.p {
		return nil, errTooFew
	}
	best, least := m.minimise(m.free, m.start())
	at := m.eliminate(best.of, true)
	if math.IsInf(least, 0) || math.IsNaN(least) || !(at.trial > 1e-18*m.square) {
		return nil, errTooFew
	}
	best.trial = at.trial
	f := &Fit{Criterion: least, m: m, best: best, level: level}
	f.Fixed = f.fixed(at)
	return f, nil
}

// free is the place of an optimiser's parameters, all spreads free.
func (m *model) free(x []float64) place {
	p := place{trial: math.NaN()}
	copy(p.of[:], x)
	return p
}

func (m *model) start() []float64 {
	x := []float64{1, 1}
	if m.columns < 2 {
		x = x[:1]
	}
	if m.interaction {
		x = []float64{1, 1, 0.5}
	}
	return x
}

// A tolerance says how long the simplex search goes on: until so many steps gained
// less than that, and so many searches at most.
type tolerance struct {
	gain, simplex  float64
	idle, searches int
}

// The optimum is found sharply. Points of a profile need the criterion to a
// ten-thousandth: its limit lies 3.84 above the least.
var (
	sharp = tolerance{1e-9, 0.2, 40, 8}
	rough = tolerance{1e-5, 0.2, 12, 3}
)

// minimise finds the place of least criterion.
func (m *model) minimise(at func(x []float64) place, start []float64) (place, float64) {
	x, least := m.search(at, start, sharp)
	return at(x), least
}

// search finds the parameters of least criterion, by the simplex search of Nelder and
// Mead, begun anew from where it ended until nothing is gained.
func (m *model) search(at func(x []float64) place, start []float64, to tolerance) ([]float64, float64) {
	problem := optimize.Problem{Func: func(x []float64) float64 { return m.criterion(at(x)) }}
	x, least := slices.Clone(start), math.Inf(1)
	if len(x) == 0 {
		return x, m.criterion(at(x))
	}
	for range to.searches {
		r, err := optimize.Minimize(problem, x, &optimize.Settings{
			Converger: &optimize.FunctionConverge{Absolute: to.gain, Iterations: to.idle}, FuncEvaluations: 2000,
		}, &optimize.NelderMead{SimplexSize: to.simplex})
		if r == nil || err != nil && math.IsNaN(r.F) {
			break
		}
		gained := least - r.F
		if r.F < least {
			x, least = r.X, r.F
		}
		if !(gained > 100*to.gain) {
			break
		}
	}
	return x, least
}

const profiled = "restricted maximum likelihood, profile likelihood interval"

// Row is the spread of the rows.
func (f *Fit) Row() stats.Estimate { return f.spread(rows) }

// Column is the spread of the columns, Missing where there is one.
func (f *Fit) Column() stats.Estimate {
	if f.m.columns < 2 {
		return stats.Missing(f.m.n, profiled, "only one column")
	}
	return f.spread(columns)
}

// Interaction is the spread of what a row has by one column only, Missing where the
// model has none.
func (f *Fit) Interaction() stats.Estimate {
	if !f.m.interaction {
		return stats.Missing(f.m.n, profiled, "can't be told from the trial: none was read twice by the same")
	}
	return f.spread(interactions)
}

// leastOf is the criterion, least over all parameters that at leaves free; the search
// begins where the one before it ended, which it is told in begin.
func (f *Fit) leastOf(begin *[]float64, at func(x []float64) place) float64 {
	x, least := f.m.search(at, *begin, rough)
	*begin = x
	return least
}

func (f *Fit) parameters() []float64 { return slices.Clone(f.best.of[:len(f.m.start())]) }

// spread is the standard deviation of a component. At a value s over 0 the
// trial's spread is s over the component's relative one.
func (f *Fit) spread(k int) stats.Estimate {
	begin, none := f.parameters(), f.parameters()
	trial := math.Sqrt(f.best.trial)
	return f.interval(math.Abs(f.best.of[k])*trial, trial, math.Inf(1), profiled, func(s float64) float64 {
		if s == 0 {
			return f.leastOf(&none, func(x []float64) place {
				q := f.m.free(x)
				q.of[k] = 0
				return q
			})
		}
		begin[k] = s / trial
		return f.leastOf(&begin, func(x []float64) place {
			q := f.m.free(x)
			q.trial = s * s / (q.of[k] * q.of[k])
			return q
		})
	})
}

// besideRows is the variance of a reading of one row over that of a trial.
func (r relative) besideRows() float64 {
	return r[columns]*r[columns] + r[interactions]*r[interactions] + 1
}

// Trial is the spread of readings of a row by one column.
func (f *Fit) Trial() stats.Estimate { return f.total(func(relative) float64 { return 1 }) }

// Error is the spread of one reading of a row by a column taken at random:
// sqrt(Column^2 + Interaction^2 + Trial^2).
func (f *Fit) Error() stats.Estimate { return f.total(relative.besideRows) }

// total is a standard deviation whose variance is part times the trial's.
func (f *Fit) total(part func(relative) float64) stats.Estimate {
	begin := f.parameters()
	at := math.Sqrt(f.best.trial * part(f.best.of))
	return f.interval(at, at, math.Inf(1), profiled, func(s float64) float64 {
		return f.leastOf(&begin, func(x []float64) place {
			q := f.m.free(x)
			q.trial = s * s / part(q.of)
			return q
		})
	})
}

// ICC is the share of a single reading's variance that is the rows': ICC(A,1) of
// McGraw KO, Wong SP (1996) Psychol Methods 1:30-46, ICC(2,1) of Shrout PE, Fleiss
// JL (1979) Psychol Bull 86:420-428. At a value the rows' relative spread follows from
// the others'.
func (f *Fit) ICC() stats.Estimate {
	begin := f.parameters()[1:]
	own := f.best.of[rows] * f.best.of[rows]
	return f.interval(own/(own+f.best.of.besideRows()), 0.05, 1, "ICC(A,1) by "+profiled, func(r float64) float64 {
		return f.leastOf(&begin, func(x []float64) place {
			q := place{trial: math.NaN()}
			copy(q.of[columns:], x)
			q.of[rows] = math.Sqrt(r / (1 - r) * q.of.besideRows())
			return q
		})
	})
}

// interval is a profile likelihood interval: where the criterion, least over all else,
// exceeds its minimum by a quantile of chi-squared on either side of the point, going out from it in steps and then halving.
func (f *Fit) interval(point, step, most float64, method string, criterion func(float64) float64) stats.Estimate {
	e := stats.Estimate{Point: point, Level: f.level, N: f.m.n, Method: method}
	limit := f.Criterion + distuv.ChiSquared{K: 1}.Quantile(f.level)
	over := func(v float64) float64 { return criterion(v) - limit }
	e.High = crossing(point, math.Max(step, point)*0.5, most, over)
	if e.Low = 0; point > 0 && over(0) > 0 {
		e.Low = -crossing(-point, point*0.4, 0, func(v float64) float64 { return over(-v) })
	}
	return e
}

// crossing finds where a function rises through 0 above x, at most at end: outward by
// growing steps, then by regula falsi with halving where it is slow.
func crossing(x, step, end float64, f func(float64) float64) float64 {
	inside, below := x, -1.0
	outside, above := x+step, 0.0
	for k := 0; ; k++ {
		if outside >= end {
			outside = inside + 0.9*(end-inside)
		}
		above = f(outside)
		if above > 0 || math.IsNaN(above) {
			break
		}
		if inside, below = outside, above; k == 60 {
			return math.Inf(1)
		}
		step *= 1.8
		outside += step
	}
	for k := range 40 {
		if math.Abs(outside-inside) < 1e-5*(math.Abs(outside)+math.Abs(inside)) {
			break
		}
		mid := (inside + outside) / 2
		if k%3 != 2 && !math.IsNaN(above) {
			mid = inside + (outside-inside)*math.Min(0.95, math.Max(0.05, -below/(above-below)))
		}
		if v := f(mid); v > 0 || math.IsNaN(v) {
			outside, above = mid, v
		} else {
			inside, below = mid, v
		}
	}
	return (inside + outside) / 2
}

// fixed are the fixed effects with Student's t intervals; degrees
// of freedom are those of the rows, or of the columns where these are fewer and
// spread (a rule on the safe side).
func (f *Fit) fixed(at solution) []stats.Estimate {
	df := float64(f.m.rows - f.m.p)
	if f.best.of[columns] != 0 && f.m.columns > 1 {
		df = math.Min(df, float64(f.m.columns-1))
	}
	t := distuv.StudentsT{Sigma: 1, Nu: math.Max(df, 1)}.Quantile(1 - (1-f.level)/2)
	out := make([]stats.Estimate, f.m.p)
	for k := range out {
		half := t * math.Sqrt(at.trial*at.variance.At(k, k))
		out[k] = stats.Estimate{Point: at.effects[k], Low: at.effects[k] - half, High: at.effects[k] + half, Level: f.level, N: f.m.n,
			Method: "restricted maximum likelihood, Student's t interval"}
	}
	return out
}
