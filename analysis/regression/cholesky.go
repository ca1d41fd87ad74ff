package regression

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// A Cholesky factor that sets aside columns which earlier ones make up already:
// mat.Cholesky of gonum refuses such a matrix, and mat.PivotedCholesky reorders
// it, so that the column set aside need not be the later one.

// factor is the factor of the information. A column that the
// others make up already is set aside (alias) and keeps its estimate.
func (f *Fit) factor() {
	p, a := f.p, f.chol
	copy(a, f.info)
	for j := range p {
		full, row := a[j*p+j], a[j*p:j*p+j]
		v := full - floats.Dot(row, row)
		f.alias[j] = !(v > 1e-9*full) || full == 0
		if f.alias[j] {
			for k := 0; k <= j; k++ {
				a[j*p+k] = 0
			}
			for i := j + 1; i < p; i++ {
				a[i*p+j] = 0
			}
			continue
		}
		root := math.Sqrt(v)
		a[j*p+j] = root
		for i := j + 1; i < p; i++ {
			a[i*p+j] = (a[i*p+j] - floats.Dot(a[i*p:i*p+j], row)) / root
		}
	}
}

// cholSolve solves L L' x = b; set-aside columns get 0.
func cholSolve(l []float64, alias []bool, b []float64, p int) []float64 {
	x := make([]float64, p)
	for i := range p {
		if alias[i] {
			continue
		}
		x[i] = (b[i] - floats.Dot(l[i*p:i*p+i], x[:i])) / l[i*p+i]
	}
	for i := p - 1; i >= 0; i-- {
		if alias[i] {
			continue
		}
		x[i] /= l[i*p+i]
		floats.AddScaled(x[:i], -x[i], l[i*p:i*p+i])
	}
	return x
}

// inverse of L L'; rows and columns set aside are 0.
func inverse(l []float64, alias []bool, p int) []float64 {
	inv, m := make([]float64, p*p), make([]float64, p*p) // m is the inverse of L, row by row
	for k := range p {
		if alias[k] {
			continue
		}
		row := m[k*p : k*p+k+1]
		for i, v := range l[k*p : k*p+k] {
			floats.AddScaled(row[:i+1], v, m[i*p:i*p+i+1])
		}
		floats.Scale(-1/l[k*p+k], row)
		row[k] = 1 / l[k*p+k]
		for i, v := range row {
			floats.AddScaled(inv[i*p:i*p+i+1], v, row[:i+1])
		}
	}
	for i := range p {
		for j := range i {
			inv[j*p+i] = inv[i*p+j]
		}
	}
	return inv
}
