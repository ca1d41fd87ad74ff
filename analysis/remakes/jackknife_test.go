package remakes

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/internal/invented"
	"lastroom/analysis/stats"
)

// fitted is a workshop's joint model with its questions, on all orders.
func fitted(t *testing.T, orders int) (*design, []riskModel, []effect) {
	c, _ := invented.Workshop{Orders: orders, Intercept: -3.1, Seed: 11}.Make()
	d := newDesign(c, MatureAfter(c, 0), designOptions{faults: true, time: true})
	weight, share := newResampler(d).whole()
	base, why := makeFit(d, d.all, nil, weight, share, nil)
	require.Empty(t, why)
	doc := Faults(c, Options{})
	models := questions(d, base, doc.Maturity, &doc, 0)
	points, _ := ask(models, weight, share)
	return d, models, points
}

// A customer's influence is the derivative of an answer by the customer's
// weight: against the difference quotient of full refits, the share of late
// reports taken anew in each.
func TestInfluenceIsDerivative(t *testing.T) {
	d, models, points := fitted(t, 12_000)
	m := models[0]
	require.False(t, m.fit.firth)
	answers := func() (out []float64) {
		es, all := standardise(m.fit, m.qs)
		for _, e := range es {
			out = append(out, e.difference(), math.Log(e.ratio()), e.remakes)
		}
		return append(out, all)
	}
	m.fit.solve(50, 50, 1e-13)
	tangent := newTangent(m)
	var influences [][]float64
	for k, l := range tangent.lines {
		for _, g := range []gradient{l.difference(points[k], m.fit.weight), l.logRatio(points[k], m.fit.weight), l.sum()} {
			influences = append(influences, tangent.influence(g))
		}
	}
	influences = append(influences, tangent.influence(tangent.together(m.qs).sum()))

	late, young := d.delays[0].customer, d.delays[len(d.delays)-1].customer
	customers := []int32{late, young, 0, 17, int32(d.customers) - 1}
	const h = 1e-3
	rs := newResampler(d)
	at := func(customer int32, weight float64) []float64 {
		rs.whole()
		rs.multiple[customer] = weight
		stats.SumByPattern(rs.weight, d.slot, d.customer, rs.multiple, nil)
		m.fit.weight, m.fit.share = rs.weight, reportShare(d, rs.multiple)
		m.fit.solve(50, 50, 1e-13)
		return answers()
	}
	for _, who := range customers {
		up, down := at(who, 1+h), at(who, 1-h)
		for k, u := range influences {
			largest := 0.0
			for _, v := range u {
				largest = math.Max(largest, math.Abs(v))
			}
			assert.InDelta(t, (up[k]-down[k])/(2*h), u[who], 1e-3*largest, "answer %d, customer %d", k, who)
		}
	}
}

// Where remakes are many the jackknife stands in for the bootstrap: its
// standard errors must be those of full refits, but for what so few replicates
// can tell.
func TestJackknifeAgreesWithBootstrap(t *testing.T) {
	long(t)
	d, models, points := fitted(t, 45_000)
	require.GreaterOrEqual(t, events(models[0].fit.weight), float64(manyRemakes))
	lean := leansOf(models, points, 0)
	const times = 200
	width := 3*len(points) + 1
	values := make([][]float64, width)
	full, out := newRefitter(d, models, nil), make([]float64, width)
	for r := range times {
		require.NoError(t, full.replicate(stats.Source(1, r), out))
		for k, v := range out {
			values[k] = append(values[k], v)
		}
	}
	mean := 0.0
	for k := range points {
		for i, se := range []float64{lean.of[k].difference.se, lean.of[k].ratio.se * points[k].ratio(), lean.of[k].sum.se} {
			ratio := se / spread(values[3*k+i])
			mean += ratio / float64(3*len(points))
			assert.InDelta(t, 1, ratio, 4/math.Sqrt(2*times), "question %d, number %d", k, i)
		}
	}
	assert.InDelta(t, 1, mean, 0.05, "all standard errors together")
	assert.InDelta(t, 1, lean.all.se/spread(values[width-1]), 4/math.Sqrt(2*times), "all remakes")
}

// Where a rule's start is asked about in many orders, replicates take one
// Newton step and a straight line instead of a full refit: the answers must be
// the same but for a fifth of their spread.
func TestTangentAgreesWithRefit(t *testing.T) {
	long(t)
	d, models, points := fitted(t, 45_000)
	full, quick := newRefitter(d, models, nil), newRefitter(d, models, tangents(models))
	var values [][]float64
	worst := make([]float64, len(points))
	for r := range 30 {
		weight, share := full.rs.draw(stats.Source(1, r))
		var a, b []effect
		for i := range models {
			full.models[i].fit.weight, full.models[i].fit.share = weight, share
			quick.models[i].fit.weight, quick.models[i].fit.share = weight, share
			x, _ := full.again(i)
			y, _ := quick.again(i)
			a, b = append(a, x...), append(b, y...)
		}
		values = append(values, make([]float64, len(points)))
		for k := range points {
			values[r][k] = a[k].difference()
			worst[k] = math.Max(worst[k], math.Abs(a[k].difference()-b[k].difference()))
		}
	}
	for k := range points {
		var of []float64
		for _, v := range values {
			of = append(of, v[k])
		}
		assert.Less(t, worst[k], 0.2*spread(of), "question %d", k)
	}
}
