package rules

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/internal/invented"
)

// byFault applies the embedded one-fault rules to first forms, as the order
// book would.
func byFault(c *cohort.Cohort, from cohort.Day) []Applied {
	var as []Applied
	for _, r := range Default() {
		f, ok := form.FaultIndex(r.ID)
		if !ok {
			continue
		}
		held := make([]form.State, c.Len())
		for i, s := range c.First[f] {
			if held[i] = s; s == form.NotAtRisk {
				held[i] = form.Without
			}
		}
		r.From = from
		as = append(as, Applied{r, held})
	}
	return as
}

// callsOf are the workshop's call-backs: resolved where a later form was cut
// from.
func callsOf(c *cohort.Cohort) []Call {
	var calls []Call
	for i, called := range c.CalledBack {
		if !called {
			continue
		}
		call := Call{Row: i, CalledOn: c.Received[i] + 3, Resolved: form.Without, ResolvedOn: cohort.NoDay}
		if c.CutNo[i] > 1 {
			call.Resolved, call.ResolvedOn = form.With, c.Received[i]+10
		}
		calls = append(calls, call)
	}
	return calls
}

// hand is 40 mature orders: 10 held with 6 remade, 30 not held with 3 remade.
func hand() (*cohort.Cohort, []Applied) {
	c, _ := invented.Workshop{Orders: 40, Intercept: -3, Seed: 1}.Make()
	held := make([]form.State, 40)
	for i := range held {
		c.Shipped[i], c.Received[i] = c.AsOf-500+cohort.Day(i), c.AsOf-540+cohort.Day(i)
		c.Remade[i], c.CutNo[i], c.CalledBack[i] = cohort.NoDay, 1, false
		held[i] = form.Without
		if i < 10 {
			held[i] = form.With
		}
		if i < 6 || i >= 37 {
			c.Remade[i] = c.Shipped[i] + 30
		}
	}
	return c, []Applied{{Rule{ID: "x", From: cohort.NoDay, Until: cohort.NoDay}, held}}
}

// Worked by hand.
func TestScorecardByHand(t *testing.T) {
	c, as := hand()
	remake, call := 500.0, 20.0
	d := Score(context.Background(), c, as, nil, Options{Success: 0.5, Costs: Costs{Remake: &remake, Callback: &call}})
	require.Equal(t, 40, d.FirstForms)
	r := d.Rules[0]
	assert.Equal(t, 10, r.Held)
	assert.Equal(t, 6, r.RemakesCaught)
	assert.InDelta(t, 0.25, r.HeldShare.Point, 1e-12)
	assert.False(t, r.Sensitivity.Given(), "9 remakes are too few for a share")
	assert.Equal(t, 9, r.Remakes)
	assert.InDelta(t, 0.6, r.RateHeld.Point, 1e-12)
	assert.InDelta(t, 0.1, r.RateNotHeld.Point, 1e-12)
	assert.InDelta(t, 10.0/6, r.CallsPerCatch.Point, 1e-12)
	// 100 x 0.25 held x 0.5 mended x (0.6 - 0.1)
	assert.InDelta(t, 6.25, r.Avoidable.Point, 1e-12)
	// 6.25 remakes at 500 less 25 call-backs at 20
	assert.InDelta(t, 2625, r.Net.Point, 1e-9)
	assert.Less(t, r.Net.Low, r.Net.Point)
	assert.InDelta(t, 2, r.NumberNeeded.Point, 1e-12)
	assert.Nil(t, r.Since)
	assert.Contains(t, d.SuccessFrom, "given")
}

func TestCostsAreOptional(t *testing.T) {
	c, as := hand()
	d := Score(context.Background(), c, as, nil, Options{})
	assert.False(t, d.Rules[0].Net.Given())
	assert.Contains(t, d.Rules[0].Net.Warnings[0], "no costs given")
	assert.InDelta(t, usualSuccess, d.Success, 1e-12)
	assert.Contains(t, d.SuccessFrom, "judgement")
}

// A form that can't be judged goes through: it counts among the first forms but
// is neither held nor in the rate of those let through. An order without a
// first form counts nowhere.
func TestWhatCantBeJudgedGoesThrough(t *testing.T) {
	c, as := hand()
	for i := 20; i < 30; i++ {
		as[0].Held[i] = form.Unknown
	}
	for i := 37; i < 40; i++ {
		as[0].Held[i] = form.NotAtRisk
	}
	d := Score(context.Background(), c, as, nil, Options{Success: 0.5})
	r := d.Rules[0]
	assert.Equal(t, 37, d.FirstForms)
	assert.Equal(t, 6, d.Remade)
	assert.Equal(t, []int{10, 17, 10}, []int{r.Held, r.NotHeld, r.Unknown})
	assert.InDelta(t, 10.0/37, r.HeldShare.Point, 1e-12)
	assert.Equal(t, 37, r.HeldShare.N)
	assert.Equal(t, 17, r.RateNotHeld.N)
	assert.Equal(t, 6, r.Remakes)
	assert.Equal(t, []string{"could not be judged on 10 forms; those are not held"}, r.Warnings)
	assert.InDelta(t, 100*10.0/37*0.5*0.6, r.Avoidable.Point, 1e-12)
}

