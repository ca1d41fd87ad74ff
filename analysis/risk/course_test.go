package risk

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
)

// With equal chances the limits are those of the binomial distribution.
func TestCountLimits(t *testing.T) {
	p := make([]float64, 40)
	for i := range p {
		p[i] = 0.08
	}
	low, high := countLimits(p)
	b := distuv.Binomial{N: 40, P: 0.08}
	assert.LessOrEqual(t, b.CDF(float64(low-1)), 0.025)
	assert.Greater(t, b.CDF(float64(low)), 0.025)
	assert.GreaterOrEqual(t, b.CDF(float64(high)), 0.975)
	assert.Less(t, b.CDF(float64(high-1)), 0.975)
	low, high = countLimits(nil)
	assert.Equal(t, [2]int{0, 0}, [2]int{low, high})
}

// By hand: of 1,000 orders at a risk of 0.1 each, x remade are logit(x/1000) - logit(0.1) off, with
// the standard error 1/sqrt(x(1-x/1000)). At 122 that is 2.32 of them, at 76 -2.52: outside 95 %, not
// outside 99 % (2.576). At 126 it is 2.73, at 74 -2.73.
func TestWhatIsDriftByHand(t *testing.T) {
	for remade, said := range map[int]string{122: "No drift", 76: "No drift", 126: "more come back", 74: "fewer come back"} {
		p, event := slices.Repeat([]float64{0.1}, 1000), make([]bool, 1000)
		for i := range remade {
			event[i] = true
		}
		var x Course
		x.judge(p, event)
		share := float64(remade) / 1000
		off := math.Log(share/(1-share)) + math.Log(9)
		assert.InDelta(t, off, x.Intercept.Point, 1e-9)
		assert.InDelta(t, 1.959964/math.Sqrt(1000*share*(1-share)), x.Intercept.High-off, 1e-6)
		assert.Contains(t, x.Words, said, "%d", remade)
		assert.Equal(t, said != "No drift", x.Drifts, "%d", remade)
	}
}

// Where the shop stays as it was no drift shows in most shops; where twice as many
// come back lately it does.
func TestDrift(t *testing.T) {
	quiet, noticed, shops := 0, 0, breadth.Few(3, 6)
	for k := range shops {
		c := smallShop(uint64(20 + k))
		x, err := Follow(context.Background(), c, Options{Seed: 1})
		require.NoError(t, err)
		require.Empty(t, x.Why)
		require.NotEmpty(t, x.Months)
		if !x.Drifts {
			quiet++
		}
		rng := stats.Source(99, k)
		for i := range c.Shipped {
			if c.Shipped[i] > c.AsOf-330 && !c.Remade[i].Known() && rng.Float64() < 0.15 {
				if d := c.Shipped[i] + cohort.Day(20+rng.IntN(60)); d <= c.AsOf {
					c.Remade[i], c.Returned[i] = d, cohort.NoDay
				}
			}
		}
		x, err = Follow(context.Background(), c, Options{Seed: 1})
		require.NoError(t, err)
		if x.Drifts {
			noticed++
			assert.Contains(t, x.Words, "more come back")
		}
	}
	assert.GreaterOrEqual(t, 3*quiet, 2*shops)
	assert.GreaterOrEqual(t, 3*noticed, 2*shops)
}
