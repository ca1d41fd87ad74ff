package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Z is the two-sided standard normal quantile of a confidence level: 1.959964
// for 0.95. It is NaN unless the level lies strictly between 0 and 1.
func Z(level float64) float64 {
	if !(level > 0 && level < 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(1 - (1-level)/2)
}

// Wilson is a proportion x/n with its score interval: the p for which
// |x/n - p| = z sqrt(p(1-p)/n).
//
// The lower limit is exactly 0 at x = 0, the upper exactly 1 at x = n. No
// trials, more events than trials or a bad level give Missing.
//
// Wilson EB (1927) J Am Stat Assoc 22:209-212; method 3 of Newcombe RG (1998)
// Stat Med 17:857-872.
func Wilson(x, n int, level float64) Estimate {
	const method = "Wilson score"
	if why := badCount(x, n, level); why != "" {
		return Missing(max(n, 0), method, why)
	}
	lo, hi := wilson(float64(x), float64(n), Z(level))
	return Estimate{Point: float64(x) / float64(n), Low: lo, High: hi, Level: level, N: n, Method: method}
}

func wilson(x, n, z float64) (lo, hi float64) {
	p, z2 := x/n, z*z
	mid := (p + z2/(2*n)) / (1 + z2/n)
	half := z * math.Sqrt(p*(1-p)/n+z2/(4*n*n)) / (1 + z2/n)
	lo, hi = clamp01(mid-half), clamp01(mid+half)
	if x == 0 {
		lo = 0
	}
	if x == n {
		hi = 1
	}
	return lo, hi
}

// ClopperPearson is a proportion x/n with the exact interval: each limit is
// the p at which the tail on its side is (1-level)/2, a beta quantile. Its
// coverage is never under the level, so it is wide.
//
// Edges as for [Wilson]. Clopper CJ, Pearson ES (1934) Biometrika 26:404-413.
func ClopperPearson(x, n int, level float64) Estimate {
	const method = "Clopper-Pearson exact"
	if why := badCount(x, n, level); why != "" {
		return Missing(max(n, 0), method, why)
	}
	lo, hi := clopperPearson(x, n, level)
	return Estimate{Point: float64(x) / float64(n), Low: lo, High: hi, Level: level, N: n, Method: method}
}

func clopperPearson(x, n int, level float64) (lo, hi float64) {
	a, fx, fn := (1-level)/2, float64(x), float64(n)
	lo, hi = 0, 1
	if x > 0 {
		lo = distuv.Beta{Alpha: fx, Beta: fn - fx + 1}.Quantile(a)
	}
	if x < n {
		hi = distuv.Beta{Alpha: fx + 1, Beta: fn - fx}.Quantile(1 - a)
	}
	return lo, hi
}

// MidP is a proportion x/n with the mid-p exact interval: as Clopper-Pearson,
// but the observed count enters each tail with half its probability.
//
// Edges as for [Wilson]. Method 6 of Newcombe RG (1998) Stat Med 17:857-872.
func MidP(x, n int, level float64) Estimate {
	const method = "mid-p exact"
	if why := badCount(x, n, level); why != "" {
		return Missing(max(n, 0), method, why)
	}
	a := (1 - level) / 2
	upper := func(p float64) float64 { // P(X > x) + P(X = x)/2
		return 1 - BinomialCDF(x, n, p) + BinomialProb(x, n, p)/2 - a
	}
	lower := func(p float64) float64 { // P(X < x) + P(X = x)/2
		return BinomialCDF(x-1, n, p) + BinomialProb(x, n, p)/2 - a
	}
	e := Estimate{Point: float64(x) / float64(n), Low: 0, High: 1, Level: level, N: n, Method: method}
	if x > 0 {
		e.Low = root(upper, 0, e.Point, 1e-13)
	}
	if x < n {
		e.High = root(lower, e.Point, 1, 1e-13)
	}
	return e
}

// PoissonRateRatio compares x1 events in exposure t1 with x0 in t0: the ratio
// of the rates with the exact conditional interval (given x1+x0, x1 is
// binomial; its Clopper-Pearson limits are turned into ratios).
//
// With x1 = 0 the lower limit is 0. With x0 = 0 there is no finite ratio and
// the estimate is Missing. Przyborowski J, Wilenski H (1940) Biometrika
// 31:313-323; the worked example is in R's poisson.test.
func PoissonRateRatio(x1 int, t1 float64, x0 int, t0 float64, level float64) Estimate {
	const method = "exact Poisson rate ratio"
	n := x1 + x0
	switch {
	case x1 < 0 || x0 < 0 || !(t1 > 0) || !(t0 > 0) || math.IsInf(t1, 0) || math.IsInf(t0, 0):
		return Missing(max(n, 0), method, "counts must not be negative and exposures must be positive")
	case x0 == 0:
		return Missing(n, method, "no event in the group compared with")
	case math.IsNaN(Z(level)):
		return Missing(n, method, badLevel(level))
	}
	lo, hi := clopperPearson(x1, n, level)
	ratio := func(p float64) float64 { return p / (1 - p) * t0 / t1 }
	return Estimate{Point: float64(x1) / float64(x0) * t0 / t1, Low: ratio(lo), High: ratio(hi), Level: level, N: n, Method: method}
}

// BinomialCDF is P(X <= x) for n trials with probability p, through the
// incomplete beta function. It is NaN unless n >= 0 and p lies in [0,1].
func BinomialCDF(x, n int, p float64) float64 {
	switch {
	case n < 0 || !(p >= 0 && p <= 1):
		return math.NaN()
	case x < 0:
		return 0
	case x >= n || p == 0:
		return 1
	case p == 1:
		return 0
	}
	return distuv.Binomial{N: float64(n), P: p}.CDF(float64(x))
}

// BinomialProb is P(X = x) for n trials with probability p. It is NaN unless
// n >= 0 and p lies in [0,1].
func BinomialProb(x, n int, p float64) float64 {
	switch {
	case n < 0 || !(p >= 0 && p <= 1):
		return math.NaN()
	case x < 0 || x > n:
		return 0
	case p == 0 || p == 1:
		if (x == 0) == (p == 0) && (x == n) == (p == 1) || n == 0 {
			return 1
		}
		return 0
	}
	return distuv.Binomial{N: float64(n), P: p}.Prob(float64(x))
}

// BinomialQuantile is the smallest x with P(X <= x) >= q. It is -1 where the
// arguments make no sense.
func BinomialQuantile(q float64, n int, p float64) int {
	if n < 0 || !(p >= 0 && p <= 1) || !(q >= 0 && q <= 1) {
		return -1
	}
	lo, hi := 0, n
	for lo < hi {
		mid := (lo + hi) / 2
		if BinomialCDF(mid, n, p) >= q {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

func badCount(x, n int, level float64) string {
	switch {
	case n == 0:
		return "no observations"
	case n < 0 || x < 0 || x > n:
		return fmt.Sprintf("the counts make no sense: %d of %d", x, n)
	case math.IsNaN(Z(level)):
		return badLevel(level)
	}
	return ""
}

func badLevel(level float64) string {
	return fmt.Sprintf("the confidence level must lie between 0 and 1, not %g", level)
}

func clamp01(x float64) float64 { return min(max(x, 0), 1) }
