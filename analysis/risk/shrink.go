package risk

import (
	"math"
	"slices"

	"lastroom/analysis/regression"
)

// A shrinkage says how far effects are drawn to nothing: tau is the penalty of an
// effect times the spread of its column, measurer that of a measurer's own log
// odds, which is one over their variance.
type shrinkage struct{ tau, measurer float64 }

// Penalties that are tried, the strongest one nothing but the base rate, and the
// folds that customers are parted into.
var taus = func() (list []float64) {
	for e := -2.0; e <= 12; e++ {
		list = append(list, 4*math.Pow(2, e))
	}
	return list
}()

const folds = 10

// settle finds the penalty by cross-validation, and the spread of the measurers by
// what is left of their effects, each round at the estimates of the one before.
func (x *fitted) settle(w regression.Weights) error {
	c := regression.Columns{Exposures: true}
	spread := x.d.Spread(c, w)
	own := x.measurerColumns()
	s := shrinkage{tau: 32, measurer: 25}
	var coef []float64
	for range 2 {
		if err := x.refit(w, spread, own, s, coef); err != nil {
			return err
		}
		coef = slices.Clone(x.fit.Coef)
		x.folds = regression.NewFolds(x.fit, folds, nil)
		s.measurer = x.spreadOf(own, spread, s)
		s.tau = x.best(own, spread, s, taus)
	}
	if err := x.refit(w, spread, own, s, coef); err != nil {
		return err
	}
	x.shrink, x.Shrunk = s, s.tau
	if len(own) > 0 && s.measurer < strongest {
		x.Measurers = 1 / math.Sqrt(s.measurer)
	}
	variance := x.fit.Covariance()
	for j, k := range x.penalty[1:] {
		x.Effective += 1 - k*variance[(j+1)*len(x.penalty)+j+1]
	}
	return nil
}

func (x *fitted) refit(w regression.Weights, spread []float64, own []int, s shrinkage, start []float64) (err error) {
	x.penalty = s.penalty(spread, own)
	x.fit, err = x.d.Ridge(regression.Columns{Exposures: true}, w, x.penalty, start)
	return err
}

// penalty is that of each column.
func (s shrinkage) penalty(spread []float64, own []int) []float64 {
	out := make([]float64, len(spread))
	for j, sd := range spread[1:] {
		out[j+1] = s.tau * sd * sd
	}
	for _, j := range own {
		out[j] = s.measurer
	}
	return out
}

func (x *fitted) measurerColumns() (own []int) {
	at := 1
	for _, t := range x.Terms {
		for range t.Columns {
			if t.Name == measuredBy {
				own = append(own, at)
			}
			at++
		}
	}
	return own
}

// best is the penalty of some with the least loss on the customers left out.
func (x *fitted) best(own []int, spread []float64, s shrinkage, of []float64) float64 {
	best, least := of[0], math.Inf(1)
	for _, tau := range of {
		s.tau = tau
		if l := x.folds.LeftOut(s.penalty(spread, own)); l < least {
			best, least = tau, l
		}
	}
	return best
}

// strongest is a penalty that leaves measurers no differences: a spread of under
// 0.02 on the logit scale is none.
const strongest = 2500

// spreadOf is one over the measurers' variance, by the fixed point at which it is
// their sum of squares over how many of them are left in effect: that of the
// largest marginal likelihood in the quadratic approximation.
//
// Fellner WH (1986) Technometrics 28:51-60; Schall R (1991) Biometrika 78:719-727.
func (x *fitted) spreadOf(own []int, spread []float64, s shrinkage) float64 {
	if len(own) == 0 {
		return s.measurer
	}
	for range 30 {
		coef, effective := x.folds.Estimates(s.penalty(spread, own))
		squares, left := 0.0, 0.0
		for _, j := range own {
			squares += coef[j] * coef[j]
			left += effective[j]
		}
		next := math.Min(strongest, left/math.Max(squares, 1e-12))
		if math.Abs(next-s.measurer) < 0.01*s.measurer {
			return next
		}
		s.measurer = next
	}
	return s.measurer
}
