package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// ProfileFirth is coefficient j of a Firth fit with its profile penalised
// likelihood interval: the values v at which twice the fall of the penalised
// log-likelihood, the other coefficients refitted, reaches the chi-squared
// quantile of the level. The penalty keeps the full design. fit must come from
// Logistic with Firth on the same counts and options; n is what the caller
// counts. The limits are finite under separation too.
//
// An aliased or unfitted column, or a search that does not settle, gives
// Missing. Heinze G, Schemper M (2002) Stat Med 21:2409-2419.
func (f *Fitter) ProfileFirth(c Counts, fit *Fit, o FitOptions, j int, level float64, n int) Estimate {
	const method = "Firth penalised likelihood, profile interval"
	switch {
	case j < 0 || j >= f.d.cols || fit.SE(j) == 0:
		return Missing(n, method, "the column says nothing that others do not say already")
	case math.IsNaN(Z(level)):
		return Missing(n, method, badLevel(level))
	}
	drop := distuv.ChiSquared{K: 1}.Quantile(level)
	lo := f.profileLimit(c, fit, o, j, -1, drop)
	hi := f.profileLimit(c, fit, o, j, +1, drop)
	if !finite(lo) || !finite(hi) {
		return Missing(n, method, "the search for the interval did not settle")
	}
	return Estimate{Point: fit.Coef[j], Low: lo, High: hi, Level: level, N: n, Method: method}
}

// PenalisedLRTest tests that coefficient j of a Firth fit is value: twice the
// fall of the penalised log-likelihood, one degree of freedom, the penalty
// keeping the full design. NaN where the restricted fit fails.
func (f *Fitter) PenalisedLRTest(c Counts, fit *Fit, o FitOptions, j int, value float64) Test {
	start := slices.Clone(fit.Coef)
	at, err := f.profileAt(c, fit, o, j, value, start)
	if err != nil {
		return chi2Test(math.NaN(), 0)
	}
	return chi2Test(math.Max(0, 2*(fit.Penalised-at)), 1)
}

// profileAt is the penalised log-likelihood with coefficient j at value and
// the rest refitted from start, which is left at what was found. Of a fit that
// fails, start is left alone.
func (f *Fitter) profileAt(c Counts, fit *Fit, o FitOptions, j int, value float64, start []float64) (float64, error) {
	if j < 0 || j >= f.d.cols || fit.SE(j) == 0 {
		return 0, fmt.Errorf("there is no fitted column %d", j)
	}
	// The others follow along the ridge of the likelihood, as far as the
	// covariance at the estimate knows it.
	at, move := slices.Clone(start), value-start[j]
	o.Firth, o.Start, o.Only = true, at, nil
	for k := range f.d.cols {
		if k != j && fit.SE(k) > 0 {
			at[k] += move * fit.Cov.At(k, j) / fit.Cov.At(j, j)
			o.Only = append(o.Only, k)
		}
	}
	at[j] = value
	if o.Only == nil { // nothing else to fit: a single evaluation
		full, _ := f.columns(fit.Aliased, nil)
		v, ok := f.evaluate(logisticFamily{}, c, o, full, full, at)
		if !ok {
			return 0, ErrNotConverged
		}
		return v.penalised, nil
	}
	sub, err := f.Logistic(c, o)
	if err != nil {
		return 0, err
	}
	copy(start, sub.Coef)
	return sub.Penalised, nil
}

// profileLimit walks outward from the estimate until the fall passes drop,
// in shorter steps where the refit fails, and finds the crossing. It is NaN
// where that does not work.
func (f *Fitter) profileLimit(c Counts, fit *Fit, o FitOptions, j, side int, drop float64) float64 {
	start := slices.Clone(fit.Coef)
	gap := func(v float64) float64 {
		at, err := f.profileAt(c, fit, o, j, v, start)
		if err != nil {
			return math.NaN()
		}
		return 2*(fit.Penalised-at) - drop
	}
	near, reach := fit.Coef[j], float64(side)*1.2*fit.SE(j)*math.Sqrt(drop)
	for range 60 {
		switch g := gap(near + reach); {
		case math.IsNaN(g):
			reach /= 2
		case g > 0:
			return root(gap, near, near+reach, 1e-9)
		default:
			near += reach
		}
	}
	return math.NaN()
}

// RefitIntercept refits coefficient j of a logistic fit (the intercept) by
// maximum likelihood, the others held: with a true intercept the mean risk is
// again the observed share, which Firth's penalty pulls toward 1/2 (FLIC).
// Errors as for [Fitter.Logistic]. Puhr R et al. (2017) Stat Med 36:2302-2317.
func (f *Fitter) RefitIntercept(c Counts, fit *Fit, j int, offset []float64) (*Fit, error) {
	return f.Logistic(c, FitOptions{Start: fit.Coef, Only: []int{j}, Offset: offset})
}
