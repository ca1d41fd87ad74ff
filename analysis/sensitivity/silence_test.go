package sensitivity

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/invented"
)

// ofFaults are rules of one fault each on first forms.
func ofFaults(c *cohort.Cohort, n int) (applied []rules.Applied) {
	for f, x := range form.Faults[:n] {
		applied = append(applied, rules.Applied{Rule: rules.Rule{ID: x.ID, Title: x.Title, Mends: []string{x.ID}}, Held: c.First[f]})
	}
	return applied
}

// As counted every figure is the one that was found; with the factor the silent
// only ever add remakes, up to all of them.
func TestAsCountedNothingMoves(t *testing.T) {
	c, _ := invented.Workshop{Orders: 1500, Intercept: -3, Idle: 60, Seed: 3}.Make()
	table := remakes.Faults(t.Context(), c, remakes.Options{Replicates: 40, Seed: 1})
	applied := ofFaults(c, 3)
	remake, call := 400.0, 15.0
	o := rules.Options{Costs: rules.Costs{Remake: &remake, Callback: &call}, Replicates: 40, Seed: 1}
	card := rules.Score(t.Context(), c, applied, nil, o)
	s := Silent(t.Context(), c, table, card, applied, Options{Factors: []float64{1, 99}, Rules: o, steps: []float64{0, 1}})
	require.Equal(t, []float64{0, 1, 99}, s.Factors)
	assert.Equal(t, table.RemakeShare, s.Shares[0].Estimate)
	assert.Greater(t, s.Shares[1].Estimate.Point, s.Shares[0].Estimate.Point)
	assert.Greater(t, s.Shares[2].Estimate.Point, s.Shares[1].Estimate.Point)
	assert.Less(t, s.Shares[2].Estimate.Point, float64(s.MostShare))
	mature, kept := 0.0, 0.0
	for i := range c.Shipped {
		if m := remakes.MatureAfter(c, 0); m.Is(c, i) {
			mature++
			if c.Answered[i] && !remakes.Event(c, i) {
				kept++
			}
		}
	}
	assert.InDelta(t, 1-kept/mature, float64(s.MostShare), 1e-12, "at most all mature orders but those said to be kept")
	for f, x := range s.Faults {
		if found := table.Faults[f].AdjustedRD; found.Given() {
			assert.Equal(t, found, x.At[0].Estimate, x.ID)
			assert.NotEqual(t, found.Point, x.At[1].Estimate.Point, x.ID)
		}
	}
	for j, x := range s.Rules {
		assert.Equal(t, card.Rules[j].Corrected.Point, x.At[0].Estimate.Point)
		assert.InDelta(t, card.Rules[j].Net.Low, x.Net[0].Estimate.Low, 1e-9)
		assert.Contains(t, ofNet, x.Turns.Said)
		assert.Len(t, x.Channels, 3)
	}
	assert.Contains(t, s.Sentence(), "nobody sent word")
	sum := 0
	for _, ch := range s.Channels {
		sum += ch.Silent
	}
	assert.Equal(t, s.Silent, sum)
}

// The model's own figure as counted is that of the orders as reported, whoever
// is silent.
func TestFactorNothingIsAsReported(t *testing.T) {
	c, _ := invented.Workshop{Orders: 1200, Intercept: -2.5, Idle: 60, Seed: 4}.Make()
	m := remakes.MatureAfter(c, 0)
	var s Silence
	tl := teller{c: c, part: s.count(c, m), joint: remakes.NewJoint(c, m)}
	var why string
	tl.spoken, why = tl.ofSpoken(tl.joint.Design)
	require.Empty(t, why)
	plain, _ := tl.joint.Effects(tl.joint.Design.Whole(), nil, 1)
	for f, e := range tl.tell(everywhere, 0, 1).faults {
		if plain[f].Why == "" {
			assert.InDelta(t, plain[f].Effect.Difference(), e.Point, 1e-9, form.Faults[f].ID)
			u := plain[f]
			assert.InDelta(t, u.Difference.Interval(e.Point, e.N, u.Fewest).Low, e.Low, 1e-9, form.Faults[f].ID)
		}
	}
}

