package regression

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/stats"
)

// A Jackknife is the standard error and the acceleration of an answer by the
// infinitesimal jackknife: from the influence of each cluster, which is the
// derivative of the answer by the cluster's weight. Where the clusters are the
// units of sampling it is the sandwich variance.
//
// Efron B, Tibshirani RJ (1993) An Introduction to the Bootstrap, ch. 21-22;
// Stefanski LA, Boos DD (2002) Am Stat 56:29-38, doi 10.1198/000313002753631330.
type Jackknife struct {
	SE, Acceleration float64
	// Wider is how many times wider than by cluster alone a second grouping
	// makes the standard error; it is in SE and Acceleration already. 0 and 1:
	// there is none, or it makes none.
	Wider float64
}

// Uncertainty is what the intervals of one effect need: the jackknives of its
// difference, of the logarithm of its ratio and of its events, and the events
// in the smaller arm, which carry the information.
type Uncertainty struct {
	Difference, LogRatio, Events Jackknife
	Fewest                       int
}

// Uncertainty is that of the answer e to the model's question k.
func (t *Linearization) Uncertainty(k int, e Effect) Uncertainty {
	q := t.questions[k]
	l, w := t.respond(q), t.fit.weights
	x := w.Arms(q.Levels)
	return Uncertainty{
		t.jackknife(l.combined(w, e, 1, 1)),
		t.jackknife(l.combined(w, e, 1/e.On, 1/e.Off)),
		t.jackknife(l.sum()),
		min(x.A, x.C),
	}
}

// Difference is the jackknife of the difference alone, and the events in the smaller
// arm.
func (t *Linearization) Difference(k int, e Effect) (j Jackknife, fewest int) {
	q := t.questions[k]
	x := t.fit.weights.Arms(q.Levels)
	return t.jackknife(t.respond(q).combined(t.fit.weights, e, 1, 1)), min(x.A, x.C)
}

// UncertaintyOfAll is the jackknife of the events that go with all exposures
// asked about together.
func (t *Linearization) UncertaintyOfAll() Jackknife { return t.jackknife(t.together().sum()) }

// A gradient is how an answer moves: with one more subject of each pattern, the
// estimates as they are, and with the estimates.
type gradient struct{ own, by []float64 }

// combined is the gradient of a*On - b*Off, both means over the subjects at
// risk.
func (l response) combined(w Weights, e Effect, a, b float64) gradient {
	g := gradient{make([]float64, len(l.counts)), make([]float64, len(l.dOn))}
	total := 0.0
	for i, c := range l.counts {
		total += float64(c) * w.of(i)
	}
	for i, c := range l.counts {
		g.own[i] = float64(c) / total * (a*(float64(l.on[i])-e.On) - b*(float64(l.off[i])-e.Off))
	}
	for j := range g.by {
		g.by[j] = a*l.dOn[j] - b*l.dOff[j]
	}
	return g
}

// sum is the gradient of the events.
func (l response) sum() gradient {
	g := gradient{own: make([]float64, len(l.events)), by: l.dEvents}
	for i, r := range l.events {
		g.own[i] = float64(r)
	}
	return g
}

// jackknife adds up the influences on what g is the gradient of.
func (t *Linearization) jackknife(g gradient) Jackknife {
	u, through := t.influences(g)
	return jackknifeOf(t.fit.d.byCluster(u)).widened(t.fit.d.wider(u, through))
}

// influences are each subject's on what g is the gradient of, whole and through the
// estimates alone.
func (t *Linearization) influences(g gradient) (u, through []float64) {
	through = t.influence(g.by, nil)
	u = slices.Clone(through)
	for k := range u {
		u[k] += g.own[t.fit.d.Pattern(k)]
	}
	return u, through
}

// byCluster are the influences of clusters from those of subjects.
func (d *Design) byCluster(u []float64) []float64 {
	sums := make([]float64, d.Clusters)
	for k, c := range d.Cluster {
		sums[c] += u[k]
	}
	return sums
}

