package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Limits are the centre and the control limits of one point of a chart.
type Limits struct{ Center, Low, High float64 }

// PCenter is the pooled proportion of samples, sum x / sum n: NaN without a
// trial.
func PCenter(x, n []int) float64 {
	var sx, sn float64
	for i := range min(len(x), len(n)) {
		sx, sn = sx+float64(x[i]), sn+float64(n[i])
	}
	if sn == 0 {
		return math.NaN()
	}
	return sx / sn
}

// pLimits are the three-sigma limits of a p chart, p -+ 3 spread
// sqrt(p(1-p)/n), cut to [0,1]. NaN unless n > 0 and p lies in [0,1].
//
// Shewhart WA (1931); NIST/SEMATECH e-Handbook, 6.3.3.2.
func pLimits(p float64, n int, spread float64) Limits {
	if n <= 0 || !(p >= 0 && p <= 1) {
		return Limits{math.NaN(), math.NaN(), math.NaN()}
	}
	half := 3 * spread * math.Sqrt(p*(1-p)/float64(n))
	return Limits{p, clamp01(p - half), clamp01(p + half)}
}

// Laney is a p' chart: SigmaZ says how much wider than binomial the samples
// spread, and widens the limits of a p chart by that factor.
type Laney struct {
	Center, SigmaZ float64
	Limits         []Limits
}

// LaneyP is Laney's p' chart of samples x out of n: z = (x/n - p)/sqrt(p(1-p)/n),
// SigmaZ = mean moving range of z / 1.128. Samples of no size are passed over
// in the moving range and have NaN limits. With fewer than two samples, or
// p at 0 or 1, SigmaZ and the limits are NaN.
//
// It also hides real trouble where SigmaZ is large because of it: use it with
// 20 and more points and SigmaZ clearly above 1.
// Laney DB (2002) Quality Engineering 14:531-537.
func LaneyP(x, n []int) Laney {
	c := Laney{Center: PCenter(x, n), SigmaZ: math.NaN()}
	last, sum, ranges := math.NaN(), 0.0, 0
	for i := range min(len(x), len(n)) {
		z := standardised(x[i], n[i], c.Center)
		if math.IsNaN(z) {
			continue
		}
		if !math.IsNaN(last) {
			sum, ranges = sum+math.Abs(z-last), ranges+1
		}
		last = z
	}
	if ranges > 0 {
		c.SigmaZ = sum / float64(ranges) / 1.128
	}
	for i := range min(len(x), len(n)) {
		l := pLimits(c.Center, n[i], c.SigmaZ)
		if math.IsNaN(c.SigmaZ) {
			l = Limits{c.Center, c.SigmaZ, c.SigmaZ}
		}
		c.Limits = append(c.Limits, l)
	}
	return c
}

// standardised is the binomial residual (x - np)/sqrt(np(1-p)). NaN unless
// n > 0 and 0 < p < 1.
func standardised(x, n int, p float64) float64 {
	if n <= 0 || !(p > 0 && p < 1) {
		return math.NaN()
	}
	np := float64(n) * p
	return (float64(x) - np) / math.Sqrt(np*(1-p))
}

// PredictiveLimits are the limits of a count among n orders, each with the
// chance p, where p was estimated with the relative error of x events: the
// count is beta-binomial, its share Beta(a, a(1-p)/p) with a = x + 1/2. low is
// the least and high the greatest count that is no signal: a count under low,
// and one over high, each have a chance of at most tail. As x grows they become
// the exact binomial limits. Arguments that make no sense give 0 and -1, an
// empty range.
//
// Gelman A et al. (2013) Bayesian Data Analysis, 3rd ed., sec. 2.3-2.4 (the
// posterior predictive distribution); limits of a chart wide enough for their
// baseline's error: Jensen WA et al. (2006) J Qual Technol 38:349-364.
func PredictiveLimits(p float64, x, n int, tail float64) (low, high int) {
	if n < 0 || x < 0 || !(p > 0 && p < 1) || !(tail > 0 && tail < 1) {
		return 0, -1
	}
	a := float64(x) + 0.5
	b := a * (1 - p) / p
	// P(k) by recursion from P(0) = B(a, b+n)/B(a, b), in logs.
	logp := mathext.Lbeta(a, b+float64(n)) - mathext.Lbeta(a, b)
	cdf, size := 0.0, float64(n)
	for k := 0; k <= n; k++ {
		cdf += math.Exp(logp)
		if cdf <= tail {
			low = k + 1
		}
		if 1-cdf <= tail {
			return low, k
		}
		f := float64(k)
		logp += math.Log(size-f) + math.Log(a+f) - math.Log(f+1) - math.Log(b+size-f-1)
	}
	return low, n
}

// GeometricQuantile is the smallest number k of orders without the event before
// the next event with P(X <= k) = 1 - (1-p)^(k+1) >= q. It is -1 unless
// 0 < p <= 1 and 0 <= q < 1.
func GeometricQuantile(q, p float64) int {
	if !(p > 0 && p <= 1) || !(q >= 0 && q < 1) {
		return -1
	}
	if p == 1 {
		return 0
	}
	k := math.Ceil(math.Log1p(-q)/math.Log1p(-p)*(1-1e-12) - 1)
	return int(math.Max(0, math.Min(k, math.MaxInt32)))
}

// FunnelLimit is the limit of a funnel plot for a proportion out of n at
// quantile q of a binomial with the target probability, interpolated so that
// limits fall smoothly with n: (r - a)/n, r the smallest count with
// P(X <= r) >= q, a = (P(X <= r) - q)/P(X = r); cut to [0,1]. NaN unless
// n > 0 and target and q lie strictly between 0 and 1.
//
// Spiegelhalter DJ (2005) Stat Med 24:1185-1202, Appendix A.
func FunnelLimit(target float64, n int, q float64) float64 {
	if n <= 0 || !(target > 0 && target < 1) || !(q > 0 && q < 1) {
		return math.NaN()
	}
	r := BinomialQuantile(q, n, target)
	a := (BinomialCDF(r, n, target) - q) / BinomialProb(r, n, target)
	return clamp01((float64(r) - a) / float64(n))
}
