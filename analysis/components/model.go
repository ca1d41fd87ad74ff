package components

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A cell is where a row was read by a column: how often, with which fixed
// effects.
type cell struct {
	column int
	n      float64
	x      []float64
}

// A pattern is rows with the same cells, as all legs of one session mostly are:
// how many, and of their cells' means the sums and the sums of products. The
// likelihood needs no more of them.
type pattern struct {
	cells []cell
	count float64
	sum   []float64
	cross []float64 // len(cells) x len(cells)
}

// A model is the readings, pattern by pattern.
type model struct {
	patterns    []*pattern
	n           int // readings
	cells       int
	rows        int
	p           int // fixed effects
	columns     int
	within      float64 // sum of squares within cells
	square      float64 // mean square of the cells' means: what is small beside it is rounding, not spread
	interaction bool

	// Of eliminate, kept from call to call: its equations, and what one row's entry
	// couples to.
	a     *mat.SymDense
	left  []float64
	right []float64
	row   []float64
}

func cellsOf(readings []Reading) *model {
	kept := slices.DeleteFunc(slices.Clone(readings), func(r Reading) bool {
		return math.IsNaN(r.Y) || math.IsInf(r.Y, 0) || slices.ContainsFunc(r.X, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
	})
	slices.SortFunc(kept, func(a, b Reading) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Y, b.Y))
	})
	m := &model{n: len(kept)}
	number := map[int]int{} // columns as they come
	like := map[string]*pattern{}
	for i := 0; i < len(kept); {
		var cells []cell
		var means []float64
		row := kept[i].Row
		for i < len(kept) && kept[i].Row == row {
			first, sum, j := kept[i], 0.0, i
			for ; j < len(kept) && kept[j].Row == row && kept[j].Column == first.Column; j++ {
				sum += kept[j].Y
			}
			k, known := number[first.Column]
			if !known {
				k = len(number)
				number[first.Column] = k
			}
			mean := sum / float64(j-i)
			for _, r := range kept[i:j] {
				m.within += (r.Y - mean) * (r.Y - mean)
			}
			cells, means = append(cells, cell{k, float64(j - i), first.X}), append(means, mean)
			m.square += mean * mean
			m.p, i = len(first.X), j
		}
		key := fmt.Sprint(cells)
		p := like[key]
		if p == nil {
			p = &pattern{cells: cells, sum: make([]float64, len(cells)), cross: make([]float64, len(cells)*len(cells))}
			like[key] = p
			m.patterns = append(m.patterns, p)
		}
		p.count++
		for j, y := range means {
			p.sum[j] += y
			for l, z := range means {
				p.cross[j*len(means)+l] += y * z
			}
		}
		m.cells, m.rows = m.cells+len(cells), m.rows+1
	}
	m.columns, m.square = len(number), m.square/float64(max(m.cells, 1))
	return m
}

// A solution is what follows from the relative spreads: the likeliest variance of
// a trial, the fixed effects and their variance over that of a trial.
type solution struct {
	trial, residual, logdet float64
	effects                 []float64
	variance                *mat.SymDense
}

// criterion is -2 times the restricted log-likelihood.
func (m *model) criterion(p place) float64 {
	s := m.eliminate(p.of, false)
	df := float64(m.n - m.p)
	if math.IsNaN(s.residual) {
		return math.Inf(1)
	}
	if math.IsNaN(p.trial) {
		return df*(1+math.Log(2*math.Pi*s.trial)) + s.logdet
	}
	if !(p.trial > 0) || math.IsInf(p.trial, 0) {
		return math.Inf(1)
	}
	return df*math.Log(2*math.Pi*p.trial) + s.residual/p.trial + s.logdet
}

// eliminate works out the residual sum of squares and the log determinant of the
// mixed model's equations at relative spreads. With a cell's weight 1/(1/n +
// interaction^2) the interaction is gone; each row is one diagonal entry, and what
// it leaves of the columns and fixed effects is summed up. effects asks for the
// fixed effects as well.
func (m *model) eliminate(r relative, effects bool) solution {
	q := 0
	if m.columns > 1 && r[columns] != 0 {
		q = m.columns
	}
	size := q + m.p
	if m.a == nil || m.a.SymmetricDim() != size {
		m.left, m.right, m.row = make([]float64, size*size), make([]float64, size), make([]float64, size)
		m.a = mat.NewSymDense(size, m.left)
	}
	clear(m.left)
	clear(m.right)
	a, b, row := m.left, m.right, m.row
	s := solution{residual: m.within}
	ofRow := r[rows]
	for _, p := range m.patterns {
		clear(row)
		diagonal, right, square := 1.0, 0.0, 0.0
		for j, c := range p.cells {
			w := 1 / (1/c.n + r[interactions]*r[interactions])
			s.logdet += p.count * math.Log1p(c.n*r[interactions]*r[interactions])
			s.residual += w * p.cross[j*len(p.cells)+j]
			diagonal += ofRow * ofRow * w
			right += ofRow * w * p.sum[j]
			for l, d := range p.cells {
				square += ofRow * ofRow * w / (1/d.n + r[interactions]*r[interactions]) * p.cross[j*len(p.cells)+l]
			}
			if q > 0 {
				k := c.column
				a[k*size+k] += p.count * r[columns] * r[columns] * w
				b[k] += r[columns] * w * p.sum[j]
				row[k] += ofRow * r[columns] * w
			}
			for j2, x := range c.x {
				b[q+j2] += w * x * p.sum[j]
				row[q+j2] += ofRow * w * x
				for l := j2; l < len(c.x); l++ {
					a[(q+j2)*size+q+l] += p.count * w * x * c.x[l]
				}
				if q > 0 {
					a[c.column*size+q+j2] += p.count * r[columns] * w * x
				}
			}
		}
		s.logdet += p.count * math.Log(diagonal)
		s.residual -= square / diagonal
		for u, v := range row {
			if v == 0 {
				continue
			}
			b[u] -= v * right / diagonal
			for l := u; l < size; l++ {
				a[u*size+l] -= p.count * v * row[l] / diagonal
			}
		}
	}
	for k := range q {
		a[k*size+k]++
	}
	if size > 0 {
		var chol mat.Cholesky
		var x mat.VecDense
		y := mat.NewVecDense(size, b)
		if !chol.Factorize(m.a) || chol.SolveVecTo(&x, y) != nil {
			return solution{residual: math.NaN()}
		}
		s.residual -= mat.Dot(y, &x)
		s.logdet += chol.LogDet()
		if effects {
			var inverse mat.SymDense
			if chol.InverseTo(&inverse) != nil {
				return solution{residual: math.NaN()}
			}
			s.variance = mat.NewSymDense(m.p, nil)
			for j := range m.p {
				s.effects = append(s.effects, x.AtVec(q+j))
				for l := j; l < m.p; l++ {
					s.variance.SetSym(j, l, inverse.At(q+j, q+l))
				}
			}
		}
	}
	s.residual = math.Max(s.residual, 1e-300)
	s.trial = s.residual / float64(m.n-m.p)
	return s
}