// Of the young without word so many are taken to stay silent that they fall
// silent as often as the mature. By hand: of four mature orders not remade one is
// silent; of four young ones three are: 1/4 of 4 is one of the three.
func TestHowManyOfTheYoungStaySilent(t *testing.T) {
	c := &cohort.Cohort{AsOf: 1000}
	for k := range 9 {
		shipped := cohort.Day(100)
		if k >= 5 {
			shipped = 900
		}
		c.Shipped, c.Remade, c.Returned = append(c.Shipped, shipped), append(c.Remade, cohort.NoDay), append(c.Returned, cohort.NoDay)
		c.Answered = append(c.Answered, k != 1 && k < 6)
	}
	c.Remade[0] = 150
	var s Silence
	part := s.count(c, remakes.MatureAfter(c, 365))
	assert.Equal(t, 1, s.Silent)
	assert.Equal(t, 1, s.Remade)
	assert.InDeltaSlice(t, []float64{0, 1, 0, 0, 0, 0, 1.0 / 3, 1.0 / 3, 1.0 / 3}, part, 1e-12)
}

func TestSilenceWithLittle(t *testing.T) {
	empty, _ := invented.Workshop{Orders: 0, Seed: 1}.Make()
	s := Silent(t.Context(), empty, remakes.Faults(t.Context(), empty, remakes.Options{}), rules.Scorecard{}, nil, Options{})
	assert.Zero(t, s.MatureOrders)
	assert.Empty(t, s.Sentence())

	few, _ := invented.Workshop{Orders: 40, Intercept: -3, Idle: 60, Seed: 2}.Make()
	s = Silent(t.Context(), few, remakes.Faults(t.Context(), few, remakes.Options{}), rules.Scorecard{}, nil, Options{})
	assert.NotEmpty(t, s.Warnings)
	assert.True(t, s.Shares[0].Estimate.Given())
	assert.False(t, s.Shares[1].Estimate.Given())
	assert.Contains(t, s.Sentence(), "they count as kept.")

	all, _ := invented.Workshop{Orders: 300, Intercept: -2, Idle: 400, Seed: 2}.Make()
	for i := range all.Answered {
		all.Answered[i] = true
	}
	s = Silent(t.Context(), all, remakes.Faults(t.Context(), all, remakes.Options{}), rules.Scorecard{}, nil, Options{})
	assert.Equal(t, []string{"Of every mature order there is word."}, s.Words)

	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	some, _ := invented.Workshop{Orders: 600, Intercept: -2, Idle: 60, Seed: 2}.Make()
	s = Silent(stopped, some, remakes.Faults(t.Context(), some, remakes.Options{}), rules.Scorecard{}, nil, Options{})
	assert.Contains(t, s.Warnings, "the run was stopped before it was through")
}

// A limit that falls along a curve crosses 0 where the curve does: by hand, the
// limit 1 - f^2 at 1.
func TestSecantFindsTheTurn(t *testing.T) {
	c := &course{told: map[float64]telling{}}
	limit := func(x telling) float64 { return x.faults[0].Low }
	at := func(f float64) telling {
		return telling{faults: []stats.Estimate{{Point: 2, Low: 1 - f*f, High: 3}}}
	}
	told := 0
	tell := func(f float64) telling { told++; return at(f) }
	for _, f := range []float64{0, 3} {
		c.told[f] = at(f)
	}
	c.anew = tell
	assert.InDelta(t, 1, c.between(0, 3, limit, true), closeEnough)
	assert.Less(t, told, 10)
	assert.InDelta(t, 1.0/3, c.between(0, 3, limit, false), 1e-12)
}

func TestSides(t *testing.T) {
	for want, e := range map[int]stats.Estimate{
		above: {Point: 2, Low: 1, High: 3}, below: {Point: -2, Low: -3, High: -1}, around: {Point: 1, Low: 0, High: 2},
		-1: {Point: math.NaN(), Low: 1, High: 2},
	} {
		assert.Equal(t, want, sideOf(e))
	}
}