// wider is how many times the standard error from the subjects' influences grows
// when a second grouping of the subjects is taken into account: to the variance by
// cluster comes the one by the other grouping, less that by where both meet, which is
// in both. Never below 1. The second one has few groups, so its sum gets G/(G-1).
//
// Cameron AC, Gelbach JB, Miller DL (2011), Robust inference with multiway
// clustering, J Bus Econ Stat 29:238-249.
//
// through is the part of the influences that goes through the estimates: events that go
// together. What kinds of subjects a group has is no chance of the groups: an answer is
// about subjects of the same groups.
func (d *Design) wider(u, through []float64) float64 {
	if d.second == nil {
		return 1
	}
	squares := func(codes []int32, u []float64) (sum float64) {
		by := make([]float64, slices.Max(codes)+1)
		for k, c := range codes {
			if c >= 0 {
				by[c] += u[k]
			}
		}
		for _, v := range by {
			sum += v * v
		}
		return sum
	}
	groups := groupsIn(d.second)
	one, other, both := squares(d.Cluster, u), squares(d.second, through), squares(d.both, through)
	if !(one > 0) || groups < 2 {
		return 1
	}
	return math.Sqrt(math.Max(1, (one+other*groups/(groups-1)-both)/one))
}

// groupsIn is how many groups there are in dense codes, -1 aside.
func groupsIn(codes []int32) (n float64) {
	seen := make([]bool, slices.Max(codes)+1)
	for _, c := range codes {
		if c >= 0 && !seen[c] {
			seen[c] = true
			n++
		}
	}
	return n
}

func (j Jackknife) widened(times float64) Jackknife {
	j.SE, j.Acceleration, j.Wider = j.SE*times, j.Acceleration/(times*times*times), times
	return j
}

// Lean is the acceleration by cluster alone, which a bootstrap by cluster needs.
func (j Jackknife) Lean() float64 {
	if j.Wider > 1 {
		return j.Acceleration * j.Wider * j.Wider * j.Wider
	}
	return j.Acceleration
}

// Widen draws the limits of an interval by cluster alone out as far as the second
// grouping asks, and says so.
func (j Jackknife) Widen(e stats.Estimate) stats.Estimate {
	if !(j.Wider > 1) || !e.Given() || !e.Bounded() {
		return e
	}
	e.Low, e.High = e.Point-(e.Point-e.Low)*j.Wider, e.Point+(e.High-e.Point)*j.Wider
	e.Method += j.note()
	return e
}

func (j Jackknife) note() string {
	if j.Wider > 1 {
		return fmt.Sprintf(", %.2f times as wide for who measured", j.Wider)
	}
	return ""
}

// jackknifeOf the influences: the standard error is the root of the sum of
// squares, the acceleration sum d^3/(6 (sum d^2)^(3/2)) (Efron B (1987) J Am
// Stat Assoc 82:171-185), d the influences less their mean. Both are 0 where
// they do not vary.
func jackknifeOf(influence []float64) Jackknife {
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
		return Jackknife{}
	}
	return Jackknife{SE: math.Sqrt(two), Acceleration: three / (6 * math.Pow(two, 1.5))}
}

// influence is each subject's on what moves so with the estimates (and, where share
// is given, by itself with the share of events reported by each edge): through its
// part in them, and through what its event, if late, says of that share.
func (t *Linearization) influence(by, share []float64) []float64 {
	f, d := t.fit, t.fit.d
	to := f.sums.Times(f.factor.Solve(by))
	slots, late := make([]float64, len(f.weights.Slot)), make([]float64, len(f.weights.Share))
	copy(late, share)
	for i, r := range t.risk {
		F := f.share(i)
		a, b, _ := scoreContribution(r, F)
		push := to.At(i)
		slots[2*i], slots[2*i+1] = b*push, a*push
		late[d.age[i]] -= f.weights.Slot[2*i] * r * (1 - r) / ((1 - F*r) * (1 - F*r)) * push
	}
	u := make([]float64, len(d.slot))
	for k, slot := range d.slot {
		u[k] = f.weights.ofSubject(k, slot, slots)
	}
	n := len(f.weights.Share)
	ofDelay := d.throughShare(f.weights.Share, late)
	for _, x := range d.delays {
		u[x.subject] += ofDelay[int(x.reported)*n+int(x.followed)]
	}
	if m := f.weights.imputed; m != nil {
		for k, v := range m.through(func(k int) float64 { return slots[d.slot[k]|1] - slots[d.slot[k]&^1] }) {
			u[k] += v
		}
	}
	return u
}

