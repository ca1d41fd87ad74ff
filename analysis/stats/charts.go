package stats

import (
	"math"
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

// PLimits are the three-sigma limits of a p chart, p -+ 3 sqrt(p(1-p)/n), cut
// to [0,1]. NaN unless n > 0 and p lies in [0,1]. They suit large n p only:
// for small months use [BinomialLimits].
//
// Shewhart WA (1931); NIST/SEMATECH e-Handbook, 6.3.3.2.
func PLimits(p float64, n int) Limits { return pLimits(p, n, 1) }

func pLimits(p float64, n int, spread float64) Limits {
	if n <= 0 || !(p >= 0 && p <= 1) {
		return Limits{math.NaN(), math.NaN(), math.NaN()}
	}
	half := 3 * spread * math.Sqrt(p*(1-p)/float64(n))
	return Limits{p, clamp01(p - half), clamp01(p + half)}
}

// BinomialLimits are the exact limits of a count out of n with probability p:
// the least and the greatest count that is no signal. A count under low has
// P(X < low) <= tail, one over high P(X > high) <= tail. 0.00135 is the tail
// of a three-sigma chart. With small n p, low is 0: no count is low enough.
// Arguments that make no sense give 0 and -1, an empty range.
func BinomialLimits(p float64, n int, tail float64) (low, high int) {
	if n < 0 || !(p >= 0 && p <= 1) || !(tail > 0 && tail < 1) {
		return 0, -1
	}
	high = BinomialQuantile(1-tail, n, p)
	low = BinomialQuantile(tail, n, p)
	if BinomialCDF(low, n, p) <= tail { // the quantile needs >=, a signal allows =
		low++
	}
	return low, high
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
		z := Residual(x[i], n[i], c.Center)
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

// Residual is the standardised binomial residual (x - np)/sqrt(np(1-p)), what
// an EWMA of proportions averages. NaN unless n > 0 and 0 < p < 1.
func Residual(x, n int, p float64) float64 {
	if n <= 0 || !(p > 0 && p < 1) {
		return math.NaN()
	}
	np := float64(n) * p
	return (float64(x) - np) / math.Sqrt(np*(1-p))
}

// EWMA is the exponentially weighted moving average z(i) = lambda x(i) +
// (1-lambda) z(i-1), z(0) = start. A NaN in x leaves the average where it was.
//
// Roberts SW (1959) Technometrics 1:239-250; NIST e-Handbook 6.3.2.4.
func EWMA(x []float64, start, lambda float64) []float64 {
	out := make([]float64, len(x))
	z := start
	for i, v := range x {
		if !math.IsNaN(v) {
			z += lambda * (v - z)
		}
		out[i] = z
	}
	return out
}

// EWMALimits are center -+ width sigma sqrt(lambda/(2-lambda) (1-(1-lambda)^(2i)))
// at the i-th point (from 1); i = 0 gives the limits they settle to. NaN unless
// 0 < lambda < 2.
func EWMALimits(center, sigma, lambda, width float64, i int) Limits {
	v := lambda / (2 - lambda)
	if i > 0 {
		v *= 1 - math.Pow(1-lambda, 2*float64(i))
	}
	half := width * sigma * math.Sqrt(v)
	return Limits{center, center - half, center + half}
}

// CUSUM are the two one-sided cumulative sums of a tabular CUSUM for means:
// high(i) = max(0, high(i-1) + x - target - k), low likewise downward. It
// signals where either passes h; the sums go on after a signal. A NaN in x
// leaves both where they were.
//
// Page ES (1954) Biometrika 41:100-115; NIST e-Handbook 6.3.2.3.
func CUSUM(x []float64, target, k float64) (high, low []float64) {
	high, low = make([]float64, len(x)), make([]float64, len(x))
	var up, down float64
	for i, v := range x {
		if !math.IsNaN(v) {
			up, down = math.Max(0, up+v-target-k), math.Max(0, down+target-v-k)
		}
		high[i], low[i] = up, down
	}
	return high, low
}

// GLimits are the three-sigma limits of a g chart of the counts between events:
// mean -+ 3 sqrt(mean(mean+1)), the lower cut to 0. NaN for a negative mean.
// The upper limit lies far under the exact one ([GeometricQuantile]), the
// lower is always 0: read both.
//
// Benneyan JC (2001) Health Care Manag Sci 4:305-318.
func GLimits(mean float64) Limits {
	if !(mean >= 0) || math.IsInf(mean, 1) {
		return Limits{math.NaN(), math.NaN(), math.NaN()}
	}
	half := 3 * math.Sqrt(mean*(mean+1))
	return Limits{mean, math.Max(0, mean-half), mean + half}
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
