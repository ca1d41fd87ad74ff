package regression

import (
	"flag"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

// By hand. 100 old orders, followed to both edges: 6 remade by the first and 4 more
// by the second, 10 returned in between. 50 young ones, followed to the first edge: 3
// remade, 5 returned. Where the end of follow-up is known for all, the cumulative
// incidence is the product-limit with returned orders kept at risk (Fine JP, Gray RJ
// (1999) J Am Stat Assoc 94:496-509): 1 - (1 - 9/150)(1 - 4/94) = 0.10.
// With returned orders taken out as if their story were cut off, it would be more.
func TestCompetingEndByHand(t *testing.T) {
	const returned = -1
	type kind struct{ n, age, day int } // day of the remake; 0 none
	kinds := []kind{{6, 60, 20}, {4, 60, 50}, {10, 60, returned}, {80, 60, 0}, {3, 30, 20}, {5, 30, returned}, {42, 30, 0}}
	fit := func(cutOff bool) float64 {
		var age, day []int
		for _, k := range kinds {
			for range k.n {
				a := k.age
				if k.day == returned && cutOff {
					a = 30
				}
				age, day = append(age, a), append(day, k.day)
			}
		}
		clusters := make([]int32, len(age))
		for i := range clusters {
			clusters[i] = int32(i)
		}
		d := NewDesign(Subjects{
			N: len(age), Cluster: clusters, Edges: []int{30, 60},
			Age: func(i int) int { return age[i] }, Event: func(i int) (int, bool) { return day[i], day[i] > 0 },
		}, nil, nil)
		f, err := d.Fit(Columns{}, d.Whole(), nil)
		require.NoError(t, err)
		return f.Risk(0)
	}
	assert.InDelta(t, 0.10, 1-(1-9.0/150)*(1-4.0/94), 1e-12)
	assert.InDelta(t, 0.10, fit(false), 1e-8)
	assert.Greater(t, fit(true), 0.103)
}

var competingShops = flag.Int("returns", 60, "simulated shops of TestCompetingEnd")

// Shops in which a third of the faulty pairs and 15 in 100 of the others would go
// back for the money, most of them before a remake could be asked for. The adjusted
// difference is that of the chance of a remake before a return; taken as the end of
// follow-up, returns would make another figure of it.
//
//	go test ./analysis/regression -run CompetingEnd -returns=1000 -v
func TestCompetingEnd(t *testing.T) {
	const n, horizon = 3000, 365
	edges := []int{30, 60, 90, 120, 180, 240, 300, horizon}
	type order struct {
		with              bool
		age, back, remade int // days; 0: never
	}
	draw := func(rng interface {
		Float64() float64
		IntN(int) int
		NormFloat64() float64
	}) order {
		o := order{with: rng.Float64() < 0.4, age: 30 + rng.IntN(700)}
		risk, back := 0.12, 0.15
		if o.with {
			risk, back = 0.24, 0.33
		}
		if rng.Float64() < risk {
			o.remade = min(horizon, 1+int(math.Exp(4.1+0.8*rng.NormFloat64())))
		}
		if rng.Float64() < back {
			o.back = 1 + rng.IntN(90)
		}
		if o.back > 0 && o.back < o.remade {
			o.remade = 0
		}
		return o
	}
	count, remade := [2]float64{}, [2]float64{}
	rng := stats.Source(78, 1<<20)
	for range 400_000 {
		o, k := draw(rng), 0
		if o.with {
			k = 1
		}
		count[k]++
		if o.remade > 0 {
			remade[k]++
		}
	}
	truth := remade[1]/count[1] - remade[0]/count[0]
	covered, meanOff, asEnd := 0, 0.0, 0.0
	for shop := range *competingShops {
		rng := stats.Source(78, shop)
		orders := make([]order, n)
		clusters := make([]int32, n)
		for i := range orders {
			orders[i], clusters[i] = draw(rng), int32(i)
		}
		difference := func(age func(o order) int) (float64, Jackknife) {
			d := NewDesign(Subjects{
				N: n, Cluster: clusters, Edges: edges, Age: func(i int) int { return age(orders[i]) },
				Event: func(i int) (int, bool) { o := orders[i]; return o.remade, o.remade > 0 && o.remade <= o.age },
			}, nil, []Exposure{{Name: "x", Level: func(i int) Level {
				if orders[i].with {
					return With
				}
				return Clean
			}}})
			f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
			require.NoError(t, err)
			m := Model{f, []Question{d.Question(0, 0)}}
			es, _ := m.Standardise()
			return es[0].Difference(), NewLinearization(m).Uncertainty(0, es[0]).Difference
		}
		got, u := difference(func(o order) int { return o.age })
		if e := u.Interval(got, n, 100); e.Low <= truth && truth <= e.High {
			covered++
		}
		meanOff += (got - truth) / u.SE / float64(*competingShops)
		got, u = difference(func(o order) int {
			if o.back > 0 && o.back < o.age {
				return o.back
			}
			return o.age
		})
		asEnd += (got - truth) / u.SE / float64(*competingShops)
	}
	t.Logf("truth %.4f; %d of %d shops covered, mean error %+.3f standard errors; with returns as the end of follow-up %+.3f", truth, covered, *competingShops, meanOff, asEnd)
	slack := 1 / math.Sqrt(float64(*competingShops))
	assert.InDelta(t, 0.95, float64(covered)/float64(*competingShops), 0.02+0.7*slack)
	assert.Less(t, math.Abs(meanOff), 0.15+3*slack)
	assert.Greater(t, asEnd, 0.5)
}
