package regression

import (
	"math"
)

// firthSlope is half the slope of the logarithm of a subject's weight in the
// information, w = F r (1-r)^2 / (1 - F r), along x b: what its leverage counts for
// in Firth's term of the score.
func firthSlope(r, F float64) float64 { return (1 - 3*r + F*r*(1-r)/(1-F*r)) / 2 }

// jeffreys adds Firth's term to the score of a pass: the gradient of half the log of
// the determinant of the information, which must be factored. A subject's leverage
// is w x' I^-1 x.
// Firth D (1993) Biometrika 80:27-38.
func (f *Fit) jeffreys() {
	h := f.sums.Quadratic(f.factor.Inverse())
	for _, pattern := range f.weights.counting {
		i := int(pattern)
		r, F := f.risk[i], f.share(i)
		_, _, w := scoreContribution(r, F)
		f.sums.AddScore(i, f.weights.of(i)*w*h.At(i)*firthSlope(r, F))
	}
	f.sums.SettleScore()
}

// keepLeverages sets the leverages at the estimates, for bootstrap replicates: the penalty
// itself is a small correction (TestFirthReplicates).
func (f *Fit) keepLeverages() {
	f.pass(false) // the risks at the last estimates
	h := f.sums.Quadratic(f.factor.Inverse())
	f.hat = make([]float64, len(f.risk))
	for _, pattern := range f.weights.counting {
		i := int(pattern)
		_, _, w := scoreContribution(f.risk[i], f.share(i))
		f.hat[i] = w * h.At(i)
	}
}

// recentre refits the intercept alone by maximum likelihood: Firth's estimate
// pulls the mean risk towards one half, which must not go into risks (FLIC).
// Puhr R et al. (2017) Stat Med 36:2302-2317, doi 10.1002/sim.7273.
func (f *Fit) recentre() {
	odds := f.risk
	f.sums.Odds(f.Coef, f.weights.counting, odds)
	shift := 0.0
	for range 30 {
		s, w, k := 0.0, 0.0, math.Exp(shift)
		for _, pattern := range f.weights.counting {
			i := int(pattern)
			n0, n1, o := f.weights.Slot[2*i], f.weights.Slot[2*i+1], k*odds[i]
			a, b, v := scoreContribution(o/(1+o), f.share(i))
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
