package remakes

// Close to the whole sample's estimates the standardised risks move along a
// straight line with them. Each customer's influence follows from that line
// (jackknife.go). With many remakes a replicate can use it too, since one Newton
// step reaches its estimates (the one-step bootstrap; Moulton LH, Zeger SL (1991)
// Comput Stat Data Anal 11:53-63, from memory): everything that does not depend
// on the draw is then computed once, and a replicate costs one pass over the
// patterns without a single exponential.

// A tangent is a model at the whole sample's estimates, its information taken
// there and factored.
type tangent struct {
	fit   *fit
	risk  []float64 // per pattern
	lines []line
	slots []float64 // scratch
}

// A line is a question's answers at the estimates, per pattern, and how they
// change with them.
type line struct {
	// Single precision halves the memory, and is far finer than the draws.
	counts    []float32 // 1 where the pattern is among the orders at risk
	on, off   []float32 // risks with the exposure on and off
	remakes   []float32 // fitted remakes an order that go with the exposure
	dOn, dOff []float64 // gradients of the mean risks
	dRemakes  []float64 // gradient of the sum
}

// tangentAt is the tangent of a fit, without lines yet.
func tangentAt(f *fit) *tangent {
	t := &tangent{fit: f, risk: make([]float64, len(f.d.from)), slots: make([]float64, len(f.weight))}
	for i := range t.risk {
		t.risk[i] = expit(f.linear(i))
	}
	t.observe()
	return t
}

func newTangent(mo riskModel) *tangent {
	t := tangentAt(mo.fit)
	for _, q := range mo.qs {
		t.lines = append(t.lines, t.line(q))
	}
	return t
}

// observe factors the observed information: influences are exact with it, and
// nearly so with the expected one.
func (t *tangent) observe() {
	f, d := t.fit, t.fit.d
	clear(f.hess)
	for i, r := range t.risk {
		F := f.share[d.age[i]]
		_, b, _ := unit(r, F)
		w := f.weight[2*i+1]*r*(1-r) - f.weight[2*i]*b*(1-2*r+F*r*(1-r)/(1-F*r))
		f.inform(i, w, d.col[d.from[i]:f.ends[i]], d.val[d.from[i]:f.ends[i]])
	}
	f.factor()
}

func (t *tangent) line(q question) line {
	f, n := t.fit, len(t.risk)
	v := func(k int) []float64 { return make([]float64, k) }
	w := func() []float32 { return make([]float32, n) }
	l := line{w(), w(), w(), w(), v(f.p), v(f.p), v(f.p)}
	x, cols, total := v(f.p), make([]int, 0, f.p), 0.0
	for i, r := range t.risk {
		e := q.exposure[i]
		if e == notKnown || e == noRisk {
			continue
		}
		eta := f.linear(i)
		off := eta
		switch {
		case e == withFault:
			off -= f.beta[q.with]
		case e == mended && q.mend >= 0:
			off -= f.beta[q.mend]
		}
		weight := f.weight[2*i] + f.weight[2*i+1]
		total += weight
		ron, roff := expit(off+f.beta[q.with]), expit(off)
		l.counts[i], l.on[i], l.off[i] = 1, float32(ron), float32(roff)
		dOn, dOff := weight*ron*(1-ron), weight*roff*(1-roff)
		cols = f.row(i, x, cols)
		for _, c := range cols {
			if c == q.with || c == q.mend {
				continue
			}
			l.dOn[c] += dOn * x[c]
			l.dOff[c] += dOff * x[c]
		}
		l.dOn[q.with] += dOn
		if e == withFault && int(f.d.age[i]) >= q.mature {
			l.remakes[i] = float32(r - roff)
			slope := weight * r * (1 - r)
			for _, c := range cols {
				l.dRemakes[c] += slope * x[c]
				if c != q.with {
					l.dRemakes[c] -= dOff * x[c]
				}
			}
		}
	}
	for j := range l.dOn {
		l.dOn[j] /= total
		l.dOff[j] /= total
	}
	return l
}

// together is the line of all exposures off at once; only its remakes are set.
func (t *tangent) together(qs []question) line {
	f := t.fit
	l := line{remakes: make([]float32, len(t.risk)), dRemakes: make([]float64, f.p)}
	x, cols := make([]float64, f.p), make([]int, 0, f.p)
	for i, r := range t.risk {
		if int(f.d.age[i]) < qs[0].mature {
			continue
		}
		bare, any := f.linear(i), false
		for _, q := range qs {
			if q.exposure[i] == withFault {
				bare -= f.beta[q.with]
				any = true
			}
		}
		if !any {
			continue
		}
		b := expit(bare)
		l.remakes[i] = float32(r - b)
		weight := f.weight[2*i] + f.weight[2*i+1]
		cols = f.row(i, x, cols)
		for _, c := range cols {
			l.dRemakes[c] += weight * r * (1 - r) * x[c]
			if !askedAbout(qs, c) {
				l.dRemakes[c] -= weight * b * (1 - b) * x[c]
			}
		}
	}
	return l
}

func askedAbout(qs []question, col int) bool {
	for _, q := range qs {
		if q.with == col {
			return true
		}
	}
	return false
}

// step is one Newton step from the whole sample's estimates to those of the
// drawn weights. g is the worker's own fit.
func (t *tangent) step(g *fit) []float64 {
	clear(g.score)
	clear(g.hess)
	d := g.d
	for i, r := range t.risk {
		n0, n1 := g.weight[2*i], g.weight[2*i+1]
		if n0+n1 == 0 {
			continue
		}
		a, b, w := unit(r, g.share[d.age[i]])
		s := n1*a + n0*b
		cols, vals := d.col[d.from[i]:g.ends[i]], d.val[d.from[i]:g.ends[i]]
		for k, c := range cols {
			g.score[c] += s * vals[k]
		}
		if g.extra != nil && g.extra[i] != 0 {
			g.score[g.p-3+int(g.extra[i])] += s
		}
		g.inform(i, w*(n0+n1), cols, vals)
	}
	g.factor()
	for j := range g.score {
		g.score[j] -= g.ridge * t.fit.beta[j]
	}
	return cholSolve(g.chol, g.alias, g.score, g.p)
}

// answer is the risks of the line at the drawn weights, step away from the
// estimates.
func (l line) answer(weight, step []float64) effect {
	var n, on, off float64
	for i, c := range l.counts {
		w := weight[2*i] + weight[2*i+1]
		n += w * float64(c)
		on += w * float64(l.on[i])
		off += w * float64(l.off[i])
	}
	e := effect{on: on / n, off: off / n}
	for j, s := range step {
		e.on += l.dOn[j] * s
		e.off += l.dOff[j] * s
	}
	return e
}
