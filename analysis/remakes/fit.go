package remakes

import "math"

// A fit is the risk model on weighted patterns. The chance that an order is
// reported remade by the edge it was followed to is
//
//	F(edge) * expit(x b),
//
// b the effects on the chance of a remake within the horizon, F the share of
// remakes reported by an age. That is a discrete-time hazard model whose
// hazards h_k(x) = r(x) f_k / (1 - r(x) F_{k-1}) share one reporting delay:
// an order followed to the horizon (F = 1) counts as in plain logistic
// regression, a younger one counts for as much as is known of it, and no order
// is thrown away. F comes from the delays of the reported remakes alone
// (reportShare), so it does not depend on b.
//
// Weighting complete orders by the inverse of their chance of being complete
// is not an alternative here: whether an order is complete is a matter of its
// shipping day, so the chance is 0 for all of the last year, and the weights
// would assume that faults are as common as ever while rules change them.
type fit struct {
	d      *design
	ends   []int32 // d.ends (descriptors only) or d.all
	extra  []uint8 // per pattern: 1 adds column p, 2 column p+1; nil for none
	p      int     // columns, extra ones included
	ridge  float64
	firth  bool
	hat    []float64 // leverages to use in Firth's term; nil: the fit's own
	weight []float64 // per slot: 2*pattern without, +1 with an event
	share  []float64 // F per edge

	beta  []float64
	risk  []float64 // per pattern, as of the last pass
	score []float64
	hess  []float64 // p x p, lower triangle
	chol  []float64
	alias []bool

	converged bool
}

// farOff is where an estimate that runs away is held: odds of one in three
// million are none.
const farOff = 15

// newFit makes a fit on the design's own weights.
func newFit(d *design, ends []int32, extra []uint8) *fit {
	p := len(d.terms)
	if extra != nil {
		p += 2
	}
	return &fit{
		d: d, ends: ends, extra: extra, p: p, ridge: 1e-9,
		beta: make([]float64, p), score: make([]float64, p), risk: make([]float64, d.patterns()),
		hess: make([]float64, p*p), chol: make([]float64, p*p), alias: make([]bool, p),
	}
}

// fork is a fit that shares the design and starts from f's estimates.
func (f *fit) fork() *fit {
	g := newFit(f.d, f.ends, f.extra)
	g.firth, g.ridge, g.hat = f.firth, f.ridge, f.hat
	copy(g.beta, f.beta)
	copy(g.chol, f.chol)
	copy(g.alias, f.alias)
	return g
}

// linear is x b of pattern i.
func (f *fit) linear(i int) float64 { return f.along(i, f.beta) }

// along is pattern i times a vector, one number a column.
func (f *fit) along(i int, b []float64) float64 {
	eta := 0.0
	from, end := f.d.from[i], f.ends[i]
	vals := f.d.val[from:end]
	for k, c := range f.d.col[from:end] {
		eta += b[c] * vals[k]
	}
	if f.extra != nil && f.extra[i] != 0 {
		eta += b[f.p-3+int(f.extra[i])]
	}
	return eta
}

// unit is what one order with, and one without an event give to the score, and
// what either gives to the expected information, at risk r and share F.
func unit(r, F float64) (with, without, info float64) {
	if F == 1 {
		return 1 - r, -r, r * (1 - r)
	}
	g := F * r * (1 - r) / (1 - F*r)
	return 1 - r, -g, g * (1 - r)
}

// pass computes score and, if asked, information at f.beta.
func (f *fit) pass(information bool) {
	clear(f.score)
	if information {
		clear(f.hess)
	}
	d := f.d
	for i := range d.from {
		n0, n1 := f.weight[2*i], f.weight[2*i+1]
		if n0+n1 == 0 {
			continue
		}
		r := expit(f.linear(i))
		f.risk[i] = r
		a, b, w := unit(r, f.share[d.age[i]])
		s := n1*a + n0*b
		w *= n0 + n1
		cols, vals := d.col[d.from[i]:f.ends[i]], d.val[d.from[i]:f.ends[i]]
		for k, c := range cols {
			f.score[c] += s * vals[k]
		}
		if f.extra != nil && f.extra[i] != 0 {
			f.score[f.p-3+int(f.extra[i])] += s
		}
		if information {
			f.inform(i, w, cols, vals)
		}
	}
}

// inform adds w x x' of pattern i to the information; columns ascend in a row.
func (f *fit) inform(i int, w float64, cols []uint16, vals []float64) {
	for k, c := range cols {
		row := f.hess[int(c)*f.p:]
		wv := w * vals[k]
		for l := 0; l <= k; l++ {
			row[cols[l]] += wv * vals[l]
		}
	}
	if f.extra != nil && f.extra[i] != 0 {
		e := f.p - 3 + int(f.extra[i])
		row := f.hess[e*f.p:]
		for l, c := range cols {
			row[c] += w * vals[l]
		}
		row[e] += w
	}
}

// jeffreys adds Firth's term to the score: the gradient of half the log of the
// determinant of the information, which must be factored. With f.hat set, the
// leverages are those: a bootstrap replicate takes them from the whole sample,
// since the penalty itself is a small correction.
// Firth D (1993) Biometrika 80:27-38.
func (f *fit) jeffreys() {
	d, hat := f.d, f.hat
	if hat == nil {
		hat = f.leverages()
	}
	for i := range d.from {
		n := f.weight[2*i] + f.weight[2*i+1]
		if n == 0 {
			continue
		}
		r, F := f.risk[i], f.share[d.age[i]]
		// d log w / d eta, with w = F r (1-r)^2 / (1 - F r)
		slope := 1 - 3*r + F*r*(1-r)/(1-F*r)
		s := n * hat[i] * slope / 2
		for k := d.from[i]; k < f.ends[i]; k++ {
			f.score[d.col[k]] += s * d.val[k]
		}
		if f.extra != nil && f.extra[i] != 0 {
			f.score[f.p-3+int(f.extra[i])] += s
		}
	}
}

