package regression

import "math"

// A Cholesky factor that sets aside columns which earlier ones make up already:
// mat.Cholesky of gonum refuses such a matrix, and mat.PivotedCholesky reorders
// it, so that the column set aside need not be the later one.

// factor is the factor of the information. A column that the
// others make up already is set aside (alias) and keeps its estimate.
func (f *Fit) factor() {
	p, a := f.p, f.chol
	copy(a, f.info)
	for j := range p {
		full := a[j*p+j]
		v := full
		for k := range j {
			v -= a[j*p+k] * a[j*p+k]
		}
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
			s := a[i*p+j]
			for k := range j {
				s -= a[i*p+k] * a[j*p+k]
			}
			a[i*p+j] = s / root
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
		s := b[i]
		for k := range i {
			s -= l[i*p+k] * x[k]
		}
		x[i] = s / l[i*p+i]
	}
	for i := p - 1; i >= 0; i-- {
		if alias[i] {
			continue
		}
		s := x[i]
		for k := i + 1; k < p; k++ {
			s -= l[k*p+i] * x[k]
		}
		x[i] = s / l[i*p+i]
	}
	return x
}

// inverse of L L'; rows and columns set aside are 0.
func inverse(l []float64, alias []bool, p int) []float64 {
	inv := make([]float64, p*p)
	b := make([]float64, p)
	for j := range p {
		if alias[j] {
			continue
		}
		clear(b)
		b[j] = 1
		for i, v := range cholSolve(l, alias, b, p) {
			inv[i*p+j] = v
		}
	}
	return inv
}