func TestCalledBackOrdersStandApart(t *testing.T) {
	c, as := hand()
	// Call back the four held orders that fitted: the six others stay.
	for i := 6; i < 10; i++ {
		c.CalledBack[i], c.CutNo[i] = true, 2
	}
	r := Score(context.Background(), c, as, nil, Options{Success: 0.5}).Rules[0]
	assert.Equal(t, 10, r.Held, "they were held all the same")
	assert.False(t, r.RateHeld.Given(), "six orders are too few for a rate")
	assert.Contains(t, r.TooFew, "too few to tell")
}

// The JSON of any scorecard can be written: no NaN, nothing infinite.
func TestScorecardAlwaysAnswers(t *testing.T) {
	for _, n := range []int{0, 1, 15, 80, 400} {
		for _, intercept := range []float64{-9, -3, 9} {
			c, _ := invented.Workshop{Orders: n, Intercept: intercept, Seed: uint64(n)}.Make()
			d := Score(context.Background(), c, byFault(c, c.AsOf-540), callsOf(c), Options{Replicates: 50, Seed: 1})
			_, err := json.Marshal(d)
			require.NoError(t, err)
			for _, r := range d.Rules {
				assert.NotEmpty(t, r.Words)
			}
		}
	}
}

// In a workshop where call-backs on one fault start half-way, the change has
// the true size and most of the promise is kept.
func TestSinceTheStart(t *testing.T) {
	c, _ := invented.Workshop{Orders: 150_000, Intercept: -2.5, Seed: 6, Only: "tape-marks-missing"}.Make()
	d := Score(context.Background(), c, byFault(c, c.AsOf-540-40)[:1], callsOf(c), Options{Replicates: 100, Seed: 1})
	r := d.Rules[0]
	require.Equal(t, "tape-marks-missing", r.ID)
	require.NotNil(t, r.Since)
	require.True(t, r.Since.Step.Bounded(), "%v", r.Since.Step.Warnings)
	// The true change is -2.3: the same workshop with 400,000 orders, with and
	// without call-backs.
	assert.Less(t, r.Since.Step.High, 0.0)
	assert.Less(t, r.Since.Step.Low, -2.3)
	assert.Greater(t, r.Since.Step.High, -2.3)
	assert.InDelta(t, 0.75, r.Since.Success.Point, 0.03)
	assert.True(t, r.KeptPromise.Bounded())
	t.Log(r.Since.Words)
	assert.Less(t, r.Since.Mended.Rate.Point, r.Since.Ignored.Rate.Point)
	assert.Len(t, r.Since.Traps, 3)
}

// Rules that do nothing look better than they are when they are picked as the
// best of many; the correction takes most of that off.
func TestOptimismOfThePickedRule(t *testing.T) {
	apparent, corrected := 0.0, 0.0
	const workshops, rules = 40, 12
	for seed := range uint64(workshops) {
		c, _ := invented.Workshop{Orders: 800, Intercept: -2, Seed: seed + 1}.Make()
		var as []Applied
		for k := range rules {
			held := make([]form.State, c.Len())
			for i := range held {
				held[i] = form.Without
				if (uint64(i)*2654435761+uint64(k)*97+seed*31)>>7%5 == 0 {
					held[i] = form.With
				}
			}
			as = append(as, Applied{Rule{ID: string(rune('a' + k)), From: cohort.NoDay, Until: cohort.NoDay}, held})
		}
		d := Score(context.Background(), c, as, nil, Options{Replicates: 60, Seed: seed, Success: 1})
		best := 0
		for k := range d.Rules {
			if d.Rules[k].Avoidable.Point > d.Rules[best].Avoidable.Point {
				best = k
			}
		}
		apparent += d.Rules[best].Avoidable.Point / workshops
		corrected += d.Rules[best].Corrected.Point / workshops
	}
	t.Logf("best of %d inert rules: apparent %.2f, corrected %.2f per 100", rules, apparent, corrected)
	assert.Greater(t, apparent, 0.3)
	assert.Less(t, math.Abs(corrected), 0.5*apparent)
}
