package regression

import (
	"math"
)

// firthSlope is half the slope of the logarithm of a subject's weight in the
// information, w = F r (1-r)^2 / (1 - F r), along x b: what its leverage counts for
// in Firth's term of the score.
func firthSlope(r, F float64) float64 { return (1 - 3*r + F*r*(1-r)/(1-F*r)) / 2 }

// jeffreys adds Firth's term to the score of a pass: the gradient of half the log of
// the determinant of the information, which must be factored.
// Firth D (1993) Biometrika 80:27-38.
func (f *Fit) jeffreys() {
	inv := inverse(f.chol, f.alias, f.p)
	for i, r := range f.risk {
		if n := f.weights.of(i); n > 0 {
			f.addScore(i, n*f.leverage(i, inv)*firthSlope(r, f.share(i)))
		}
	}
}

// leverage is w x' I^-1 x of one subject of pattern i, inv the inverse of the
// information.
func (f *Fit) leverage(i int, inv []float64) float64 {
	cols, vals := f.row(i)
	h := 0.0
	for k, c := range cols {
		row := inv[int(c)*f.p:]
		before := 0.0
		for l, b := range cols[:k] {
			before += vals[l] * row[b]
		}
		h += vals[k] * (vals[k]*row[c] + 2*before)
	}
	if a := f.added(i); a >= 0 {
		row := inv[a*f.p:]
		before := 0.0
		for l, b := range cols {
			before += vals[l] * row[b]
		}
		h += row[a] + 2*before
	}
	_, _, w := scoreContribution(f.risk[i], f.share(i))
	return w * h
}

// keepLeverages sets those of the estimates, for bootstrap replicates: the penalty
// itself is a small correction (TestFirthReplicates).
func (f *Fit) keepLeverages() {
	f.pass(false) // the risks at the last estimates
	inv := inverse(f.chol, f.alias, f.p)
	f.hat = make([]float64, len(f.risk))
	for i := range f.hat {
		if f.weights.of(i) > 0 {
			f.hat[i] = f.leverage(i, inv)
		}
	}
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
