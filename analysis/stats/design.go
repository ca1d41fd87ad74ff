package stats

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Design is the model matrix of a regression on covariate patterns: one row
// a pattern, one column a coefficient. It is read-only once made, so that many
// fits may share it, each with its own [Fitter]. Only the non-zero entries are
// walked: indicator columns cost little.
type Design struct {
	rows, cols int
	start      []int32 // row i owns entries start[i]:start[i+1]
	col        []int32
	val        []float64
	scale      []float64 // root mean square of each column, 1 for an empty one
}

// NewDesign takes a model matrix, the intercept among its columns where there
// is one (by custom the first, all 1). It copies what it needs. An empty
// matrix or an entry that is not finite is an error.
func NewDesign(x mat.Matrix) (*Design, error) {
	r, c := x.Dims()
	if r == 0 || c == 0 {
		return nil, errors.New("the model matrix is empty")
	}
	d := &Design{rows: r, cols: c, start: make([]int32, 1, r+1), scale: make([]float64, c)}
	for i := range r {
		for j := range c {
			v := x.At(i, j)
			if !finite(v) {
				return nil, fmt.Errorf("the model matrix holds %v in row %d, column %d", v, i, j)
			}
			if v != 0 {
				d.col, d.val = append(d.col, int32(j)), append(d.val, v)
				d.scale[j] += v * v
			}
		}
		d.start = append(d.start, int32(len(d.col)))
	}
	for j, s := range d.scale {
		d.scale[j] = math.Sqrt(s / float64(r))
		if s == 0 {
			d.scale[j] = 1
		}
	}
	return d, nil
}

func (d *Design) row(i int) ([]int32, []float64) {
	lo, hi := d.start[i], d.start[i+1]
	return d.col[lo:hi], d.val[lo:hi]
}

// Times is the linear predictor X b of each pattern, into dst (made if nil or
// too short). It is nil where b has not one entry a column.
func (d *Design) Times(dst, b []float64) []float64 {
	if len(b) != d.cols {
		return nil
	}
	if cap(dst) < d.rows {
		dst = make([]float64, d.rows)
	}
	dst = dst[:d.rows]
	for i := range dst {
		cols, vals := d.row(i)
		s := 0.0
		for k, j := range cols {
			s += vals[k] * b[j]
		}
		dst[i] = s
	}
	return dst
}

// Counts are the outcomes of the patterns: Trials the weight of each (orders,
// or any weight not below 0), Events the part of it that had the event. A
// pattern without trials is passed over, so that a resample is a new Counts on
// the same Design.
type Counts struct{ Events, Trials []float64 }

func (c Counts) check(rows int) error {
	if len(c.Events) != rows || len(c.Trials) != rows {
		return fmt.Errorf("the design has %d patterns, the counts have %d and %d", rows, len(c.Events), len(c.Trials))
	}
	for i, n := range c.Trials {
		if y := c.Events[i]; !(y >= 0 && y <= n*(1+1e-12)) || math.IsInf(n, 0) {
			return fmt.Errorf("pattern %d has %v events in %v trials", i, y, n)
		}
	}
	return nil
}

// Totals are the sums of events and trials.
func (c Counts) Totals() (events, trials float64) {
	for i, y := range c.Events {
		events += y
		trials += c.Trials[i]
	}
	return events, trials
}

// A SeparationError says that the likelihood has no maximum: a combination of
// Columns splits events from non-events without (or with only a tied)
// exception, and its coefficients would run away. Firth's penalty or a ridge
// gives an answer; so may more data.
type SeparationError struct{ Columns []int }

func (e *SeparationError) Error() string {
	return fmt.Sprintf("the data separate along columns %v: the likelihood has no maximum", e.Columns)
}

// ErrNotConverged is returned (wrapped) by a fit that had not settled after
// its last iteration.
var ErrNotConverged = errors.New("the fit did not converge")

// ErrNoVariation is returned (wrapped) where there are no events or nothing
// but events, or no trials at all.
var ErrNoVariation = errors.New("no model can be fitted: the outcome does not vary")
