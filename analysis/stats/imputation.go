package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Pooled is one figure from several imputations of what is missing.
type Pooled struct {
	Point  float64
	Within float64 // mean of the imputations' variances
	Spread float64 // variance between the imputations' points
	Total  float64 // variance of Point
	DF     float64 // of its t distribution
	// Missing is the fraction of the information on the figure that went with
	// what is missing.
	Missing float64
}

// Pool puts points and their variances from at least two imputations together by
// Rubin's rules; complete is the degrees of freedom there would be with nothing
// missing (+Inf: large).
//
// Rubin DB (1987) Multiple Imputation for Nonresponse in Surveys, ch. 3; the
// degrees of freedom after Barnard J, Rubin DB (1999) Biometrika 86:948-955.
func Pool(points, variances []float64, complete float64) Pooled {
	m := float64(len(points))
	p := Pooled{Within: stat.Mean(variances, nil)}
	p.Point, p.Spread = stat.MeanVariance(points, nil)
	p.Total = p.Within + (1+1/m)*p.Spread
	if !(p.Total > 0) {
		p.DF = complete
		return p
	}
	lambda := (1 + 1/m) * p.Spread / p.Total
	old := (m - 1) / (lambda * lambda)
	p.DF = old
	if !math.IsInf(complete, 1) {
		observed := (complete + 1) / (complete + 3) * complete * (1 - lambda)
		p.DF = 1 / (1/old + 1/observed)
	}
	if p.Within > 0 {
		r := lambda / (1 - lambda)
		p.Missing = (r + 2/(old+3)) / (1 + r)
	} else {
		p.Missing = 1
	}
	return p
}

// T is how many standard errors (the root of Total) the limits at a level lie off
// the point.
func (p Pooled) T(level float64) float64 {
	if math.IsInf(p.DF, 1) {
		return Z(level)
	}
	return distuv.StudentsT{Sigma: 1, Nu: p.DF}.Quantile((1 + level) / 2)
}
