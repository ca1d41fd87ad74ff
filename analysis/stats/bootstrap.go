package stats

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Percentile is point with the bootstrap percentile interval: the quantiles
// (1-level)/2 and (1+level)/2 of the replicates (type 7). n is what the caller
// counts.
//
// Replicates that are NaN failed and are left out, with a warning; where more
// than a tenth failed, or fewer than 40 are left, there is no interval.
// Efron B, Tibshirani RJ (1993) An Introduction to the Bootstrap, ch. 13.
func Percentile(point float64, replicates []float64, level float64, n int) Estimate {
	e, sorted := bootstrapEstimate(point, replicates, level, n, "bootstrap percentile")
	if sorted != nil {
		e.Low, e.High = Quantile7(sorted, (1-level)/2), Quantile7(sorted, (1+level)/2)
	}
	return e
}

// fewest is the least number of replicates that a 95% interval can stand on:
// with 40, one lies beyond each limit.
const fewest = 40

func bootstrapEstimate(point float64, replicates []float64, level float64, n int, method string) (Estimate, []float64) {
	e := Missing(n, method)
	e.Level = level
	if !finite(point) {
		return e.Warn("there is no estimate to resample"), nil
	}
	if math.IsNaN(Z(level)) {
		return e.Warn(badLevel(level)), nil
	}
	e.Point = point
	sorted := sortedFinite(replicates)
	failed := len(replicates) - len(sorted)
	if len(sorted) < fewest || 10*failed > len(replicates) {
		return e.Warn(fmt.Sprintf("no interval: only %d of %d resamples gave an answer", len(sorted), len(replicates))), nil
	}
	if failed > 0 {
		e = e.Warn(fmt.Sprintf("%d of %d resamples gave no answer and are left out", failed, len(replicates)))
	}
	return e, sorted
}

// BCa is point with the bias-corrected and accelerated bootstrap interval:
// percentiles at the levels Phi(z0 + (z0+z)/(1 - a(z0+z))), where z0 is the
// normal quantile of the share of replicates strictly below the point and a the
// acceleration, as from an infinitesimal jackknife.
//
// Where the point lies outside all replicates there is no z0, and past the pole
// of the acceleration no level: then it is the percentile interval, and Method
// says so. Failed replicates as for [Percentile].
// Efron B (1987) J Am Stat Assoc 82:171-185.
func BCa(point float64, replicates []float64, acceleration, level float64, n int) Estimate {
	e, sorted := bootstrapEstimate(point, replicates, level, n, "bootstrap BCa")
	if sorted == nil {
		return e
	}
	below := float64(sort.SearchFloat64s(sorted, point)) / float64(len(sorted))
	z0 := distuv.UnitNormal.Quantile(below) // infinite at 0 and 1
	lo, hi := bcaLevel(z0, acceleration, (1-level)/2), bcaLevel(z0, acceleration, (1+level)/2)
	if !(below > 0 && below < 1 && lo < hi) {
		return Percentile(point, replicates, level, n)
	}
	e.Low, e.High = Quantile7(sorted, lo), Quantile7(sorted, hi)
	return e
}

// bcaLevel is the percentile level that BCa uses in place of p: NaN where the
// acceleration passes its pole.
func bcaLevel(z0, a, p float64) float64 {
	z := z0 + distuv.UnitNormal.Quantile(p)
	if d := 1 - a*z; d > 0 {
		return distuv.UnitNormal.CDF(z0 + z/d)
	}
	return math.NaN()
}