// Interval is point with limits that the acceleration leans as in BCa, at the
// level of few events (expandedLevel). n is what the caller counts.
func (j Jackknife) Interval(point float64, n, events int) stats.Estimate {
	e := stats.Estimate{Point: point, Level: stats.DefaultLevel, N: n, Method: JackknifeMethod + j.note()}
	e.Low, e.High = j.Limits(point, stats.Z(expandedLevel(events)))
	return e
}

// Limits are those of Interval at a given quantile, of the normal or another
// distribution.
func (j Jackknife) Limits(point, z float64) (low, high float64) {
	if a := j.Acceleration; math.Abs(a)*z < 1 {
		return point - j.SE*z/(1+a*z), point + j.SE*z/(1-a*z)
	}
	return point - j.SE*z, point + j.SE*z
}

// JackknifeMethod names where such an interval comes from.
const JackknifeMethod = "infinitesimal jackknife by customer"

// A mover says where estimates go, along a straight line, when clusters come more or
// less often: by the sum of the subjects' influences, without one for each of them. Once made it is
// only read.
type mover struct {
	t *Linearization
	// What a delay gives to the score by what it says of the share reported: by
	// [reported][followed], one number a column.
	delay [][]float64
}

// mover is that of a fit whose events were all reported, none put in.
func (t *Linearization) mover() *mover {
	f, d := t.fit, t.fit.d
	sum := f.sums.Scores()
	n := len(f.weights.Share)
	late := make([][]float64, f.sums.P) // per column and edge
	for j := range late {
		late[j] = make([]float64, n)
	}
	for k := range n {
		clear(sum.Score)
		F := f.weights.Share[k]
		for i, r := range t.risk {
			if int(d.age[i]) == k {
				sum.AddScore(i, -f.weights.Slot[2*i]*r*(1-r)/((1-F*r)*(1-F*r)))
			}
		}
		sum.SettleScore()
		for j, v := range sum.Score {
			late[j][k] = v
		}
	}
	m := &mover{t, make([][]float64, n*n)}
	for at := range m.delay {
		m.delay[at] = make([]float64, f.sums.P)
	}
	for j := range late {
		for at, v := range d.throughShare(f.weights.Share, late[j]) {
			m.delay[at][j] = v
		}
	}
	return m
}

// moved is how far the estimates go where cluster c comes weights[c] times.
func (m *mover) moved(weights []float64) []float64 {
	f, d := m.t.fit, m.t.fit.d
	slots, delays := make([]float64, len(f.weights.Slot)), make([]float64, len(m.delay))
	for k, slot := range d.slot {
		w := weights[d.Cluster[k]] - 1
		if f.weights.counts == nil {
			slots[slot] += w
			continue
		}
		slots[slot|1] += w * f.weights.counts.with[k]
		slots[slot&^1] += w * f.weights.counts.without[k]
	}
	for _, x := range d.delays {
		delays[int(x.reported)*len(f.weights.Share)+int(x.followed)] += weights[d.Cluster[x.subject]] - 1
	}
	sum := f.sums.Scores()
	for i, r := range m.t.risk {
		a, b, _ := scoreContribution(r, f.share(i))
		sum.AddScore(i, slots[2*i+1]*a+slots[2*i]*b)
	}
	sum.SettleScore()
	for at, w := range delays {
		floats.AddScaled(sum.Score, w, m.delay[at])
	}
	return f.factor.Solve(sum.Score)
}
