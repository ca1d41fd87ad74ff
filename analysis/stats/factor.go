package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A factor is the Cholesky factor of a symmetric matrix restricted to some
// columns and scaled to a unit diagonal, so that columns in years and columns
// in shares do not spoil each other's digits.
type factor struct {
	diag   []float64
	sym    *mat.SymDense
	chol   mat.Cholesky
	rhs    *mat.VecDense
	logDet float64
}

// of factors the lower triangle of m (p x p) at cols, plus the penalty on the
// diagonal. It is false where that is not positive definite.
func (f *factor) of(m []float64, p int, cols []int, penalty []float64) bool {
	k := len(cols)
	if f.sym == nil || f.sym.SymmetricDim() != k {
		f.sym, f.rhs, f.diag = mat.NewSymDense(k, nil), mat.NewVecDense(k, nil), make([]float64, k)
	}
	f.logDet = 0
	for a, j := range cols {
		v := m[j*p+j]
		if penalty != nil {
			v += penalty[j]
		}
		if !(v > 0) || math.IsInf(v, 0) {
			return false
		}
		f.diag[a] = math.Sqrt(v)
		f.logDet += math.Log(v)
		for b, jb := range cols[:a] {
			f.sym.SetSym(a, b, m[j*p+jb]/(f.diag[a]*f.diag[b]))
		}
		f.sym.SetSym(a, a, 1)
	}
	if !f.chol.Factorize(f.sym) {
		return false
	}
	f.logDet += f.chol.LogDet()
	return finite(f.logDet)
}

// solve puts the solution for the right-hand side into dst at cols.
func (f *factor) solve(dst, rhs []float64, cols []int) {
	for a, j := range cols {
		f.rhs.SetVec(a, rhs[j]/f.diag[a])
	}
	// The error only warns of a poor condition: the step is checked by what
	// it does to the objective.
	_ = f.chol.SolveVecTo(f.rhs, f.rhs)
	for a, j := range cols {
		dst[j] = f.rhs.AtVec(a) / f.diag[a]
	}
}

// invert puts the inverse into the lower triangle of dst (p x p) at cols.
func (f *factor) invert(dst []float64, p int, cols []int) {
	_ = f.chol.InverseTo(f.sym) // as in solve
	for a, j := range cols {
		for b, jb := range cols[:a+1] {
			dst[j*p+jb] = f.sym.At(a, b) / (f.diag[a] * f.diag[b])
		}
	}
}

// aliased are the columns that earlier columns already span where there are
// trials. A penalised column is always told apart.
func (f *Fitter) aliased(trials, penalty []float64) (out []int) {
	p := f.d.cols
	f.gram(f.info, trials)
	m, diag := f.info, f.diag
	for j := range p {
		if penalty != nil {
			m[j*p+j] += penalty[j]
		}
		diag[j] = m[j*p+j]
	}
	for j := range p {
		row, pivot := m[j*p:j*p+p], 0.0
		for k := range j { // row j of the Cholesky factor, aliased columns skipped
			for l := range k {
				row[k] -= row[l] * m[k*p+l]
			}
			if m[k*p+k] == 0 {
				row[k] = 0
			} else {
				row[k] /= m[k*p+k]
			}
			pivot += row[k] * row[k]
		}
		pivot = row[j] - pivot
		if !(pivot > aliasTolerance*diag[j]) {
			out, row[j] = append(out, j), 0
			clear(row[:j])
			continue
		}
		row[j] = math.Sqrt(pivot)
	}
	return out
}
