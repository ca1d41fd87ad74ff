package regression

import (
	"flag"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

// By hand, by the rule of Cameron, Gelbach and Miller (2011): influences
// 1, 2, -1, 3 of subjects whose first groups are a a b b and second ones p q q q.
// By first: 3^2 + 2^2 = 13. By second: 1^2 + 4^2 = 17, times 2/(2-1). Where both
// meet, ap aq bq: 1 + 4 + 4 = 9. (13 + 34 - 9)/13.
func TestTwoGroupingsByHand(t *testing.T) {
	d := &Design{Cluster: []int32{0, 0, 1, 1}, second: []int32{0, 1, 1, 1}, both: []int32{0, 1, 2, 2}}
	u := []float64{1, 2, -1, 3}
	assert.InDelta(t, math.Sqrt(38.0/13), d.wider(u), 1e-12)
	assert.InDelta(t, 16.0/10, inEffect(d.second), 1e-12)
	assert.InDelta(t, 4, inEffect([]int32{1, 2, 3, 4}), 1e-12)
	d.second = []int32{0, 0, 0, 0}
	assert.InDelta(t, 1, d.wider(u), 1e-12, "one group tells nothing")
	j := Jackknife{SE: 2, Acceleration: 0.1}.widened(1.5)
	assert.InDelta(t, 3, j.SE, 1e-12)
	assert.InDelta(t, 0.1, j.Lean(), 1e-12)
	e := j.Widen(stats.Estimate{Point: 4, Low: 2, High: 7, Level: 0.95, Method: "m"})
	assert.InDeltaSlice(t, []float64{1, 8.5}, []float64{e.Low, e.High}, 1e-12)
	assert.Contains(t, e.Method, "1.50 times as wide for who measured")
}

var groupings = flag.Int("groupings", 60, "simulated shops of TestIntervalsWhereMeasurersDiffer")

// Shops of 1,500 orders of 20 measurers, whose own remake odds and whose share of
// forms with the fault both differ (0.5 on the logit scale): the interval of a
// standardised difference covers its truth only if who measured counts.
func TestIntervalsWhereMeasurersDiffer(t *testing.T) {
	const n, measurers = 1500, 20
	covered, byOne := 0, 0
	for shop := range *groupings {
		rng := stats.Source(77, shop)
		odds, habit := make([]float64, measurers), make([]float64, measurers)
		for m := range odds {
			odds[m], habit[m] = 0.5*rng.NormFloat64(), 1.5*rng.NormFloat64()
		}
		s := Subjects{N: n, Cluster: make([]int32, n), Second: make([]int32, n), Edges: []int{365}, Age: func(int) int { return 400 }}
		level, event := make([]Level, n), make([]bool, n)
		for i := range n {
			m := rng.IntN(measurers)
			s.Cluster[i], s.Second[i] = int32(rng.IntN(n)), int32(m)
			if rng.Float64() < stats.Logistic(-1+habit[m]) {
				level[i] = With
			}
			event[i] = rng.Float64() < stats.Logistic(-2+odds[m]) // the fault does nothing
		}
		s.Event = func(i int) (int, bool) { return 10, event[i] }
		d := NewDesign(s, nil, []Exposure{{Name: "x", Level: func(i int) Level { return level[i] }}})
		f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
		require.NoError(t, err)
		m := Model{f, []Question{d.Question(0, 0)}}
		es, _ := m.Standardise()
		u := NewLinearization(m).Uncertainty(0, es[0]).Difference
		limit := stats.Z(0.95) * u.SE
		if math.Abs(es[0].Difference()) <= limit {
			covered++
		}
		if math.Abs(es[0].Difference()) <= limit/u.Wider {
			byOne++
		}
	}
	t.Logf("%d shops: covered %d, by customer alone %d", *groupings, covered, byOne)
	assert.Greater(t, float64(covered), 0.86*float64(*groupings))
	assert.Greater(t, covered, byOne)
}
