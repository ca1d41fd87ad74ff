package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// FitOptions choose among the textbook fits of one model. The zero value is
// maximum likelihood.
type FitOptions struct {
	// Firth adds Jeffreys' penalty, half the log determinant of the
	// information, to the log-likelihood.
	Firth bool
	// Penalty is the quadratic penalty of each coefficient, taken off the
	// log-likelihood as sum of Penalty[j] b[j]^2 / 2; nil for none. See
	// RidgePenalty.
	Penalty []float64
	// Offset is added to each pattern's linear predictor; nil for none.
	Offset []float64
	// Start are the coefficients to start from (a warm start); nil for 0.
	Start []float64
	// Only are the columns to fit, the others staying at Start (at 0 without
	// one); nil for all. Firth's penalty keeps the full design all the same.
	Only []int
	// MaxIterations is the most Newton steps; 0 means 50, or 500 with Firth,
	// whose steps converge more slowly.
	MaxIterations int
}

// A Fit is a fitted regression. All its numbers are finite.
type Fit struct {
	Coef []float64
	// Cov is the inverse information at the estimate, on the natural scale:
	// of the likelihood, with the quadratic penalty where there is one. Rows
	// of columns that were not fitted are 0.
	Cov *mat.SymDense
	// LogLik is the log-likelihood, binomial coefficients left out; Penalised
	// is what was maximised (the same without penalty).
	LogLik, Penalised float64
	// Aliased are the columns that are a linear combination of earlier ones
	// where there are trials; their coefficients are held at 0.
	Aliased    []int
	Iterations int
}

// SE is the standard error of coefficient j, 0 where it was not fitted.
func (f *Fit) SE(j int) float64 { return math.Sqrt(f.Cov.At(j, j)) }

// Wald is coefficient j with its Wald interval; n is what the caller counts.
// For a Firth fit use [Fitter.ProfileFirth] instead.
func (f *Fit) Wald(j int, level float64, n int) Estimate {
	const method = "Wald"
	se := f.SE(j)
	if math.IsNaN(Z(level)) {
		return Missing(n, method, badLevel(level))
	}
	if se == 0 {
		return Missing(n, method, "the column says nothing that others do not say already")
	}
	return Estimate{Point: f.Coef[j], Low: f.Coef[j] - Z(level)*se, High: f.Coef[j] + Z(level)*se, Level: level, N: n, Method: method}
}

// Logistic fits log(p/(1-p)) = offset + X b to events in trials by iteratively
// reweighted least squares (Newton's method with step halving).
//
// With Firth, the score of coefficient j is sum over patterns of
// (y - n p + h(1/2 - p)) x_j, h the pattern's summed leverage: estimates stay
// finite under separation and are less biased with few events. They pull risks
// toward 1/2: for risks, refit the intercept ([Fitter.RefitIntercept]).
//
// Without a penalty, separation is a [*SeparationError]: it is proved by a
// direction along which every observed event pattern does not fall and every
// non-event pattern does not rise. No variation of the outcome is
// [ErrNoVariation] (with Firth it is not), no settling [ErrNotConverged].
//
// McCullagh P, Nelder JA (1989) Generalized Linear Models, ch. 4; Firth D
// (1993) Biometrika 80:27-38; Heinze G, Schemper M (2002) Stat Med
// 21:2409-2419; Albert A, Anderson JA (1984) Biometrika 71:1-10.
func (f *Fitter) Logistic(c Counts, o FitOptions) (*Fit, error) {
	if err := c.check(f.d.rows); err != nil {
		return nil, err
	}
	events, trials := c.Totals()
	if trials <= 0 || !o.Firth && (events <= 0 || events >= trials) {
		return nil, fmt.Errorf("%w (%g events in %g)", ErrNoVariation, events, trials)
	}
	return f.fit(logisticFamily{}, c, o)
}

type logisticFamily struct{}

// at gives mean and weight (both times n), and the log-likelihood.
func (logisticFamily) at(y, n, eta float64) (mu, w, loglik float64) {
	e := math.Exp(-math.Abs(eta))
	p := 1 / (1 + e) // of the likelier outcome
	w = n * p * (1 - p)
	softplus := math.Log1p(e) + math.Max(eta, 0) // log(1+exp(eta))
	if eta < 0 {
		p = e / (1 + e)
	}
	return n * p, w, y*eta - n*softplus
}

// recedes: can the pattern's likelihood stay or rise as eta moves by d for
// ever? Events only: not down; non-events only: not up; both: not at all.
func (logisticFamily) recedes(y, n, d, tol float64) bool {
	return (y <= 0 || d >= -tol) && (n-y <= 0 || d <= tol)
}

// Logit is log(p/(1-p)): infinite at 0 and 1, NaN outside [0,1].
func Logit(p float64) float64 { return math.Log(p / (1 - p)) }

// Logistic is 1/(1+exp(-x)), exact at both ends.
func Logistic(x float64) float64 {
	if x < 0 {
		e := math.Exp(x)
		return e / (1 + e)
	}
	return 1 / (1 + math.Exp(-x))
}
