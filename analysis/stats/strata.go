package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// A Test is a chi-squared test: the statistic, its degrees of freedom and the
// p-value. P and Statistic are NaN where the test can't be made, and DF is 0.
type Test struct {
	Statistic float64
	DF        int
	P         float64
}

func chi2Test(x float64, df int) Test {
	if df < 1 || !finite(x) {
		return Test{math.NaN(), 0, math.NaN()}
	}
	return Test{x, df, distuv.ChiSquared{K: float64(df)}.Survival(x)}
}

// informative keeps the strata that say something on the association: both
// groups there, and both events and others. Strata with an empty cell stay.
func informative(strata []TwoByTwo) []TwoByTwo {
	return slices.DeleteFunc(slices.Clone(strata), func(t TwoByTwo) bool {
		return t.bad(DefaultLevel) != "" || t.A+t.C == 0 || t.B+t.D == 0
	})
}

func totalN(strata []TwoByTwo) (n int) {
	for _, t := range strata {
		n += max(t.N(), 0)
	}
	return n
}

// MantelHaenszelOddsRatio is the odds ratio common to the strata,
// sum(ad/N) / sum(bc/N), with the interval from the Robins-Breslow-Greenland
// variance of its logarithm, which holds for few large and for many sparse
// strata. N counts the observations of all strata.
//
// Strata with an empty group, without an event or with nothing but events say
// nothing and are passed over. Where no stratum sets an exposed event against
// an unexposed non-event, or the other way about, it is Missing.
//
// Mantel N, Haenszel W (1959) J Natl Cancer Inst 22:719-748; Robins J, Breslow
// N, Greenland S (1986) Biometrics 42:311-323.
func MantelHaenszelOddsRatio(strata []TwoByTwo, level float64) Estimate {
	const method = "Mantel-Haenszel odds ratio, Robins-Breslow-Greenland interval"
	var r, s, pr, psqr, qs float64
	for _, t := range informative(strata) {
		a, b, c, d := t.floats()
		n := a + b + c + d
		ri, si, pi, qi := a*d/n, b*c/n, (a+d)/n, (b+c)/n
		r, s = r+ri, s+si
		pr += pi * ri
		psqr += pi*si + qi*ri
		qs += qi * si
	}
	if why := badPooled(r, s, level); why != "" {
		return Missing(totalN(strata), method, why)
	}
	v := pr/(2*r*r) + psqr/(2*r*s) + qs/(2*s*s)
	return logInterval(r/s, math.Sqrt(v), level, totalN(strata), method)
}

func badPooled(r, s, level float64) string {
	switch {
	case math.IsNaN(Z(level)):
		return badLevel(level)
	case r == 0 || s == 0:
		return "too few events within the strata to compare the groups"
	}
	return ""
}

// CochranMantelHaenszel tests that the odds ratio is 1 in every stratum:
// (sum a - sum E(a))^2 / sum Var(a), hypergeometric within strata, one degree
// of freedom. With corrected, half a unit is taken off the difference (not
// past 0). No informative stratum: NaN.
//
// Cochran WG (1954) Biometrics 10:417-451; Mantel and Haenszel (1959).
func CochranMantelHaenszel(strata []TwoByTwo, corrected bool) Test {
	var diff, v float64
	for _, t := range informative(strata) {
		a, b, c, d := t.floats()
		n := a + b + c + d
		diff += a - (a+b)*(a+c)/n
		v += (a + b) * (c + d) * (a + c) * (b + d) / (n * n * (n - 1))
	}
	diff = math.Abs(diff)
	if corrected {
		diff = math.Max(0, diff-0.5)
	}
	if v == 0 {
		return chi2Test(math.NaN(), 0)
	}
	return chi2Test(diff*diff/v, 1)
}

// Tarone is the Breslow-Day test less (sum a - sum A)^2/sum V, which makes it
// a proper chi-squared statistic. Tarone RE (1985) Biometrika 72:91-95.
func Tarone(strata []TwoByTwo) Test {
	x, off, df := breslowDay(strata)
	return chi2Test(math.Max(0, x-off), df)
}

func breslowDay(strata []TwoByTwo) (x, off float64, df int) {
	kept := informative(strata)
	or := MantelHaenszelOddsRatio(kept, DefaultLevel)
	if !or.Given() {
		return math.NaN(), 0, 0
	}
	var diff, vs float64
	for _, t := range kept {
		a, b, c, d := t.floats()
		e := fittedCount(a+b, c+d, a+c, or.Point)
		v := 1 / (1/e + 1/(a+b-e) + 1/(a+c-e) + 1/(d-a+e))
		x += (a - e) * (a - e) / v
		diff += a - e
		vs += v
	}
	return x, diff * diff / vs, len(kept) - 1
}

// fittedCount is the count A of exposed events with the odds ratio or, given
// the margins: A(n0-m+A) = or (n1-A)(m-A). The roots of the quadratic are
// written so that or = 1 divides by nothing.
func fittedCount(n1, n0, m, or float64) float64 {
	// (or-1) A^2 - q A + or n1 m = 0
	q := or*(n1+m) + n0 - m
	disc := math.Sqrt(q*q - 4*(or-1)*or*n1*m)
	return 2 * or * n1 * m / (q + disc)
}
