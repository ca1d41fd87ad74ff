package stats

import "math"

// root finds x in [a, b] with f(x) = 0, where f changes sign between the ends,
// by bisection with secant steps kept inside the bracket (the Illinois form
// of regula falsi). It is NaN when f has the same sign at both ends or is
// NaN. gonum has no one-dimensional root finder.
func root(f func(float64) float64, a, b, tol float64) float64 {
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a
	case fb == 0:
		return b
	case math.IsNaN(fa) || math.IsNaN(fb) || (fa > 0) == (fb > 0):
		return math.NaN()
	}
	for i := 0; i < 200 && math.Abs(b-a) > tol*math.Max(1, math.Abs(a)+math.Abs(b)); i++ {
		x := b - fb*(b-a)/(fb-fa)
		if lo, hi := math.Min(a, b), math.Max(a, b); i%3 == 2 || !(x > lo && x < hi) {
			x = a + (b-a)/2
		}
		fx := f(x)
		switch {
		case fx == 0:
			return x
		case math.IsNaN(fx):
			return fx
		case (fx > 0) == (fb > 0):
			b, fb = x, fx
			fa /= 2
		default:
			a, fa = b, fb
			b, fb = x, fx
		}
	}
	return a + (b-a)/2
}
