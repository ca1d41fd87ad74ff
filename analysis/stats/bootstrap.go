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
// normal quantile of the share of replicates below the point and a comes from
// the jackknife values ([Acceleration]).
//
// Where the point lies outside all replicates there is no z0: then it is the
// percentile interval, and says so. Failed replicates as for [Percentile].
// Efron B (1987) J Am Stat Assoc 82:171-185.
func BCa(point float64, replicates, jackknife []float64, level float64, n int) Estimate {
	e, sorted := bootstrapEstimate(point, replicates, level, n, "bootstrap BCa")
	if sorted == nil {
		return e
	}
	z0, a := BiasCorrection(point, sorted), Acceleration(jackknife)
	lo, hi := BCaLevel(z0, a, (1-level)/2), BCaLevel(z0, a, (1+level)/2)
	if !(lo < hi) {
		p := Percentile(point, replicates, level, n)
		return p.Warn("the bias correction has no answer here: plain percentiles")
	}
	e.Low, e.High = Quantile7(sorted, lo), Quantile7(sorted, hi)
	return e
}

// BiasCorrection is z0, the normal quantile of the share of sorted replicates
// strictly below the point. It is NaN where that share is 0 or 1.
func BiasCorrection(point float64, sorted []float64) float64 {
	share := float64(sort.SearchFloat64s(sorted, point)) / float64(len(sorted))
	if !(share > 0 && share < 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(share)
}

// Acceleration is sum d^3 / (6 (sum d^2)^(3/2)), d = mean - value, over the
// jackknife values (each with one observation, or one cluster, left out). It
// is 0 where they do not vary; values that are not finite are left out.
func Acceleration(jackknife []float64) float64 {
	kept := sortedFinite(jackknife)
	mean := 0.0
	for _, v := range kept {
		mean += v / float64(len(kept))
	}
	var two, three float64
	for _, v := range kept {
		d := mean - v
		two += d * d
		three += d * d * d
	}
	if two == 0 {
		return 0
	}
	return three / (6 * math.Pow(two, 1.5))
}

// BCaLevel is the percentile level that BCa uses in place of p: NaN where z0
// is, or where the acceleration passes its pole.
func BCaLevel(z0, a, p float64) float64 {
	z := z0 + distuv.UnitNormal.Quantile(p)
	if d := 1 - a*z; d > 0 {
		return distuv.UnitNormal.CDF(z0 + z/d)
	}
	return math.NaN()
}

// CorrectOptimism takes from an apparent figure the mean optimism of
// resamples: train[i] is the figure of the model made on resample i, on that
// resample; test[i] the same model's figure on the original data. Pairs that
// are not finite are left out; used says how many were not. Without any the
// figure is NaN.
//
// Harrell FE, Lee KL, Mark DB (1996) Stat Med 15:361-387.
func CorrectOptimism(apparent float64, train, test []float64) (corrected float64, used int) {
	sum := 0.0
	for i := range min(len(train), len(test)) {
		if d := train[i] - test[i]; finite(d) {
			sum, used = sum+d, used+1
		}
	}
	if used == 0 {
		return math.NaN(), 0
	}
	return apparent - sum/float64(used), used
}
