package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A TwoByTwo is a fourfold table: A events and B others among the exposed (those
// with the fault), C events and D others among the unexposed.
type TwoByTwo struct{ A, B, C, D int }

// Add counts one more.
func (t *TwoByTwo) Add(exposed, event bool) {
	switch {
	case exposed && event:
		t.A++
	case exposed:
		t.B++
	case event:
		t.C++
	default:
		t.D++
	}
}

// N1 is the number of the exposed, N0 of the unexposed, N of both.
func (t TwoByTwo) N1() int { return t.A + t.B }

// N0 is the number of the unexposed.
func (t TwoByTwo) N0() int { return t.C + t.D }

// N is the number of both groups.
func (t TwoByTwo) N() int { return t.N1() + t.N0() }

func (t TwoByTwo) floats() (a, b, c, d float64) {
	return float64(t.A), float64(t.B), float64(t.C), float64(t.D)
}

func (t TwoByTwo) bad(level float64) string {
	switch {
	case t.A < 0 || t.B < 0 || t.C < 0 || t.D < 0:
		return fmt.Sprintf("the counts make no sense: %+v", t)
	case t.N1() == 0 || t.N0() == 0:
		return "one of the two groups is empty"
	case math.IsNaN(Z(level)):
		return badLevel(level)
	}
	return ""
}

// NewcombeDifference is the difference of two proportions, exposed less
// unexposed, with the hybrid score interval built from the two Wilson
// intervals (l, u): d - sqrt((p1-l1)^2 + (u0-p0)^2) to
// d + sqrt((u1-p1)^2 + (p0-l0)^2).
//
// An empty group gives Missing; no events at all does not.
// Method 10 of Newcombe RG (1998) Stat Med 17:873-890.
func NewcombeDifference(t TwoByTwo, level float64) Estimate {
	const method = "Newcombe hybrid score"
	if why := t.bad(level); why != "" {
		return Missing(max(t.N(), 0), method, why)
	}
	a, b, c, d := t.floats()
	z := Z(level)
	p1, p0 := a/(a+b), c/(c+d)
	l1, u1 := wilson(a, a+b, z)
	l0, u0 := wilson(c, c+d, z)
	diff := p1 - p0
	return Estimate{
		Point: diff,
		Low:   math.Max(-1, diff-math.Hypot(p1-l1, u0-p0)),
		High:  math.Min(1, diff+math.Hypot(u1-p1, p0-l0)),
		Level: level, N: t.N(), Method: method,
	}
}

// KatzRiskRatio is the ratio of two proportions with the log-normal interval,
// Var(log RR) = 1/a - 1/(a+b) + 1/c - 1/(c+d).
//
// No event in one of the groups, or nothing but events in both, gives Missing:
// nothing is added to the cells. Katz D et al. (1978) Biometrics 34:469-474.
func KatzRiskRatio(t TwoByTwo, level float64) Estimate {
	const method = "risk ratio, Katz log interval"
	why := t.badRatio(level)
	if why == "" && t.B == 0 && t.D == 0 {
		why = "nothing but events in both groups"
	}
	if why != "" {
		return Missing(max(t.N(), 0), method, why)
	}
	a, b, c, d := t.floats()
	se := math.Sqrt(b/(a*(a+b)) + d/(c*(c+d)))
	return logInterval(a/(a+b)/(c/(c+d)), se, level, t.N(), method)
}

// WoolfOddsRatio is the odds ratio with Woolf's interval, Var(log OR) =
// 1/a + 1/b + 1/c + 1/d. An empty cell gives Missing.
// Woolf B (1955) Ann Hum Genet 19:251-253.
func WoolfOddsRatio(t TwoByTwo, level float64) Estimate {
	const method = "odds ratio, Woolf log interval"
	why := t.badRatio(level)
	if why == "" && (t.B == 0 || t.D == 0) {
		why = "nothing but events in one of the two groups"
	}
	if why != "" {
		return Missing(max(t.N(), 0), method, why)
	}
	a, b, c, d := t.floats()
	return logInterval(a*d/(b*c), math.Sqrt(1/a+1/b+1/c+1/d), level, t.N(), method)
}

func (t TwoByTwo) badRatio(level float64) string {
	if why := t.bad(level); why != "" {
		return why
	}
	if t.A == 0 || t.C == 0 {
		return "no event in one of the two groups"
	}
	return ""
}

// logInterval is point with the limits point*exp(-+z se).
func logInterval(point, se, level float64, n int, method string) Estimate {
	f := math.Exp(Z(level) * se)
	return Estimate{Point: point, Low: point / f, High: point * f, Level: level, N: n, Method: method}
}

// PopulationAttributableFraction is the share of all events that goes with
// the exposure in a cohort, 1 - p0/p, with the interval on log(1-PAF), whose
// variance is (b + PAF(a+d)) / (N c).
//
// The fractions of several exposures overlap: they do not add up, and their
// sum may pass 1. No event among the unexposed, or nothing but events, gives
// Missing.
// Walter SD (1976) Biometrics 32:829-849; Fleiss JL (1979) J Chronic Dis
// 32:93-99.
func PopulationAttributableFraction(t TwoByTwo, level float64) Estimate {
	const method = "population attributable fraction, log interval"
	why := t.bad(level)
	if why == "" && t.C == 0 {
		why = "no event among the unexposed"
	} else if why == "" && t.B == 0 && t.D == 0 {
		why = "nothing but events in both groups"
	}
	if why != "" {
		return Missing(max(t.N(), 0), method, why)
	}
	a, b, c, d := t.floats()
	n := a + b + c + d
	left := c / (c + d) / ((a + c) / n) // 1 - PAF
	f := math.Exp(Z(level) * math.Sqrt((b+(1-left)*(a+d))/(n*c)))
	return Estimate{Point: 1 - left, Low: 1 - left*f, High: 1 - left/f, Level: level, N: t.N(), Method: method}
}

// EValue says how strong an unmeasured cause would have to be: the least risk
// ratio that it would need both with the exposure and with the event, beyond
// what was adjusted for, to explain away the risk ratio rr. Point is for the
// point; Low is for the limit of rr nearer to 1, and is 1 where the interval
// of rr holds 1; High is for the farther limit, NaN where that is 0.
//
// E = RR + sqrt(RR(RR-1)), with 1/RR for a ratio under 1.
// VanderWeele TJ, Ding P (2017) Ann Intern Med 167:268-274.
func EValue(rr Estimate) Estimate {
	const method = "E-value"
	if !rr.Given() || !(rr.Point > 0) {
		e := Missing(rr.N, method, "there is no risk ratio to judge")
		e.Level = rr.Level
		return e
	}
	near, far := rr.Low, rr.High
	if rr.Point < 1 {
		near, far = rr.High, rr.Low
	}
	e := Estimate{Point: eValue(rr.Point), Low: 1, High: eValue(far), Level: rr.Level, N: rr.N, Method: method}
	if !rr.Bounded() {
		e.Low, e.High = math.NaN(), math.NaN()
		return e.Warn("the risk ratio has no interval")
	}
	if (near > 1) == (rr.Point > 1) && rr.Point != 1 {
		e.Low = eValue(near)
	}
	return e
}

func eValue(rr float64) float64 {
	if !(rr > 0) {
		return math.NaN()
	}
	if rr < 1 {
		rr = 1 / rr
	}
	return rr + math.Sqrt(rr*(rr-1))
}

// Welch is the difference of means, mean(a) - mean(b), with the t interval of unequal
// variances. NaN values are left out; N counts both. With fewer than two values in
// either, or none that differ, it is Missing.
//
// Welch BL (1947) Biometrika 34:28-35.
func Welch(a, b []float64, level float64) Estimate {
	const method = "difference of means, Welch's t interval"
	a, b = sortedFinite(a), sortedFinite(b)
	n := len(a) + len(b)
	switch {
	case len(a) < 2 || len(b) < 2:
		return Missing(n, method, "fewer than two values in a group")
	case math.IsNaN(Z(level)):
		return Missing(n, method, badLevel(level))
	}
	m1, v1 := stat.MeanVariance(a, nil)
	m2, v2 := stat.MeanVariance(b, nil)
	v1, v2 = v1/float64(len(a)), v2/float64(len(b))
	if !(v1+v2 > 0) {
		return Missing(n, method, "the values do not differ within the groups")
	}
	df := (v1 + v2) * (v1 + v2) / (v1*v1/float64(len(a)-1) + v2*v2/float64(len(b)-1))
	half := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(1-(1-level)/2) * math.Sqrt(v1+v2)
	return Estimate{Point: m1 - m2, Low: m1 - m2 - half, High: m1 - m2 + half, Level: level, N: n, Method: method}
}
