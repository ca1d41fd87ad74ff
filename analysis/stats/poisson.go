package stats

import (
	"fmt"
	"math"
)

// Poisson fits log(mean) = offset + X b to counts by iteratively reweighted
// least squares, as for a segmented (interrupted time series) regression with
// the log of the numbers at risk as offset. Each row is one observation.
//
// Counts that are all 0 are [ErrNoVariation]. A column that marks only zero
// counts is a [*SeparationError]. Penalties as in [FitOptions].
//
// McCullagh P, Nelder JA (1989) Generalized Linear Models, ch. 6; Lopez Bernal
// J, Cummins S, Gasparrini A (2017) Int J Epidemiol 46:348-355.
func (f *Fitter) Poisson(counts []float64, o FitOptions) (*Fit, error) {
	if len(counts) != f.d.rows {
		return nil, fmt.Errorf("the design has %d rows, the counts %d", f.d.rows, len(counts))
	}
	sum := 0.0
	for i, y := range counts {
		if !(y >= 0) || math.IsInf(y, 0) {
			return nil, fmt.Errorf("row %d has the count %v", i, y)
		}
		sum += y
	}
	if sum == 0 {
		return nil, fmt.Errorf("%w (all counts are 0)", ErrNoVariation)
	}
	one := make([]float64, len(counts))
	for i := range one {
		one[i] = 1
	}
	return f.fit(poissonFamily{}, Counts{counts, one}, o)
}

// QuasiDispersion is Pearson's estimate of the dispersion of a Poisson fit,
// sum of (y - mu)^2/mu over the residual degrees of freedom. Multiply Cov by
// it for quasi-Poisson standard errors. It is NaN without a degree of freedom
// to spare.
func (f *Fitter) QuasiDispersion(counts []float64, fit *Fit, offset []float64) float64 {
	df := f.d.rows - (f.d.cols - len(fit.Aliased))
	if df < 1 || len(counts) != f.d.rows {
		return math.NaN()
	}
	x2 := 0.0
	for i, eta := range f.d.Times(nil, fit.Coef) {
		if offset != nil {
			eta += offset[i]
		}
		mu := math.Exp(eta)
		x2 += (counts[i] - mu) * (counts[i] - mu) / mu
	}
	return x2 / float64(df)
}

type poissonFamily struct{}

func (poissonFamily) at(y, _, eta float64) (mu, w, loglik float64) {
	mu = math.Exp(eta)
	return mu, mu, y*eta - mu
}

func (poissonFamily) recedes(y, _, d, tol float64) bool {
	return d <= tol && (y <= 0 || d >= -tol)
}
