package stats

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A Fitter fits regressions on one design and keeps the working memory, so
// that a bootstrap allocates next to nothing. One goroutine, one Fitter.
type Fitter struct {
	d *Design

	mu, w, v  []float64 // of each pattern at the current coefficients
	info      []float64 // X'WX, lower triangle, cols x cols
	augmented []float64 // the same with Firth's pseudo-trials
	diag      []float64 // square root of its diagonal (with penalty)
	score     []float64
	step, try []float64
	full      factor // of all columns that are not aliased (for Firth)
	sub       factor // of the columns being fitted
	inverse   []float64
}

// NewFitter makes a Fitter for the design.
func NewFitter(d *Design) *Fitter {
	floats := func(n int) []float64 { return make([]float64, n) }
	p := d.cols
	return &Fitter{
		d: d, mu: floats(d.rows), w: floats(d.rows), v: floats(d.rows),
		info: floats(p * p), augmented: floats(p * p), diag: floats(p), score: floats(p), step: floats(p), try: floats(p),
		inverse: floats(p * p),
	}
}

// A family is what the regressions differ in.
type family interface {
	at(y, n, eta float64) (mu, w, loglik float64)
	recedes(y, n, d, tol float64) bool
}

const (
	newtonTolerance = 1e-7  // of the step in any linear predictor; the next error is its square
	firthTolerance  = 1e-10 // its steps shrink linearly, not quadratically
	longestStep     = 5.0   // in any linear predictor
	aliasTolerance  = 1e-9  // of 1-R^2 of a column on the earlier ones
)

type objective struct{ loglik, penalised float64 }

// fit maximises the (penalised) likelihood by Newton's method.
func (f *Fitter) fit(fam family, c Counts, o FitOptions) (*Fit, error) {
	if err := f.checkOptions(o); err != nil {
		return nil, err
	}
	aliased := f.aliased(c.Trials, o.Penalty)
	full, only := f.columns(aliased, o.Only)
	if len(only) == 0 {
		return nil, errors.New("no column is left to fit")
	}
	b := make([]float64, f.d.cols)
	copy(b, o.Start)
	for _, j := range aliased {
		if o.Only == nil {
			b[j] = 0
		}
	}
	limit, tol := 50, newtonTolerance
	if o.Firth {
		limit, tol = 500, firthTolerance
	}
	if o.MaxIterations > 0 {
		limit = o.MaxIterations
	}
	now, ok := f.evaluate(fam, c, o, full, only, b)
	if !ok {
		return nil, fmt.Errorf("%w: the start leads nowhere", ErrNotConverged)
	}
	for it := 1; it <= limit; it++ {
		longest := f.newtonStep(c, o, full, only, b)
		if it >= 8 || longest > 1e6 {
			if sep := f.separated(fam, c, o, longest, 1e-5); sep != nil {
				return nil, sep
			}
		}
		next, ok := f.advance(fam, c, o, full, only, b, now, longest)
		if !ok && longest > 1e-5 {
			return nil, f.stuck(fam, c, o, longest, it)
		}
		now = next
		if longest <= tol || !ok {
			return f.result(o, b, now, aliased, only, it), nil
		}
	}
	return nil, f.stuck(fam, c, o, f.newtonStep(c, o, full, only, b), limit)
}

func (f *Fitter) stuck(fam family, c Counts, o FitOptions, longest float64, it int) error {
	if sep := f.separated(fam, c, o, longest, 1e-3); sep != nil {
		return sep
	}
	return fmt.Errorf("%w in %d iterations", ErrNotConverged, it)
}

func (f *Fitter) checkOptions(o FitOptions) error {
	switch {
	case o.Firth && o.Penalty != nil:
		return errors.New("choose Firth's penalty or a ridge, not both")
	case o.Offset != nil && len(o.Offset) != f.d.rows:
		return fmt.Errorf("the design has %d patterns, the offset %d", f.d.rows, len(o.Offset))
	case o.Start != nil && len(o.Start) != f.d.cols, o.Penalty != nil && len(o.Penalty) != f.d.cols:
		return fmt.Errorf("the design has %d columns; start and penalty must have as many", f.d.cols)
	}
	for _, x := range [][]float64{o.Offset, o.Start, o.Penalty} {
		if i := slices.IndexFunc(x, func(v float64) bool { return !finite(v) }); i >= 0 {
			return fmt.Errorf("offset, start and penalty must be finite numbers, not %v", x[i])
		}
	}
	if slices.ContainsFunc(o.Penalty, func(v float64) bool { return v < 0 }) {
		return errors.New("a ridge penalty must not be negative")
	}
	if slices.ContainsFunc(o.Only, func(j int) bool { return j < 0 || j >= f.d.cols }) {
		return errors.New("a column to fit is not in the design")
	}
	return nil
}

// columns are those that the information covers and, of them, those to fit.
func (f *Fitter) columns(aliased, only []int) (full, fitted []int) {
	for j := range f.d.cols {
		if slices.Contains(aliased, j) {
			continue
		}
		full = append(full, j)
		if only == nil || slices.Contains(only, j) {
			fitted = append(fitted, j)
		}
	}
	return full, fitted
}

