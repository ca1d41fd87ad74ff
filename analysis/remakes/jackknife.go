package remakes

import (
	"math"

	"lastroom/analysis/stats"
)

const jackknifeMethod = "infinitesimal jackknife by customer"

// A jackknife is the standard error and the acceleration of an answer by the
// infinitesimal jackknife: from the influence of each customer, which is the
// derivative of the answer by the customer's weight.
// Efron B, Tibshirani RJ (1993) An Introduction to the Bootstrap, ch. 21-22.
type jackknife struct{ se, acceleration float64 }

// A lean is what the intervals of one effect need: the jackknives of its
// difference, the logarithm of its ratio and its remakes, and the remakes in
// the smaller arm.
type lean struct {
	difference, ratio, sum jackknife
	remakes                int
}

// leanings are the leans of all questions of several models, and the jackknife
// of the remakes that go with all exposures of the first.
type leanings struct {
	of  []lean
	all jackknife
}

// leansOf works them out, the models abreast; points are the answers.
func leansOf(models []riskModel, points []effect, workers int) leanings {
	out := leanings{of: make([]lean, len(points))}
	first := make([]int, len(models))
	for i := 1; i < len(models); i++ {
		first[i] = first[i-1] + len(models[i-1].qs)
	}
	stats.Abreast(workers, len(models), func(i int) {
		mo := models[i]
		t := tangentAt(mo.fit)
		for k, q := range mo.qs {
			out.of[first[i]+k] = t.lean(q, points[first[i]+k])
		}
		if i == 0 && len(mo.qs) > 0 {
			out.all = t.jackknife(t.together(mo.qs).sum())
		}
	})
	return out
}

func (t *tangent) lean(q question, e effect) lean {
	l, weight := t.line(q), t.fit.weight
	x := arms(q.exposure, weight)
	return lean{t.jackknife(l.difference(e, weight)), t.jackknife(l.logRatio(e, weight)), t.jackknife(l.sum()), min(x.A, x.C)}
}

// A gradient is how an answer moves: with one more order of each pattern, the
// estimates as they are, and with the estimates.
type gradient struct{ own, by []float64 }

func (l line) difference(e effect, weight []float64) gradient {
	return l.combined(weight, e, 1, 1)
}

// logRatio is the gradient of the ratio's logarithm.
func (l line) logRatio(e effect, weight []float64) gradient {
	return l.combined(weight, e, 1/e.on, 1/e.off)
}

// combined is the gradient of a*on - b*off, both means over the orders at risk.
func (l line) combined(weight []float64, e effect, a, b float64) gradient {
	g := gradient{make([]float64, len(l.counts)), make([]float64, len(l.dOn))}
	total := 0.0
	for i, c := range l.counts {
		total += float64(c) * (weight[2*i] + weight[2*i+1])
	}
	for i, c := range l.counts {
		g.own[i] = float64(c) / total * (a*(float64(l.on[i])-e.on) - b*(float64(l.off[i])-e.off))
	}
	for j := range g.by {
		g.by[j] = a*l.dOn[j] - b*l.dOff[j]
	}
	return g
}

// sum is the gradient of the remakes.
func (l line) sum() gradient {
	g := gradient{own: make([]float64, len(l.remakes)), by: l.dRemakes}
	for i, r := range l.remakes {
		g.own[i] = float64(r)
	}
	return g
}

// jackknife adds up the customers' influences on what g is the gradient of.
func (t *tangent) jackknife(g gradient) jackknife { return jackknifeOf(t.influence(g)) }

// jackknifeOf: the standard error is the root of the sum of squares, the
// acceleration sum d^3/(6 (sum d^2)^(3/2)) (Efron B (1987) J Am Stat Assoc
// 82:171-185), d the influences less their mean.
func jackknifeOf(influence []float64) jackknife {
	mean := 0.0
	for _, v := range influence {
		mean += v / float64(len(influence))
	}
	var two, three float64
	for _, v := range influence {
		v -= mean
		two += v * v
		three += v * v * v
	}
	if two == 0 {
		return jackknife{}
	}
	return jackknife{math.Sqrt(two), three / (6 * math.Pow(two, 1.5))}
}

// influence is each customer's: through its orders' own part, through their
// part in the estimates, and through what its late remakes say of the share of
// remakes reported by an age.
func (t *tangent) influence(g gradient) []float64 {
	f, d := t.fit, t.fit.d
	to := cholSolve(f.chol, f.alias, g.by, f.p)
	slots, late := t.slots, make([]float64, len(f.share))
	for i, r := range t.risk {
		F := f.share[d.age[i]]
		a, b, _ := unit(r, F)
		push := f.along(i, to)
		slots[2*i], slots[2*i+1] = g.own[i]+b*push, g.own[i]+a*push
		late[d.age[i]] -= f.weight[2*i] * r * (1 - r) / ((1 - F*r) * (1 - F*r)) * push
	}
	u := make([]float64, d.customers)
	for o, slot := range d.slot {
		u[d.customer[o]] += slots[slot]
	}
	n := len(f.share)
	ofDelay := d.throughShare(f.share, late)
	for _, x := range d.delays {
		u[x.customer] += ofDelay[int(x.reported)*n+int(x.followed)]
	}
	return u
}

// interval is point with limits that the acceleration leans as in BCa, at the
// level of few remakes (expanded).
func (j jackknife) interval(point float64, n, remakes int) stats.Estimate {
	z := stats.Z(expanded(remakes))
	e := stats.Estimate{Point: point, Low: point - j.se*z, High: point + j.se*z, Level: level, N: n, Method: adjustedMethod + ", " + jackknifeMethod}
	if a := j.acceleration; math.Abs(a)*z < 1 {
		e.Low, e.High = point-j.se*z/(1+a*z), point+j.se*z/(1-a*z)
	}
	return e
}

// exponential takes an estimate of a logarithm back.
func exponential(e stats.Estimate) stats.Estimate {
	e.Point, e.Low, e.High = math.Exp(e.Point), math.Exp(e.Low), math.Exp(e.High)
	return e
}
