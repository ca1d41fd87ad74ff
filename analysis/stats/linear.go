package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Linear is a least-squares fit.
type Linear struct {
	Coef       []float64
	Cov        *mat.SymDense // ResidualSD^2 (X'WX)^-1; NaN without a degree of freedom
	ResidualSD float64       // NaN without a degree of freedom
	R2         float64       // of the variation about the mean; NaN where y does not vary
	DF         int           // rows less columns
}

// LeastSquares fits y = X b by QR decomposition, columns scaled to length 1,
// so that nearly dependent columns keep their digits (normal equations lose
// twice as many). weights, nil for none, must be above 0. R2 takes column 0
// for an intercept.
//
// Fewer rows than columns, columns that depend on each other, or numbers that
// are not finite are errors. Tested to NIST's reference data sets.
func LeastSquares(x mat.Matrix, y, weights []float64) (*Linear, error) {
	n, p := x.Dims()
	if n < p || p == 0 || len(y) != n || weights != nil && len(weights) != n {
		return nil, fmt.Errorf("%d rows, %d columns and %d values can't be fitted", n, p, len(y))
	}
	a, b, length := mat.NewDense(n, p, nil), mat.NewVecDense(n, nil), make([]float64, p)
	for i := range n {
		w := math.Sqrt(weightAt(weights, i))
		if !(w > 0) || !finite(w*y[i]) {
			return nil, fmt.Errorf("row %d has the value %v with weight %v", i, y[i], weightAt(weights, i))
		}
		b.SetVec(i, w*y[i])
		for j := range p {
			v := w * x.At(i, j)
			a.Set(i, j, v)
			length[j] = math.Hypot(length[j], v)
		}
	}
	for j, l := range length {
		if !(l > 0) || !finite(l) {
			return nil, fmt.Errorf("column %d is empty or not finite", j)
		}
		for i := range n {
			a.Set(i, j, a.At(i, j)/l)
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	if qr.Cond() > 1e12 {
		return nil, fmt.Errorf("the columns depend on each other (condition %.3g)", qr.Cond())
	}
	var coef mat.VecDense
	_ = qr.SolveVecTo(&coef, false, b) // warns of the condition, which is bounded above
	return linearResult(&qr, a, b, &coef, length, weights, y), nil
}

func linearResult(qr *mat.QR, a *mat.Dense, b, coef *mat.VecDense, length, weights, y []float64) *Linear {
	n, p := a.Dims()
	fit := &Linear{Coef: make([]float64, p), DF: n - p, ResidualSD: math.NaN(), R2: math.NaN()}
	var resid mat.VecDense
	resid.MulVec(a, coef)
	resid.SubVec(b, &resid)
	rss := mat.Dot(&resid, &resid)
	if fit.DF > 0 {
		fit.ResidualSD = math.Sqrt(rss / float64(fit.DF))
	}
	var sw, mean, tss float64
	for i := range y {
		w := weightAt(weights, i)
		sw += w
		mean += w * (y[i] - mean) / sw
	}
	for i := range y {
		tss += weightAt(weights, i) * (y[i] - mean) * (y[i] - mean)
	}
	if tss > 0 {
		fit.R2 = 1 - rss/tss
	}
	var r mat.Dense
	qr.RTo(&r)
	inverse, identity := mat.NewDense(p, p, nil), mat.NewDiagDense(p, nil)
	for j := range p {
		fit.Coef[j] = coef.AtVec(j) / length[j]
		identity.SetDiag(j, 1)
	}
	_ = inverse.Solve(r.Slice(0, p, 0, p), identity)
	fit.Cov = mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			v := mat.Dot(inverse.RowView(i), inverse.RowView(j))
			fit.Cov.SetSym(i, j, v*fit.ResidualSD*fit.ResidualSD/(length[i]*length[j]))
		}
	}
	return fit
}

// SE is the standard error of coefficient j.
func (f *Linear) SE(j int) float64 { return math.Sqrt(f.Cov.At(j, j)) }
