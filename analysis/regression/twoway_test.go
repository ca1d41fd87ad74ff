package regression

import (
	"flag"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/stats"
)

// By hand, by the rule of Cameron, Gelbach and Miller (2011): influences
// 1, 2, -1, 3 of subjects whose first groups are a a b b and second ones p q q q.
// By first: 3^2 + 2^2 = 13. By second: 1^2 + 4^2 = 17, times 2/(2-1). Where both
// meet, ap aq bq: 1 + 4 + 4 = 9. (13 + 34 - 9)/13.
func TestTwoGroupingsByHand(t *testing.T) {
	d := &Design{Cluster: []int32{0, 0, 1, 1}, second: []int32{0, 1, 1, 1}, both: []int32{0, 1, 2, 2}}
	u := []float64{1, 2, -1, 3}
	assert.InDelta(t, math.Sqrt(38.0/13), d.wider(u, u), 1e-12)
	assert.InDelta(t, 16.0/10, inEffect(d.second), 1e-12)
	assert.InDelta(t, 4, inEffect([]int32{1, 2, 3, 4}), 1e-12)
	d.second = []int32{0, 0, 0, 0}
	assert.InDelta(t, 1, d.wider(u, u), 1e-12, "one group tells nothing")
	// Only what goes through the estimates is summed by the second grouping: with
	// halves of the influences (13 + 34/4 - 9/4)/13.
	d.second = []int32{0, 1, 1, 1}
	assert.InDelta(t, math.Sqrt(19.25/13), d.wider(u, []float64{0.5, 1, -0.5, 1.5}), 1e-12)
	// p lies within a and tells nothing that a doesn't; q alone tells nothing either.
	d.passOverOwn()
	assert.Equal(t, []int32{-1, 1, 1, 1}, d.second)
	assert.Equal(t, []int32{-1, 1, 2, 2}, d.both)
	assert.InDelta(t, 1, inEffect(d.second), 1e-12)
	assert.InDelta(t, 1, d.wider(u, u), 1e-12)
	j := Jackknife{SE: 2, Acceleration: 0.1}.widened(1.5)
	assert.InDelta(t, 3, j.SE, 1e-12)
	assert.InDelta(t, 0.1, j.Lean(), 1e-12)
	e := j.Widen(stats.Estimate{Point: 4, Low: 2, High: 7, Level: 0.95, Method: "m"})
	assert.InDeltaSlice(t, []float64{1, 8.5}, []float64{e.Low, e.High}, 1e-12)
	assert.Contains(t, e.Method, "1.50 times as wide for who measured")
}

// Petersen MA (2009), Estimating standard errors in finance panel data sets, Rev
// Financ Stud 22:435-480: a panel made for the purpose, 500 firms in 10 years.
//
// The line through it: variances of the slope as the test output of R's package
// sandwich 3.0-2 has them (tests/vcovCL.Rout.save, type HC0), by firm 2.554297e-3, by
// firm and year 2.751471e-3, each sum of squares times G/(G-1) 2.867888e-3.
//
// The logistic model of y > 0: sandwich was run for it, and its output by firm holds
// 2.75766e-3 by another program (brl, from Angrist's page).
func TestTwoGroupingsOfPetersen(t *testing.T) {
	data := example(t, "petersen.csv")
	x, y := data["x"], data["y"]
	firm, year, both := make([]int32, len(y)), make([]int32, len(y)), make([]int32, len(y))
	for i := range y {
		firm[i], year[i], both[i] = int32(data["firm"][i])-1, int32(data["year"][i])-1, int32(i)
	}
	byFirm := &Design{Clusters: 500, Cluster: firm, second: year, both: both}
	byYear := &Design{Clusters: 10, Cluster: year, second: firm, both: both}
	variance := func(d *Design, u []float64) float64 { return math.Pow(jackknifeOf(d.byCluster(u)).SE, 2) }
	widened := func(d *Design, u []float64) float64 { return variance(d, u) * math.Pow(d.wider(u, u), 2) }
	whole := func(u []float64) float64 { // where both meet every row is alone
		v := 0.0
		for _, x := range u {
			v += x * x
		}
		return v
	}

	a, b := stat.LinearRegression(x, y, nil, false)
	mean, square := stat.Mean(x, nil), stat.Variance(x, nil)*float64(len(x)-1)
	line := make([]float64, len(x))
	for i := range x {
		line[i] = (x[i] - mean) * (y[i] - a - b*x[i]) / square
	}
	v1, v2, v12 := variance(byFirm, line), variance(byYear, line), whole(line)
	assert.InDelta(t, 2.554297e-3, v1, 5e-9)
	assert.InDelta(t, 2.751471e-3, v1+v2-v12, 5e-9)
	assert.InDelta(t, 2.867888e-3, v1*500/499+v2*10/9-v12*5000/4999, 5e-9)
	// Only the sum with few groups gets its factor here.
	assert.InDelta(t, 2.867888e-3-v1/499+v12/4999, widened(byFirm, line), 5e-9)
	assert.InDelta(t, 0.0536, math.Sqrt(widened(byFirm, line)), 1e-4)

	positive := make([]float64, len(y))
	for i := range y {
		positive[i] = indicator(y[i] > 0)
	}
	d, c := plain(t, positive, x)
	f := settled(t, d, c, false)
	assert.InDeltaSlice(t, []float64{0.0359459790603, 0.8118897554543}, f.Coef, 1e-7)
	u := NewLinearization(Model{Fit: f}).influence([]float64{0, 1}, nil)
	v1, v2, v12 = variance(byFirm, u), variance(byYear, u), whole(u)
	assert.InDelta(t, 2.752145520e-3, v1, 1e-9)
	assert.InDelta(t, 2.75766e-3, v1*500/499, 5e-9)
	assert.InDelta(t, 0.622122072e-3, v2, 1e-9)
	assert.InDelta(t, 2.201015962e-3, v1+v2-v12, 1e-9)
	assert.InDelta(t, 2.275421261e-3, v1*500/499+v2*10/9-v12*5000/4999, 1e-9)
	// By firm and year the two variances together are less than by firm alone, and then
	// nothing is widened; by year and firm they are more.
	assert.InDelta(t, v1, widened(byFirm, u), 1e-12)
	assert.InDelta(t, v2+2.757660842e-3-v12, widened(byYear, u), 1e-9)
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
