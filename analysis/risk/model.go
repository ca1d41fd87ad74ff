package risk

import (
	"errors"
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// leastRemakes is how many remakes a model needs (judgement: with fewer, the
// ridge leaves little but the base rate, and later orders can't show whether it is
// right).
const leastRemakes = 40

// A Model is what was learnt from the orders of a book: all that a risk needs, and
// no person's data.
type Model struct {
	Orders  int     `json:"orders"`  // it was fitted on, young ones as far as they go
	Remakes int     `json:"remakes"` // among them
	Rate    float64 `json:"rate"`    // mean fitted risk
	Shrunk  float64 `json:"penalty"` // of a column's effect times its spread, on the logit scale
	// Measurers is the standard deviation of the measurers' own log odds; 0: they
	// were not told apart.
	Measurers float64   `json:"measurer_spread"`
	Effective float64   `json:"effective_terms"` // what is left of the columns after shrinking
	Names     []string  `json:"names"`           // of the columns
	Coef      []float64 `json:"coefficients"`
	// Covariance of the coefficients: the lower triangle, row by row.
	Covariance []float64 `json:"covariance"`
	Terms      []term    `json:"terms"`
	// FaultUsual are the means of the columns of each fault: with it, unknown.
	FaultUsual [][2]float64 `json:"fault_usual"`
	// Why there is no model, in words; "" if there is one.
	Why string `json:"why"`

	with, unknown []int // columns of the faults; -1: none
	first         []int // first column of each term
}

// A past is what was known on a day.
type past struct{ asOf cohort.Day }

// A fitted is a model with all that it was fitted on.
type fitted struct {
	*Model
	d       *regression.Design
	fit     *regression.Fit
	penalty []float64
	folds   *regression.Folds
	share   []float64 // of remakes reported by the edges of d
	shrink  shrinkage
}

// fitOn fits the model on the orders shipped by a day as they were known then.
func fitOn(c *cohort.Cohort, histories []History, p past) (*fitted, error) {
	s := subjects(c, p)
	var rows []int
	for i := range c.Shipped {
		if s.Age(i) >= edges[0] && s.Keep(i) {
			rows = append(rows, i)
		}
	}
	k := newCoder(c, rows, histories)
	var exposures []regression.Exposure
	for f, fault := range form.Faults {
		exposures = append(exposures, regression.Exposure{Name: fault.ID, Level: func(i int) regression.Level { return level(c.Cut[f][i]) }})
	}
	d := regression.NewDesign(s, k.terms, exposures)
	w := d.Whole()
	m := &Model{Orders: len(d.Subject), Remakes: int(w.Events()), Terms: k.Terms, Names: d.Names}
	x := &fitted{Model: m, d: d, share: w.Share}
	if m.Remakes < leastRemakes {
		m.Why = fmt.Sprintf("too few to tell: %d remakes, %d needed", m.Remakes, leastRemakes)
		return x, nil
	}
	if err := x.settle(w); err != nil {
		var few *regression.TooFewError
		if errors.As(err, &few) {
			m.Why = fmt.Sprintf("too few to tell: %.0f of %.0f orders were remade", few.Events, few.Subjects)
			return x, nil
		}
		return nil, err
	}
	m.take(x)
	return x, nil
}

// subjects are the orders shipped by a day as they were known then.
func subjects(c *cohort.Cohort, p past) regression.Subjects {
	return regression.Subjects{
		N:   c.Len(),
		Age: func(i int) int { return int(p.asOf - c.Shipped[i]) },
		Event: func(i int) (int, bool) {
			switch {
			case !remakes.Event(c, i):
				return 0, false
			case c.RemadeWithoutDay(i):
				return regression.NoDay, true
			}
			return int(c.Remade[i] - c.Shipped[i]), c.Remade[i] <= p.asOf
		},
		Cluster: c.Customer, Edges: edges,
		// Of a remake without a day nobody can say whether it was known in the past,
		// unless its year was over.
		Keep: func(i int) bool {
			return p.asOf == c.AsOf || !c.RemadeWithoutDay(i) || int(p.asOf-c.Shipped[i]) >= remakes.Horizon
		},
	}
}

// edges are the ages at which follow-up is cut: every 30 days and the horizon.
var edges = func() (e []int) {
	for a := 30; a < remakes.Horizon; a += 30 {
		e = append(e, a)
	}
	return append(e, remakes.Horizon)
}()

// take copies the fit into the model.
func (m *Model) take(x *fitted) {
	m.Coef = x.fit.Coef
	p := len(m.Coef)
	v := x.fit.Covariance()
	for i := range p {
		m.Covariance = append(m.Covariance, v[i*p:i*p+i+1]...)
	}
	w := x.d.Whole()
	n := 0.0
	m.FaultUsual = make([][2]float64, len(form.Faults))
	for i := range x.d.Patterns() {
		of := w.Slot[2*i] + w.Slot[2*i+1]
		n += of
		m.Rate += of * x.fit.Risk(i)
		for f := range form.Faults {
			switch x.d.Levels(f)[i] {
			case regression.With:
				m.FaultUsual[f][0] += of
			case regression.Unknown:
				m.FaultUsual[f][1] += of
			}
		}
	}
	m.Rate /= n
	for f := range m.FaultUsual {
		m.FaultUsual[f][0] /= n
		m.FaultUsual[f][1] /= n
	}
	m.index()
}

// index finds the columns of faults and terms by their names.
func (m *Model) index() {
	place := make(map[string]int, len(m.Names))
	for j, name := range m.Names {
		place[name] = j
	}
	at := func(name string) int {
		if j, ok := place[name]; ok {
			return j
		}
		return -1
	}
	m.with, m.unknown, m.first = nil, nil, nil
	for _, f := range form.Faults {
		m.with, m.unknown = append(m.with, at(f.ID)), append(m.unknown, at(f.ID+" "+notKnown))
	}
	next := 1
	for _, t := range m.Terms {
		m.first = append(m.first, next)
		next += len(t.Columns)
	}
}

// row are a case's values, one a column.
func (m *Model) row(c *Case) []float64 {
	x := make([]float64, len(m.Coef))
	x[0] = 1
	for k := range m.Terms {
		copy(x[m.first[k]:], m.Terms[k].values(c))
	}
	for f := range form.Faults {
		j := -1
		switch c.Cut[f] {
		case form.With:
			j = m.with[f]
		case form.Unknown:
			j = m.unknown[f]
		}
		if j >= 0 {
			x[j] = 1
		}
	}
	return x
}

func dot(a, b []float64) float64 {
	s := 0.0
	for j, v := range a {
		s += v * b[j]
	}
	return s
}

// variance is that of x times the coefficients.
func (m *Model) variance(x []float64) float64 {
	v, at := 0.0, 0
	for i, a := range x {
		if a != 0 {
			for j, b := range x[:i] {
				v += 2 * a * b * m.Covariance[at+j]
			}
			v += a * a * m.Covariance[at+i]
		}
		at += i + 1
	}
	return v
}

// risk is the chance that the order is remade within a year of shipping.
func (m *Model) risk(c *Case) float64 { return stats.Logistic(dot(m.Coef, m.row(c))) }

const riskMethod = "ridge logistic regression, interval on the logit scale"

// estimate is risk with its interval.
func (m *Model) estimate(c *Case) stats.Estimate {
	x := m.row(c)
	eta, spread := dot(m.Coef, x), stats.Z(stats.DefaultLevel)*math.Sqrt(m.variance(x))
	return stats.Estimate{Point: stats.Logistic(eta), Low: stats.Logistic(eta - spread), High: stats.Logistic(eta + spread),
		Level: stats.DefaultLevel, N: m.Orders, Method: riskMethod}
}

// ready indexes a model that was read from a file.
func (m *Model) ready() error {
	if m == nil {
		return errors.New("there is no model in it")
	}
	if m.Why != "" {
		return nil
	}
	p := len(m.Coef)
	columns := 1
	for _, t := range m.Terms {
		columns += len(t.Columns)
		if len(t.Usual) != len(t.Columns) || t.Curve == nil && t.Clock == nil && t.Levels == nil {
			return fmt.Errorf("its term %q is broken", t.Name)
		}
		if t.Curve != nil && (len(t.Curve.Knots) < 2 || !(t.Curve.Step > 0)) {
			return fmt.Errorf("its curve %q is broken", t.Name)
		}
		for _, k := range t.Levels {
			if k < 0 || k >= len(t.Columns) {
				return fmt.Errorf("its term %q is broken", t.Name)
			}
		}
	}
	if p == 0 || len(m.Names) != p || columns > p || len(m.Covariance) != p*(p+1)/2 || len(m.FaultUsual) != len(form.Faults) {
		return errors.New("its coefficients do not fit its terms")
	}
	m.index()
	return nil
}
