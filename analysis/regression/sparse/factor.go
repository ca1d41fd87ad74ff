package sparse

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// A Factor is a Cholesky factor that sets aside columns which earlier ones make up
// already: mat.Cholesky of gonum refuses such a matrix, and mat.PivotedCholesky reorders
// it, so that the column set aside need not be the later one.
type Factor struct {
	L     []float64 // its lower triangle, p x p
	Aside []bool    // columns set aside
}

// NewFactor has room for p columns.
func NewFactor(p int) Factor { return Factor{make([]float64, p*p), make([]bool, p)} }

// Copy takes g's place.
func (f *Factor) Copy(g Factor) {
	copy(f.L, g.L)
	copy(f.Aside, g.Aside)
}

// Take makes it the factor of a matrix, of which the lower triangle is looked at.
func (f *Factor) Take(m []float64) {
	p, a := len(f.Aside), f.L
	copy(a, m)
	for j := range p {
		full, row := a[j*p+j], a[j*p:j*p+j]
		v := full - floats.Dot(row, row)
		f.Aside[j] = !(v > 1e-9*full) || full == 0
		if f.Aside[j] {
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

// Solve solves L L' x = b; columns set aside get 0.
func (f *Factor) Solve(b []float64) []float64 {
	l, p := f.L, len(f.Aside)
	x := make([]float64, p)
	for i := range p {
		if f.Aside[i] {
			continue
		}
		x[i] = (b[i] - floats.Dot(l[i*p:i*p+i], x[:i])) / l[i*p+i]
	}
	for i := p - 1; i >= 0; i-- {
		if f.Aside[i] {
			continue
		}
		x[i] /= l[i*p+i]
		floats.AddScaled(x[:i], -x[i], l[i*p:i*p+i])
	}
	return x
}

// Inverse is that of L L'; rows and columns set aside are 0.
func (f *Factor) Inverse() []float64 {
	l, p := f.L, len(f.Aside)
	inv, m := make([]float64, p*p), make([]float64, p*p) // m is the inverse of L, row by row
	for k := range p {
		if f.Aside[k] {
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
