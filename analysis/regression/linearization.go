package regression

import "lastroom/analysis/stats"

// Close to the whole sample's estimates the standardised risks move along a
// straight line with them. Each cluster's influence follows from that
// linearization (influence.go). With many events a bootstrap replicate can use
// it too, since one Newton step reaches its estimates (the one-step bootstrap,
// held to full refits by TestLinearizationAgreesWithRefit): everything that does
// not depend on the draw is then computed once, and a replicate costs one pass
// over the patterns without a single exponential.

// A Linearization is a model at the whole sample's estimates, its information
// taken there and factored. Once made it is only read.
type Linearization struct {
	fit       *Fit
	questions []Question
	risk      []float64 // per pattern
	responses []response
}

// A response is a question's answers at the estimates, per pattern, and how
// they change with them.
type response struct {
	// Single precision halves the memory, and is far finer than the draws.
	counts    []float32 // 1 where the pattern is among the subjects at risk
	on, off   []float32 // risks with the exposure on and off
	events    []float32 // fitted events a subject that go with the exposure
	dOn, dOff []float64 // gradients of the mean risks
	dEvents   []float64 // gradient of the sum
}

// NewLinearization takes the model at its estimates. The information of its fit
// is replaced by the observed one: influences are exact with it, and nearly so
// with the expected one.
func NewLinearization(m Model) *Linearization {
	f := m.Fit
	t := &Linearization{fit: f, questions: m.Questions, risk: make([]float64, len(f.risk))}
	clear(f.sums.Info)
	f.sums.Odds(f.Coef, f.d.patterns(), t.risk)
	for i, odds := range t.risk {
		r, F := odds/(1+odds), f.share(i)
		t.risk[i] = r
		_, b, _ := scoreContribution(r, F)
		f.sums.AddInformation(i, f.weights.Slot[2*i+1]*r*(1-r)-f.weights.Slot[2*i]*b*(1-2*r+F*r*(1-r)/(1-F*r)))
	}
	f.sums.SettleInformation()
	f.factor.Take(f.sums.Info)
	return t
}

// respondAll works out the responses to all questions, for steps.
func (t *Linearization) respondAll() *Linearization {
	for _, q := range t.questions {
		t.responses = append(t.responses, t.respond(q))
	}
	return t
}

func (t *Linearization) respond(q Question) response {
	f, n := t.fit, len(t.risk)
	v := func(k int) []float64 { return make([]float64, k) }
	w := func() []float32 { return make([]float32, n) }
	l := response{w(), w(), w(), w(), v(f.sums.P), v(f.sums.P), v(f.sums.P)}
	x, cols, total := v(f.sums.P), make([]int, 0, f.sums.P), 0.0
	linear := f.sums.Times(f.Coef)
	for i, r := range t.risk {
		e := q.Levels[i]
		if e == Unknown || e == NotAtRisk {
			continue
		}
		eta := linear.At(i)
		off := eta
		switch {
		case e == With:
			off -= f.Coef[q.with]
		case e == Mended && q.mend >= 0:
			off -= f.Coef[q.mend]
		}
		weight := f.weights.of(i)
		total += weight
		ron, roff := stats.Logistic(off+f.Coef[q.with]), stats.Logistic(off)
		l.counts[i], l.on[i], l.off[i] = 1, float32(ron), float32(roff)
		dOn, dOff := weight*ron*(1-ron), weight*roff*(1-roff)
		cols = f.sums.Dense(i, x, cols)
		for _, c := range cols {
			if c == q.with || c == q.mend {
				continue
			}
			l.dOn[c] += dOn * x[c]
			l.dOff[c] += dOff * x[c]
		}
		l.dOn[q.with] += dOn
		if e == With && int(f.d.age[i]) >= q.mature {
			l.events[i] = float32(r - roff)
			slope := weight * r * (1 - r)
			for _, c := range cols {
				l.dEvents[c] += slope * x[c]
				if c != q.with {
					l.dEvents[c] -= dOff * x[c]
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

// together is the response to all exposures off at once; only its events are
// set.
func (t *Linearization) together() response {
	f := t.fit
	l := response{events: make([]float32, len(t.risk)), dEvents: make([]float64, f.sums.P)}
	x, cols := make([]float64, f.sums.P), make([]int, 0, f.sums.P)
	asked := make([]bool, f.sums.P)
	for _, q := range t.questions {
		asked[q.with] = true
	}
	linear := f.sums.Times(f.Coef)
	for i, r := range t.risk {
		if int(f.d.age[i]) < t.questions[0].mature {
			continue
		}
		bare, exposed := linear.At(i), false
		for _, q := range t.questions {
			if q.Levels[i] == With {
				bare -= f.Coef[q.with]
				exposed = true
			}
		}
		if !exposed {
			continue
		}
		b := stats.Logistic(bare)
		l.events[i] = float32(r - b)
		weight := f.weights.of(i)
		cols = f.sums.Dense(i, x, cols)
		for _, c := range cols {
			l.dEvents[c] += weight * r * (1 - r) * x[c]
			if !asked[c] {
				l.dEvents[c] -= weight * b * (1 - b) * x[c]
			}
		}
	}
	return l
}

// step is one Newton step from the whole sample's estimates to those of the
// drawn weights. g is the worker's own fit.
func (t *Linearization) step(g *Fit) []float64 {
	clear(g.sums.Score)
	clear(g.sums.Info)
	for _, pattern := range g.weights.counting {
		i := int(pattern)
		n0, n1 := g.weights.Slot[2*i], g.weights.Slot[2*i+1]
		a, b, w := scoreContribution(t.risk[i], g.share(i))
		g.sums.AddScore(i, n1*a+n0*b)
		g.sums.AddInformation(i, w*(n0+n1))
	}
	g.sums.SettleScore()
	g.sums.SettleInformation()
	g.factor.Take(g.sums.Info)
	return g.factor.Solve(g.sums.Score)
}

// answer is the risks of the response at the drawn weights, step away from the
// estimates.
func (l response) answer(w Weights, step []float64) Effect {
	var n, on, off float64
	for i, c := range l.counts {
		v := w.of(i)
		n += v * float64(c)
		on += v * float64(l.on[i])
		off += v * float64(l.off[i])
	}
	e := Effect{On: on / n, Off: off / n}
	for j, s := range step {
		e.On += l.dOn[j] * s
		e.Off += l.dOff[j] * s
	}
	return e
}
