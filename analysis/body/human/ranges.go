package human

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/form"
)

// A Ratio is one of the main ratios between numbers of one foot.
type Ratio struct{ Num, Den form.Point }

// String names the ratio, as "heel/ball".
func (r Ratio) String() string { return r.Num.String() + "/" + r.Den.String() }

// Ratios are the main ratios that ranges are given for.
var Ratios = []Ratio{{form.Ball, form.Length}, {form.Breadth, form.Length}, {form.Ball, form.Breadth}, {form.Heel, form.Length}, {form.Heel, form.Ball},
	{form.Ankle, form.Ball}, {form.Ankle, form.Heel}, {form.Calf, form.Ankle}, {form.Calf, form.Heel}}

// A Range is the published distribution of one number or ratio among people of
// one sex, or of both in equal parts: lognormal, fitted to the survey's rows
// (bare right feet, standing; see the tables of this package's doc). N is the
// number of people. It holds for bodies: a written girth or traced length is a
// few millimetres larger (Offset).
type Range struct {
	N        int
	Offset   float64 // mm that socks or pencil commonly add to a written number; 0 for ratios
	mean, sd []float64
}

// RangeOf is the range of a point; false for instep and leg heights, of which
// nothing is published here.
func RangeOf(p form.Point, sex form.Sex) (Range, bool) {
	f := Feature(form.Scheme{}, p)
	if f < 0 {
		return Range{}, false
	}
	m := Published(form.Home)
	r := Range{Offset: m.Offset(f)}
	for _, s := range SexesOf(sex) {
		fig := &survey()[s]
		r.add(fig.n, fig.mean[f], fig.cov[f][f])
	}
	return r, true
}

// RangeOfRatio is the range of a ratio of numbers of the same foot.
func RangeOfRatio(q Ratio, sex form.Sex) (Range, bool) {
	a, b := Feature(form.Scheme{}, q.Num), Feature(form.Scheme{}, q.Den)
	if a < 0 || b < 0 {
		return Range{}, false
	}
	var r Range
	for _, s := range SexesOf(sex) {
		f := &survey()[s]
		r.add(f.n, f.mean[a]-f.mean[b], f.cov[a][a]+f.cov[b][b]-2*f.cov[a][b])
	}
	return r, true
}

func SexesOf(s form.Sex) []form.Sex {
	if Known(s) == form.SexUnknown {
		return []form.Sex{form.Female, form.Male}
	}
	return []form.Sex{s}
}

// Known is the sex, or unknown for anything else.
func Known(s form.Sex) form.Sex {
	if s == form.Female || s == form.Male {
		return s
	}
	return form.SexUnknown
}

func (r *Range) add(n int, mean, variance float64) {
	r.N += n
	r.mean = append(r.mean, mean)
	r.sd = append(r.sd, math.Sqrt(variance))
}

// percentile is the share of people, in percent, below x (mm, or a ratio);
// NaN where x is not a positive number.
func (r Range) percentile(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return math.NaN()
	}
	p := 0.0
	for i := range r.mean {
		p += distuv.UnitNormal.CDF((math.Log(x)-r.mean[i])/r.sd[i]) / float64(len(r.mean))
	}
	return 100 * p
}

// QuantileWritten is the quantile as it would stand on a form.
func (r Range) QuantileWritten(p float64) float64 { return r.Quantile(p) + r.Offset }

// Quantile is the value that a share p of people lies below, by bisection to a
// relative 1e-9; NaN where p is not strictly between 0 and 1.
func (r Range) Quantile(p float64) float64 {
	if !(p > 0 && p < 1) {
		return math.NaN()
	}
	lo, hi := math.Inf(1), 0.0
	for i := range r.mean {
		q := math.Exp(r.mean[i] + r.sd[i]*distuv.UnitNormal.Quantile(p))
		lo, hi = math.Min(lo, q), math.Max(hi, q)
	}
	for hi-lo > 1e-9*hi {
		if mid := (lo + hi) / 2; r.percentile(mid) < 100*p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
