package sensitivity

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// The bounds are the least and the greatest of every way in which the orders
// that are not known could have been with and without the fault.
func TestWorstCaseAgainstEveryCase(t *testing.T) {
	rng := stats.Source(7, 0)
	for range 200 {
		x := stats.TwoByTwo{A: 10 + rng.IntN(9), B: 10 + rng.IntN(30), C: 10 + rng.IntN(9), D: 10 + rng.IntN(60)}
		remade, kept := rng.IntN(8), rng.IntN(15)
		low, high := math.Inf(1), math.Inf(-1)
		for s := range remade + 1 {
			for k := range kept + 1 {
				d := remakes.Difference(stats.TwoByTwo{A: x.A + s, B: x.B + k, C: x.C + remade - s, D: x.D + kept - k}).Point
				low, high = math.Min(low, d), math.Max(high, d)
			}
		}
		b := worstCase(x, remade, kept)
		assert.InDelta(t, low, float64(b.Low), 1e-12)
		assert.InDelta(t, high, float64(b.High), 1e-12)
		assert.Less(t, b.IntervalLow, b.Low)
		assert.Greater(t, b.IntervalHigh, b.High)
	}
}

// By hand: 20 of 100 remade with it, 30 of 300 without; 10 remade and 40 kept
// unknown. At most (20+10)/(100+10) - 30/(300+40), at least 20/(100+40) -
// (30+10)/(300+10).
func TestWorstCaseByHand(t *testing.T) {
	b := worstCase(stats.TwoByTwo{A: 20, B: 80, C: 30, D: 270}, 10, 40)
	assert.InDelta(t, 30.0/110-30.0/340, float64(b.High), 1e-12)
	assert.InDelta(t, 20.0/140-40.0/310, float64(b.Low), 1e-12)
	assert.Equal(t, 450, b.N)
	assert.False(t, worstCase(stats.TwoByTwo{A: 1, B: 2, C: 30, D: 270}, 0, 3).Given())
}

// With nothing to fill in the figures are those of the complete cases; with
// blanks the numbers do not depend on how many work on them. With CI=true of as many
// imputations as a shop has, otherwise of the fewest.
func TestFillingIn(t *testing.T) {
	c, _ := invented.Workshop{Orders: 1500, Intercept: -2, Idle: 60, Seed: 5}.Make()
	c.Cut = slices.Clone(c.Cut)
	for f := range c.Cut {
		c.Cut[f] = slices.Clone(c.Cut[f])
		for i, s := range c.Cut[f] {
			if s == form.Unknown { // unit-mixed, and tape marks that nobody looked for
				c.Cut[f][i] = form.Without
			}
		}
	}
	m := remakes.MatureAfter(c, 0)
	f := newFiller(c, m)
	assert.Empty(t, f.order)
	j := remakes.NewJoint(c, m)
	plain, _ := j.Effects(j.Design.Whole(), nil, 1)
	for e, x := range f.imputed(t.Context(), 3, 1, 1, nil) {
		if plain[e].Why != "" {
			assert.False(t, x.estimate.Given())
			continue
		}
		assert.InDelta(t, plain[e].Effect.Difference(), x.estimate.Point, 1e-12)
		assert.Zero(t, x.missing)
		u := plain[e]
		assert.InDelta(t, 1, (x.estimate.High-x.estimate.Low)/(2*1.96*u.Difference.SE), 0.35, "fewest %d", u.Fewest)
	}
	blank(c, 1)
	table := remakes.Faults(t.Context(), c, remakes.Options{})
	o := UnjudgedOptions{Seed: 1, Workers: 1}
	if !breadth.Wide() {
		o.imputations = fewestImputations
	}
	one := Unjudged(t.Context(), c, table, o)
	o.Workers = 3
	two := Unjudged(t.Context(), c, table, o)
	assert.Equal(t, one.Words, two.Words)
	require.Len(t, one.Faults, len(blanked))
	for k, x := range one.Faults {
		assert.Equal(t, x.Imputed, two.Faults[k].Imputed)
		assert.Greater(t, float64(x.Missing), 0.0)
		assert.Less(t, x.Complete.High-x.Complete.Low, x.Imputed.High-x.Imputed.Low)
	}
}

func TestUnjudgedWithLittle(t *testing.T) {
	empty, _ := invented.Workshop{Orders: 0, Seed: 1}.Make()
	b := Unjudged(t.Context(), empty, remakes.Faults(t.Context(), empty, remakes.Options{}), UnjudgedOptions{})
	assert.Equal(t, []string{"Every fault could be judged on every form at risk of it."}, b.Words)

	few, _ := invented.Workshop{Orders: 60, Intercept: -2, Idle: 60, Seed: 2}.Make()
	table := remakes.Faults(t.Context(), few, remakes.Options{})
	for _, x := range Unjudged(t.Context(), few, table, UnjudgedOptions{}).Faults {
		assert.False(t, x.Imputed.Given())
		assert.NotEmpty(t, x.Imputed.Warnings)
	}
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	b = Unjudged(stopped, few, table, UnjudgedOptions{})
	assert.Zero(t, b.Imputations)
	assert.NotEmpty(t, b.Warnings)
}

// A finding says what could turn it, by the rule.
func TestTheFindingSaysSo(t *testing.T) {
	e := func(p, lo, hi float64) stats.Estimate {
		return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95}
	}
	bounds := Bounds{Low: 0.02, High: 0.2, IntervalLow: -0.01, IntervalHigh: 0.3}
	for name, x := range map[string]struct {
		blank           Blank
		disagree, turns bool
	}{
		"agree":               {Blank{Counted: e(0.1, -0.01, 0.2), Bounds: bounds, Complete: e(0.05, 0.01, 0.1), Imputed: e(0.06, 0.01, 0.12)}, false, false},
		"one clear, one not":  {Blank{Counted: e(0.1, -0.01, 0.2), Bounds: bounds, Complete: e(0.05, 0.01, 0.1), Imputed: e(0.05, -0.01, 0.12)}, true, false},
		"outside":             {Blank{Counted: e(0.1, -0.01, 0.2), Bounds: bounds, Complete: e(0.05, 0.01, 0.1), Imputed: e(0.12, 0.02, 0.2)}, true, false},
		"worst case":          {Blank{Counted: e(0.1, 0.05, 0.2), Bounds: bounds, Complete: e(0.05, 0.01, 0.1), Imputed: e(0.06, 0.01, 0.12)}, false, true},
		"no figure filled in": {Blank{Counted: e(0.1, 0.05, 0.2), Bounds: bounds, Complete: e(0.05, 0.01, 0.1), Imputed: stats.Missing(0, "", "few")}, false, true},
	} {
		b := x.blank
		b.Fault = "outline-broken"
		b.judge()
		assert.Equal(t, x.disagree, b.Disagree, name)
		assert.Equal(t, x.turns, b.WorstCaseTurns, name)
		table := Blanks{Faults: []Blank{b}}.Warned(remakes.FaultTable{Faults: []remakes.FaultFinding{{Fault: "outline-broken"}, {Fault: "sides-copied"}}})
		if x.disagree || x.turns {
			assert.Equal(t, []string{b.Words}, table.Faults[0].Warnings, name)
			assert.Contains(t, table.Faults[0].Words.Certainty, b.Words)
		} else {
			assert.Empty(t, table.Faults[0].Warnings, name)
		}
		assert.Empty(t, table.Faults[1].Warnings)
	}
}
