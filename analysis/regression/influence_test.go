package regression

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

func modelOf(t testing.TB, d *Design) Model {
	f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
	require.NoError(t, err)
	return Model{f, []Question{d.Question(0, 90), d.Question(1, 90)}}
}

// A cluster's influence is the derivative of an answer by the cluster's weight:
// against the difference quotient of full refits, the share of late reports
// taken anew in each.
func TestInfluenceIsDerivative(t *testing.T) {
	d := simulated(6000, 11)
	m := modelOf(t, d)
	require.False(t, m.Fit.Firth)
	answers := func() (out []float64) {
		es, all := m.Standardise()
		for _, e := range es {
			out = append(out, e.Difference(), math.Log(e.Ratio()), e.Events)
		}
		return append(out, all)
	}
	m.Fit.solve(50, 50, 1e-13)
	points, _ := m.Standardise()
	at := NewLinearization(m)
	var influences [][]float64
	for k, e := range points {
		l := at.respond(m.Questions[k])
		for _, g := range []gradient{l.combined(m.Fit.weights, e, 1, 1), l.combined(m.Fit.weights, e, 1/e.On, 1/e.Off), l.sum()} {
			u, _ := at.influences(g)
			influences = append(influences, d.byCluster(u))
		}
	}
	u, _ := at.influences(at.together().sum())
	influences = append(influences, d.byCluster(u))
	const h = 1e-3
	rs := NewResampler(d)
	with := func(cluster int32, weight float64) []float64 {
		for k := range rs.multiple {
			rs.multiple[k] = 1
		}
		rs.multiple[cluster] = weight
		m.Fit.weights = rs.weights(rs.d.reportShare(rs.multiple))
		m.Fit.solve(50, 50, 1e-13)
		return answers()
	}
	for _, who := range []int32{d.Cluster[d.delays[0].subject], d.Cluster[d.delays[len(d.delays)-1].subject], 0, 17, int32(d.Clusters) - 1} {
		up, down := with(who, 1+h), with(who, 1-h)
		for k, u := range influences {
			largest := 0.0
			for _, v := range u {
				largest = math.Max(largest, math.Abs(v))
			}
			assert.InDelta(t, (up[k]-down[k])/(2*h), u[who], 1e-3*largest, "answer %d, cluster %d", k, who)
		}
	}
}

// Where events are many the jackknife stands in for the bootstrap: its standard
// errors must be those of full refits, but for what so few replicates can tell.
func TestJackknifeAgreesWithBootstrap(t *testing.T) {
	if testing.Short() {
		t.Skip("long: run without -short")
	}
	d := simulated(20_000, 4)
	models := []Model{modelOf(t, d)}
	points, _ := models[0].Standardise()
	l := NewLinearization(models[0])
	const times = 200
	width := 3*len(points) + 1
	values := make([][]float64, width)
	full, out := NewRefitter(d, models, nil), make([]float64, width)
	for r := range times {
		full.Replicate(stats.Source(1, r), out)
		for k, v := range out {
			values[k] = append(values[k], v)
		}
	}
	for k, e := range points {
		u := l.Uncertainty(k, e)
		for i, se := range []float64{u.Difference.SE, u.LogRatio.SE * e.Ratio(), u.Events.SE} {
			assert.InDelta(t, 1, se/Spread(values[3*k+i]), 4/math.Sqrt(2*times), "question %d, number %d", k, i)
		}
	}
	assert.InDelta(t, 1, l.UncertaintyOfAll().SE/Spread(values[width-1]), 4/math.Sqrt(2*times), "all events")
}

// With many events a replicate may take one Newton step and a straight line
// instead of a full refit: the answers must be the same but for a fifth of
// their spread.
func TestLinearizationAgreesWithRefit(t *testing.T) {
	d := simulated(20_000, 4)
	models := []Model{modelOf(t, d)}
	full, quick := NewRefitter(d, models, nil), NewRefitter(d, models, Linearize(models))
	var values, worst [2][]float64
	for r := range 20 {
		a, _ := full.Answer(0, full.Draw(stats.Source(1, r)))
		b, _ := quick.Answer(0, quick.Draw(stats.Source(1, r)))
		for k := range a {
			values[k] = append(values[k], a[k].Difference())
			worst[k] = append(worst[k], math.Abs(a[k].Difference()-b[k].Difference()))
		}
	}
	for k := range worst {
		for _, w := range worst[k] {
			assert.Less(t, w, 0.2*Spread(values[k]), "question %d", k)
		}
	}
}

// A replicate takes Firth's leverages from the whole sample: its estimates must
// be those of a fit with its own, but for a quarter of their spread.
func TestFirthReplicates(t *testing.T) {
	d := simulated(150, 3)
	m := modelOf(t, d)
	require.True(t, m.Fit.Firth)
	var quick, own []float64
	rs := NewResampler(d)
	for k := range 40 {
		a := Model{m.Fit.fork(), m.Questions}
		a.Fit.weights = rs.Draw(stats.Source(2, k))
		a.Fit.refit(true)
		es, _ := a.Standardise()
		quick = append(quick, es[0].Difference())
		a.Fit.hat = nil
		a.Fit.solve(60, 60, 1e-8)
		a.Fit.recentre()
		es, _ = a.Standardise()
		own = append(own, es[0].Difference())
	}
	for k := range own {
		assert.InDelta(t, own[k], quick[k], 0.25*Spread(own))
	}
	assert.InDelta(t, 1, Spread(quick)/Spread(own), 0.05)
}

