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