// evaluate computes means, weights, information and the objective at b. It is
// not ok where the numbers overflow or the information is singular.
func (f *Fitter) evaluate(fam family, c Counts, o FitOptions, full, only []int, b []float64) (objective, bool) {
	var v objective
	for i, n := range c.Trials {
		if n <= 0 {
			f.mu[i], f.w[i] = 0, 0
			continue
		}
		cols, vals := f.d.row(i)
		eta := 0.0
		if o.Offset != nil {
			eta = o.Offset[i]
		}
		for k, j := range cols {
			eta += vals[k] * b[j]
		}
		var l float64
		f.mu[i], f.w[i], l = fam.at(c.Events[i], n, eta)
		v.loglik += l
	}
	f.gram(f.info, f.w)
	v.penalised = v.loglik
	ok := finite(v.loglik)
	if o.Firth {
		ok = ok && f.full.of(f.info, f.d.cols, full, nil)
		v.penalised += f.full.logDet / 2
	}
	for j, p := range o.Penalty {
		v.penalised -= p * b[j] * b[j] / 2
	}
	ok = ok && f.sub.of(f.info, f.d.cols, only, o.Penalty)
	return v, ok && finite(v.penalised)
}

// gram puts X'WX into the lower triangle of dst.
func (f *Fitter) gram(dst, w []float64) {
	clear(dst)
	p := f.d.cols
	for i, wi := range w {
		if wi <= 0 {
			continue
		}
		cols, vals := f.d.row(i)
		for a, ja := range cols {
			row, wa := dst[int(ja)*p:int(ja)*p+p], wi*vals[a]
			for k, jb := range cols[:a+1] {
				row[jb] += wa * vals[k]
			}
		}
	}
}

// newtonStep solves for the next step and is the farthest that it moves any
// pattern's linear predictor.
func (f *Fitter) newtonStep(c Counts, o FitOptions, full, only []int, b []float64) (longest float64) {
	if o.Firth {
		f.full.invert(f.inverse, f.d.cols, full)
	}
	clear(f.score)
	for i, n := range c.Trials {
		f.v[i] = f.w[i]
		if n <= 0 {
			continue
		}
		cols, vals := f.d.row(i)
		r := c.Events[i] - f.mu[i]
		if o.Firth {
			h := f.leverage(i)
			r += h * (0.5 - f.mu[i]/n)
			f.v[i] *= 1 + h/n
		}
		for k, j := range cols {
			f.score[j] += r * vals[k]
		}
	}
	for j, p := range o.Penalty {
		f.score[j] -= p * b[j]
	}
	clear(f.step)
	if o.Firth {
		// As for n+h trials with h/2 more events, whose score this is: the
		// plain information is too small in small samples, and oversteps.
		f.gram(f.augmented, f.v)
		f.sub.of(f.augmented, f.d.cols, only, nil)
	}
	f.sub.solve(f.step, f.score, only)
	for i, n := range c.Trials {
		if n > 0 {
			longest = math.Max(longest, math.Abs(f.along(i)))
		}
	}
	return longest
}

// along is the step's change of pattern i's linear predictor.
func (f *Fitter) along(i int) (s float64) {
	cols, vals := f.d.row(i)
	for k, j := range cols {
		s += vals[k] * f.step[j]
	}
	return s
}

// leverage is w x' (X'WX)^-1 x, summed over the pattern's trials.
func (f *Fitter) leverage(i int) (h float64) {
	cols, vals := f.d.row(i)
	for a, ja := range cols {
		row, s := f.inverse[int(ja)*f.d.cols:], 0.0
		for k, jb := range cols[:a] {
			s += row[jb] * vals[k]
		}
		h += vals[a] * (2*s + row[ja]*vals[a])
	}
	return h * f.w[i]
}

// advance moves b along the step, halving it until the objective does not
// fall. Not ok means that no part of the step helped; b then stays.
func (f *Fitter) advance(fam family, c Counts, o FitOptions, full, only []int, b []float64, now objective, longest float64) (objective, bool) {
	t := 1.0
	if longest > longestStep {
		t = longestStep / longest
	}
	slack := 1e-12 * (1 + math.Abs(now.penalised))
	for range 40 {
		for j := range b {
			f.try[j] = b[j] + t*f.step[j]
		}
		next, ok := f.evaluate(fam, c, o, full, only, f.try)
		if ok && next.penalised >= now.penalised-slack {
			copy(b, f.try)
			return next, true
		}
		t /= 2
	}
	back, _ := f.evaluate(fam, c, o, full, only, b)
	return back, false
}

// separated checks whether the Newton step is a direction in which the
// likelihood never falls: then there is no maximum.
func (f *Fitter) separated(fam family, c Counts, o FitOptions, longest, rel float64) error {
	if o.Firth || !(longest > 0.3) {
		return nil
	}
	tol := rel * longest
	for j, p := range o.Penalty {
		if p > 0 && math.Abs(f.step[j])*f.d.scale[j] > tol {
			return nil
		}
	}
	for i, n := range c.Trials {
		if n > 0 && !fam.recedes(c.Events[i], n, f.along(i), tol) {
			return nil
		}
	}
	e := &SeparationError{}
	for j, s := range f.step {
		if math.Abs(s)*f.d.scale[j] > 0.01*longest*math.Min(1, f.d.scale[j]) {
			e.Columns = append(e.Columns, j)
		}
	}
	return e
}

func (f *Fitter) result(o FitOptions, b []float64, v objective, aliased, only []int, it int) *Fit {
	p := f.d.cols
	clear(f.inverse)
	f.sub.of(f.info, p, only, o.Penalty)
	f.sub.invert(f.inverse, p, only)
	cov := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			cov.SetSym(i, j, f.inverse[i*p+j])
		}
	}
	return &Fit{Coef: b, Cov: cov, LogLik: v.loglik, Penalised: v.penalised, Aliased: aliased, Iterations: it}
}
