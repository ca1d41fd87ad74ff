package regression

import (
	"math"
)

// jeffreys adds Firth's term to the score: the gradient of half the log of the
// determinant of the information, which must be factored. With hat set, the
// leverages are those: a bootstrap replicate takes them from the whole sample,
// since the penalty itself is a small correction (TestFirthReplicates).
// Firth D (1993) Biometrika 80:27-38.
func (f *Fit) jeffreys() {
	hat := f.hat
	if hat == nil {
		hat = f.leverages()
	}
	for i := range f.risk {
		n := f.weights.of(i)
		if n == 0 {
			continue
		}
		r, F := f.risk[i], f.share(i)
		// d log w / d eta, with w = F r (1-r)^2 / (1 - F r)
		slope := 1 - 3*r + F*r*(1-r)/(1-F*r)
		f.addScore(i, n*hat[i]*slope/2)
	}
}

// leverages are w x' I^-1 x of one subject of each pattern, I the factored
// information.
func (f *Fit) leverages() []float64 {
	inv := inverse(f.chol, f.alias, f.p)
	hat := make([]float64, f.d.Patterns())
	x, cols := make([]float64, f.p), make([]int, 0, f.p)
	for i := range hat {
		if f.weights.of(i) == 0 {
			continue
		}
		cols = f.dense(i, x, cols)
		h := 0.0
		for k, a := range cols {
			h += x[a] * x[a] * inv[a*f.p+a]
			for _, b := range cols[:k] {
				h += 2 * x[a] * x[b] * inv[a*f.p+b]
			}
		}
		_, _, w := scoreContribution(f.Risk(i), f.share(i))
		hat[i] = w * h
	}
	return hat
}

// recentre refits the intercept alone by maximum likelihood: Firth's estimate
// pulls the mean risk towards one half, which must not go into risks (FLIC).
// Puhr R et al. (2017) Stat Med 36:2302-2317, doi 10.1002/sim.7273.
func (f *Fit) recentre() {
	odds := f.risk
	for i := range odds {
		odds[i] = math.Exp(f.linear(i))
	}
	shift := 0.0
	for range 30 {
		s, w, k := 0.0, 0.0, math.Exp(shift)
		for i, o := range odds {
			n0, n1 := f.weights.Slot[2*i], f.weights.Slot[2*i+1]
			if n0+n1 == 0 {
				continue
			}
			a, b, v := scoreContribution(k*o/(1+k*o), f.share(i))
			s += n1*a + n0*b
			w += (n0 + n1) * v
		}
		if !(w > 0) {
			break
		}
		step := math.Max(-2, math.Min(2, s/w))
		shift += step
		if math.Abs(step) < 1e-10 {
			break
		}
	}
	f.Coef[0] += shift
}
