package body

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/body/human"
)

// ratios fills lr with the ln likelihood ratio of each hypothesis from the
// first on under g. v is prec·(l - mean); copiedLR is that of copying (its own
// way, by reading step) and model says which of the alternatives apply.
func (s *scratch) ratios(hyps *hypotheses, first int, g *human.Gauss, model int, exchangeable [2]int, copiedLR, logP float64, lr []float64) {
	for k := first; k < len(hyps.list); k++ {
		h := &hyps.list[k]
		switch h.action {
		case shift:
			if len(h.set) == 1 {
				lr[k] = s.shiftedOne(h, model)
				continue
			}
			s.shifted(hyps.list[k:k+h.run], model, lr[k:k+h.run])
			k += h.run - 1
		case scale:
			sum := 0.0
			for _, i := range h.set {
				sum += s.v[i]
			}
			lr[k] = -h.size*sum - h.quad[model]
		case swap:
			lr[k] = swapped(g, h.set, s.l, s.v)
		case lastDigits, firstDigits:
			lr[k] = s.digitRatio(g, h, exchangeable)
		case unlike:
			v := s.v[h.set[0]]
			lr[k] = v*v*h.quad[model] - h.more[model]
		case sideways:
			lr[k] = copiedLR
		case elsewhere:
			lr[k] = h.alt[model].ratio(g, s, logP)
		}
	}
}

func (s *scratch) digitRatio(g *human.Gauss, h *hypothesis, exchangeable [2]int) float64 {
	which := int(h.action - lastDigits)
	i := h.set[0]
	y := s.as[i].digit[which]
	if y == 0 {
		return never
	}
	d := math.Log(y) - s.l[i]
	return -d*s.v[i] - d*d*g.Prec[i*g.N+i]/2 - d - math.Log(float64(exchangeable[which]))
}

// shiftedOne is the ln likelihood ratio of one number whose logarithm moves by
// d when a shift is undone.
func (s *scratch) shiftedOne(h *hypothesis, model int) float64 {
	i := h.set[0]
	d := s.as[i].cut[h.sizeAt]
	if d == never {
		return never
	}
	return -d * (s.v[i] + 1 + d*h.tri[model][0])
}

// abreast is how many sizes of a shift are worked out side by side, so that
// the processor need not wait for one sum before it adds to the next.
const abreast = 4

// shifted fills in the ln likelihood ratios of a run of shifts of one set of
// numbers, whose logarithms move by d when a shift is undone.
func (s *scratch) shifted(run []hypothesis, model int, lr []float64) {
	set, p := run[0].set, run[0].tri[model]
	for len(run) > 0 {
		n := min(abreast, len(run))
		var sizes [abreast]int
		for a := range sizes {
			sizes[a] = run[min(a, n-1)].sizeAt
		}
		q := s.shiftedAbreast(set, p, sizes)
		copy(lr[:n], q[:])
		run, lr = run[n:], lr[n:]
	}
}

// shiftedAbreast is -(d'v + 1'd + d'Pd/2) for each of the sizes, never where a
// number can't be moved so far; p is a triangle of precisions.
func (s *scratch) shiftedAbreast(set []int, p []float64, sizes [abreast]int) (lr [abreast]float64) {
	moves := s.moves
	var q [abreast]float64
	var out [abreast]bool
	for a, i := range set {
		d := &s.as[i].cut
		m := [abreast]float64{d[sizes[0]], d[sizes[1]], d[sizes[2]], d[sizes[3]]}
		moves[a] = m
		row := p[: a+1 : a+1]
		p = p[a+1:]
		w := s.v[i] + 1
		s0, s1, s2, s3 := w, w, w, w
		for b, r := range row {
			x := &moves[b]
			s0 += x[0] * r
			s1 += x[1] * r
			s2 += x[2] * r
			s3 += x[3] * r
		}
		for c, s := range [abreast]float64{s0, s1, s2, s3} {
			q[c] += m[c] * s
			if m[c] == never {
				out[c] = true
			}
		}
	}
	for c := range lr {
		lr[c] = -q[c]
		if out[c] {
			lr[c] = never
		}
	}
	return lr
}

func swapped(g *human.Gauss, set []int, l, v []float64) float64 {
	q := 0.0
	for a, i := range set {
		di := l[set[a^1]] - l[i]
		row := g.Prec[i*g.N : i*g.N+g.N]
		q += di * (v[i] + di*row[i]/2)
		for b, j := range set[:a] {
			q += di * (l[set[b^1]] - l[j]) * row[j]
		}
	}
	return -q
}

// An alt is the joint model with a step's other height for some leg girths: of
// a whole side or form (g), or of one row, whose logarithm then has mean
// mean + by·l and variance v given the others.
type alt struct {
	g    *human.Gauss
	at   int
	mean float64
	by   []float64
	v    float64
	logV float64 // ln of v over the variance at the height written
}

func (a *alt) ratio(g *human.Gauss, s *scratch, logP float64) float64 {
	if a.g != nil {
		return a.g.LogDensity(s.l, s.r) - logP
	}
	r := s.l[a.at] - a.mean - floats.Dot(a.by, s.l[:len(a.by)])
	v := s.v[a.at]
	return (v*v/g.Prec[a.at*g.N+a.at] - r*r/a.v - a.logV) / 2
}

// moved is number i under another term t: its mean and variance given the
// others, from the precision of the whole without a new inversion.
func moved(g *human.Gauss, w *human.World, terms []human.Term, i int, t *human.Term) *alt {
	n := g.N
	c := make([]float64, n)
	pc := 0.0 // row i of the precision times c
	for j := range terms {
		if j != i {
			c[j] = w.Measuring.Inflate * w.Cov(t, &terms[j])
			pc += g.Prec[i*n+j] * c[j]
		}
	}
	a := &alt{at: i, mean: t.Mean, by: make([]float64, n), v: w.Measuring.Inflate * w.Cov(t, t)}
	for j := range n {
		if j == i {
			continue
		}
		s := -g.Prec[j*n+i] * pc / g.Prec[i*n+i]
		for k, x := range c {
			s += g.Prec[j*n+k] * x
		}
		a.by[j] = s
		a.mean -= s * g.Mean[j]
		a.v -= s * c[j]
	}
	a.logV = math.Log(a.v * g.Prec[i*n+i])
	return a
}