// leverages are w x' I^-1 x of one order of each pattern, I the factored
// information.
func (f *fit) leverages() []float64 {
	inv := inverse(f.chol, f.alias, f.p)
	hat := make([]float64, len(f.d.from))
	x, cols := make([]float64, f.p), make([]int, 0, f.p)
	for i := range hat {
		if f.weight[2*i]+f.weight[2*i+1] == 0 {
			continue
		}
		cols = f.row(i, x, cols)
		h := 0.0
		for k, a := range cols {
			h += x[a] * x[a] * inv[a*f.p+a]
			for _, b := range cols[:k] {
				h += 2 * x[a] * x[b] * inv[a*f.p+b]
			}
		}
		_, _, w := unit(expit(f.linear(i)), f.share[f.d.age[i]])
		hat[i] = w * h
	}
	return hat
}

// row is pattern i written out into x, only at the returned columns; cols is
// room for them.
func (f *fit) row(i int, x []float64, cols []int) []int {
	d := f.d
	cols = cols[:0]
	for k := d.from[i]; k < f.ends[i]; k++ {
		c := int(d.col[k])
		x[c] = d.val[k]
		cols = append(cols, c)
	}
	if f.extra != nil && f.extra[i] != 0 {
		c := f.p - 3 + int(f.extra[i])
		x[c] = 1
		cols = append(cols, c)
	}
	return cols
}

// smallStep is a step after which the information has hardly changed: the next
// one taken with the former reaches nearly as far, for half the work.
const smallStep = 0.02

// solve runs Fisher scoring from f.beta until no step is larger than tol, at
// most rounds times. refresh says in how many of the first rounds the
// information is computed anew. Firth's term rests on the information, so for it
// that is never left out.
func (f *fit) solve(rounds, refresh int, tol float64) {
	f.converged = false
	moved := math.Inf(1)
	for r := range rounds {
		anew := r < refresh && (f.firth || moved > smallStep)
		f.pass(anew)
		if anew {
			f.factor()
		}
		if f.firth {
			f.jeffreys()
		}
		for j := range f.score {
			f.score[j] -= f.ridge * f.beta[j]
		}
		step := cholSolve(f.chol, f.alias, f.score, f.p)
		largest := 0.0
		for _, s := range step {
			largest = math.Max(largest, math.Abs(s))
		}
		scale := 1.0
		if largest > 2 {
			scale = 2 / largest
		}
		moved = 0
		for j := range step {
			b := math.Max(-farOff, math.Min(farOff, f.beta[j]+scale*step[j]))
			moved = math.Max(moved, math.Abs(b-f.beta[j]))
			f.beta[j] = b
		}
		if moved < tol {
			f.converged = true
			return
		}
	}
}

// factor is the Cholesky factor of the information. A column that the others
// make up already is set aside (alias) and keeps its estimate.
func (f *fit) factor() {
	p, a := f.p, f.chol
	copy(a, f.hess)
	for j := range p {
		full := a[j*p+j]
		v := full + f.ridge
		for k := range j {
			v -= a[j*p+k] * a[j*p+k]
		}
		f.alias[j] = !(v > 1e-9*full) || full == 0
		if f.alias[j] {
			for k := 0; k <= j; k++ {
				a[j*p+k] = 0
			}
			for i := j + 1; i < p; i++ {
				a[i*p+j] = 0
			}
			continue
		}
		root := math.Sqrt(v)
		a[j*p+j] = root
		for i := j + 1; i < p; i++ {
			s := a[i*p+j]
			for k := range j {
				s -= a[i*p+k] * a[j*p+k]
			}
			a[i*p+j] = s / root
		}
	}
}

// cholSolve solves L L' x = b; set-aside columns get 0.
func cholSolve(l []float64, alias []bool, b []float64, p int) []float64 {
	x := make([]float64, p)
	for i := range p {
		if alias[i] {
			continue
		}
		s := b[i]
		for k := range i {
			s -= l[i*p+k] * x[k]
		}
		x[i] = s / l[i*p+i]
	}
	for i := p - 1; i >= 0; i-- {
		if alias[i] {
			continue
		}
		s := x[i]
		for k := i + 1; k < p; k++ {
			s -= l[k*p+i] * x[k]
		}
		x[i] = s / l[i*p+i]
	}
	return x
}

// inverse of L L'; rows and columns set aside are 0.
func inverse(l []float64, alias []bool, p int) []float64 {
	inv := make([]float64, p*p)
	b := make([]float64, p)
	for j := range p {
		if alias[j] {
			continue
		}
		clear(b)
		b[j] = 1
		for i, v := range cholSolve(l, alias, b, p) {
			inv[i*p+j] = v
		}
	}
	return inv
}

// recentre refits the intercept alone by maximum likelihood: Firth's estimate
// pulls the mean risk towards one half, which must not go into risks.
// Puhr R et al. (2017) Stat Med 36:2302-2317 (FLIC), from memory.
func (f *fit) recentre() {
	odds := f.risk
	for i := range odds {
		odds[i] = math.Exp(f.linear(i))
	}
	shift := 0.0
	for range 30 {
		s, w, k := 0.0, 0.0, math.Exp(shift)
		for i, o := range odds {
			n0, n1 := f.weight[2*i], f.weight[2*i+1]
			if n0+n1 == 0 {
				continue
			}
			a, b, v := unit(k*o/(1+k*o), f.share[f.d.age[i]])
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
	f.beta[0] += shift
}

func expit(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
