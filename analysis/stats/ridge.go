package stats

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// RidgePenalty is the quadratic penalty of a ridge for [FitOptions]: what is
// maximised is then N times (mean log-likelihood - lambda/2 sum of (sd(j) b(j))^2),
// sd(j) the standard deviation (divisor N) of column j over the trials, so
// that no column is favoured for its unit. Columns in free (the intercept; by
// custom 0) and columns that do not vary are not penalised.
//
// le Cessie S, van Houwelingen JC (1992) Appl Stat 41:191-201.
func (d *Design) RidgePenalty(trials []float64, lambda float64, free ...int) []float64 {
	total, sum, square := 0.0, make([]float64, d.cols), make([]float64, d.cols)
	for i, n := range trials[:min(len(trials), d.rows)] {
		total += n
		cols, vals := d.row(i)
		for k, j := range cols {
			sum[j] += n * vals[k]
		}
	}
	for i, n := range trials[:min(len(trials), d.rows)] {
		cols, vals := d.row(i)
		for k, j := range cols {
			v := vals[k] - sum[j]/total
			square[j] += n * (v*v - sum[j]/total*(sum[j]/total)) // less what an entry of 0 would add
		}
	}
	out := make([]float64, d.cols)
	for j := range out {
		mean := sum[j] / total
		variance := square[j] + total*mean*mean
		if !slices.Contains(free, j) && variance > 1e-12*total*mean*mean {
			out[j] = lambda * variance
		}
	}
	return out
}

// CrossValidated is a ridge penalty chosen by cross-validation.
type CrossValidated struct {
	Lambda float64 // the least loss
	// Cautious is the largest lambda whose loss is within one standard error
	// of the least.
	Cautious float64
	Lambdas  []float64 // tried, as given
	// Loss is the mean left-out log-loss a trial, SE its standard error over
	// the folds.
	Loss, SE []float64
}

// RidgeCV fits the ridge for each lambda with each fold left out, and takes the
// mean log-loss of what was left out. folds are the counts of each fold on the
// fitter's design; subjects that belong together (one customer's orders) belong
// in one fold. free as for [Design.RidgePenalty].
//
// Fewer than two folds with trials, no lambda, a lambda not above 0, or a fit
// that fails is an error.
func (f *Fitter) RidgeCV(folds []Counts, lambdas []float64, free ...int) (*CrossValidated, error) {
	if len(folds) < 2 || len(lambdas) == 0 {
		return nil, errors.New("cross-validation needs two folds and a penalty to try")
	}
	all := Counts{make([]float64, f.d.rows), make([]float64, f.d.rows)}
	for _, fold := range folds {
		if err := fold.check(f.d.rows); err != nil {
			return nil, err
		}
		addCounts(all, fold, 1)
	}
	out := &CrossValidated{Lambdas: lambdas}
	for _, lambda := range lambdas {
		if !(lambda > 0) || math.IsInf(lambda, 0) {
			return nil, fmt.Errorf("a ridge penalty to try must be above 0, not %v", lambda)
		}
		loss, se, err := f.leftOutLoss(all, folds, lambda, free)
		if err != nil {
			return nil, fmt.Errorf("lambda %g: %w", lambda, err)
		}
		out.Loss, out.SE = append(out.Loss, loss), append(out.SE, se)
	}
	best := 0
	for i, l := range out.Loss {
		if l < out.Loss[best] {
			best = i
		}
	}
	out.Lambda, out.Cautious = lambdas[best], lambdas[best]
	for i, l := range out.Loss {
		if l <= out.Loss[best]+out.SE[best] {
			out.Cautious = math.Max(out.Cautious, lambdas[i])
		}
	}
	return out, nil
}

func addCounts(dst, c Counts, sign float64) {
	for i := range c.Trials {
		dst.Events[i] = math.Max(0, dst.Events[i]+sign*c.Events[i])
		dst.Trials[i] = math.Max(0, dst.Trials[i]+sign*c.Trials[i])
		dst.Events[i] = math.Min(dst.Events[i], dst.Trials[i]) // against rounding of weights
	}
}

func (f *Fitter) leftOutLoss(all Counts, folds []Counts, lambda float64, free []int) (loss, se float64, err error) {
	var means, sizes []float64
	rest := Counts{make([]float64, f.d.rows), make([]float64, f.d.rows)}
	var start []float64
	for _, fold := range folds {
		_, size := fold.Totals()
		if size == 0 {
			continue
		}
		copy(rest.Events, all.Events)
		copy(rest.Trials, all.Trials)
		addCounts(rest, fold, -1)
		fit, err := f.Logistic(rest, FitOptions{Penalty: f.d.RidgePenalty(rest.Trials, lambda, free...), Start: start})
		if err != nil {
			return 0, 0, err
		}
		start = fit.Coef
		means, sizes = append(means, f.logLoss(fold, fit.Coef)/size), append(sizes, size)
	}
	if len(means) < 2 {
		return 0, 0, errors.New("cross-validation needs two folds with trials")
	}
	total, square := 0.0, 0.0
	for k, m := range means {
		total += sizes[k]
		loss += sizes[k] * m
	}
	loss /= total
	for k, m := range means {
		square += sizes[k] * (m - loss) * (m - loss)
	}
	return loss, math.Sqrt(square / total / float64(len(means)-1)), nil
}

// logLoss is the sum of the log-loss of counts under coefficients.
func (f *Fitter) logLoss(c Counts, coef []float64) (sum float64) {
	for i, eta := range f.d.Times(nil, coef) {
		if c.Trials[i] > 0 {
			_, _, l := logisticFamily{}.at(c.Events[i], c.Trials[i], eta)
			sum -= l
		}
	}
	return sum
}