// Efron B, Tibshirani RJ (1993) An Introduction to the Bootstrap, ch. 14: the
// law school correlation has the acceleration -0.0817 by leaving one out (R).
// The infinitesimal version of a mean is, by hand, skewness / (6 sqrt n).
func TestAccelerationByHand(t *testing.T) {
	x := []float64{1, 2, 3, 10}
	u := make([]float64, len(x))
	for i, v := range x {
		u[i] = (v - 4) / 4 // influence of each on the mean
	}
	j := jackknifeOf(u)
	// sum d^2 = (9+4+1+36)/16, sum d^3 = (-27-8-1+216)/64
	assert.InDelta(t, math.Sqrt(50.0/16), j.SE, 1e-12)
	assert.InDelta(t, 180.0/64/(6*math.Pow(50.0/16, 1.5)), j.Acceleration, 1e-12)
	assert.Equal(t, Jackknife{}, jackknifeOf([]float64{2, 2}))
}

// With no bias and no acceleration BCa is the percentile interval; few events
// widen both by Student's t (2.0639 at 24 degrees of freedom, from tables) times
// sqrt(n/(n-1)).
func TestBCaIsPercentileWithoutBias(t *testing.T) {
	values := make([]float64, 401)
	for k := range values {
		values[k] = float64(k - 200)
	}
	a, b := BCa(0.5, values, 0, 7, 25), Percentile(0.5, values, 7, 25)
	assert.InDelta(t, b.Low, a.Low, 1.5)
	assert.InDelta(t, b.High, a.High, 1.5)
	skew := BCa(0.5, values, 0.1, 7, 25)
	assert.Greater(t, skew.High, a.High, "a positive acceleration leans to the right")
	assert.Equal(t, stats.DefaultLevel, a.Level)
	assert.InDelta(t, 2.063899*math.Sqrt(25.0/24), stats.Z(expandedLevel(25)), 1e-5)
}

// What taking an exposure off everyone brings is, by another road, the events
// that go with it: the sum over those who have it of risk as it is less risk
// without. And its influence is the derivative by the clusters' weights.
func TestContrastIsAttributable(t *testing.T) {
	d := simulated(6000, 11)
	f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
	require.NoError(t, err)
	f.solve(50, 50, 1e-13)
	m := Model{f, []Question{d.Question(0, 0)}}
	es, _ := m.Standardise()
	same := d.Restate(func(e, subject int) Level { return levelOf(d, e, subject) })
	require.Equal(t, d.Patterns(), same.Patterns())
	everyone := func(int) bool { return true }
	off := []bool{true, false}
	got := NewLinearization(m).Contrast(same, everyone, everyone, off)
	n := float64(len(d.Subject))
	assert.InDelta(t, es[0].Events/n, got.Mean, 1e-12)
	risk := NewLinearization(m).Contrast(same, everyone, everyone, nil)
	assert.InDelta(t, meanRisk(f), risk.Mean, 1e-12)

	const h = 1e-3
	rs := NewResampler(d)
	for _, who := range []int32{d.Cluster[d.delays[0].subject], 0, 17} {
		var at [2]float64
		for side, w := range []float64{1 + h, 1 - h} {
			for k := range rs.multiple {
				rs.multiple[k] = 1
			}
			rs.multiple[who] = w
			f.weights = rs.weights(rs.d.reportShare(rs.multiple))
			f.solve(50, 50, 1e-13)
			es, _ := m.Standardise()
			at[side] = es[0].Events / f.weights.total()
		}
		assert.InDelta(t, (at[0]-at[1])/(2*h), got.Influence[who], 2e-3*jackknifeOf(got.Influence).SE)
	}
}

// levelOf is a subject's level in its design.
func levelOf(d *Design, e, subject int) Level {
	for k, i := range d.Subject {
		if int(i) == subject {
			return d.level[e][d.Pattern(k)]
		}
	}
	return NotAtRisk
}

// Efron's limits lean to the side that the acceleration says: 2/(1 + 0.1) below, 2/(1 - 0.1) above.
func TestLimitsByHand(t *testing.T) {
	low, high := Jackknife{SE: 1, Acceleration: 0.05}.Limits(3, 2)
	assert.InDelta(t, 3-2/1.1, low, 1e-12)
	assert.InDelta(t, 3+2/0.9, high, 1e-12)
	low, high = Jackknife{SE: 1, Acceleration: 0.5}.Limits(3, 2) // too far to lean
	assert.Equal(t, []float64{1, 5}, []float64{low, high})
}
