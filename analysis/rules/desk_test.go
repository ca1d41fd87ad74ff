package rules

import (
	"context"
	"flag"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// deskOf is a desk that holds every form with a noted or counted fault.
func deskOf(c *cohort.Cohort) []DeskHeld {
	h := DeskHeld{Applied: Applied{Rule{ID: "desk: ask", Title: "the desk says: ask"}, make([]form.State, c.Len())}, Verdict: "ask"}
	for i := range h.Held {
		h.Held[i] = form.Without
		for f, x := range form.Faults {
			if x.Kind != form.Evident && c.First[f][i] == form.With {
				h.Held[i] = form.With
			}
		}
	}
	return []DeskHeld{h}
}

// A verdict's line is that of a rule which holds the same forms; thresholds hold
// fewer the higher they are, the one from the costs is where a call-back saves
// what it costs, and a share to hold is kept.
func TestDeskIsScoredLikeARule(t *testing.T) {
	c, _, calls := choiceShop()
	desk := deskOf(c)
	o := Options{Costs: costs(400, 20), Desk: desk}
	d := Score(context.Background(), c, []Applied{desk[0].Applied}, calls, o)
	line, rule := d.Desk[0], d.Rules[0]
	assert.Equal(t, "ask", line.Verdict)
	assert.Equal(t, rule.Avoidable, line.Avoidable)
	assert.Equal(t, rule.Held, line.Held)
	assert.Equal(t, rule.NumberNeeded, line.NumberNeeded)
	last, defaults := math.MaxInt, 0
	for _, x := range d.Desk[1:] {
		require.Equal(t, ofSaving, x.ThresholdOf)
		assert.LessOrEqual(t, x.Held, last)
		assert.LessOrEqual(t, x.Corrected.Point, x.Avoidable.Point)
		assert.GreaterOrEqual(t, x.Avoidable.Point/float64(100*x.Held)*float64(d.FirstForms), *x.Threshold-1e-9, "the mean of those that reach it")
		last = x.Held
		if x.Default != "" {
			defaults++
			assert.InDelta(t, 20.0/400, *x.Threshold, 1e-12)
		}
	}
	assert.Equal(t, 1, defaults)
	o.HoldShare = 0.15
	held := 0.0
	for _, x := range Score(context.Background(), c, []Applied{desk[0].Applied}, calls, o).Desk {
		if x.Default != "" {
			held = x.HeldShare.Point
		}
	}
	assert.InDelta(t, 0.145, held, 0.0051, "at most that share, and not much less")
	o.Costs, o.HoldShare = Costs{}, 0
	for _, x := range Score(context.Background(), c, []Applied{desk[0].Applied}, calls, o).Desk {
		assert.Empty(t, x.Default, "without costs there is no default")
	}
}

var desks = flag.Int("desks", breadth.Few(3, 8), "simulated shops of TestDeskKnownTruth")

// In shops of 3,000 orders whose truth is known the interval of what holding by
// the expected saving avoids, less the optimism of picking forms by the model that
// judges them, holds what it truly avoids on these forms.
//
//	go test ./analysis/rules -run DeskKnownTruth -desks=200 -v -timeout 1h
func TestDeskKnownTruth(t *testing.T) {
	type tally struct{ n, covered, bias, bare float64 }
	results := make([]map[float64]tally, *desks)
	stats.Parallel(0, *desks, func(s int) {
		c, truth := invented.Workshop{Orders: 3000, Intercept: -2.8, Seed: uint64(s) + 1}.Make()
		m := remakes.MatureAfter(c, 0)
		k := &scorer{c: c, m: m, mending: remakes.NewMending(c, m)}
		everyone := func(int) bool { return true }
		falls := k.mending.Target(everyone).Falls()
		desk := deskOf(c)
		d := Score(context.Background(), c, []Applied{desk[0].Applied}, callsOf(c), Options{Desk: desk, Workers: 1, Seed: uint64(s)})
		results[s] = map[float64]tally{}
		for _, x := range d.Desk[1:] {
			if !x.Corrected.Bounded() {
				continue
			}
			n, truly := 0.0, 0.0
			for i := range c.Shipped {
				if !m.Is(c, i) {
					continue
				}
				n++
				if falls[i] < *x.Threshold/d.Success {
					continue
				}
				all := truth.Bare[i]
				for f, fault := range form.Faults {
					if c.First[f][i] == form.With {
						all += invented.Effects[fault.ID]
					}
				}
				truly += stats.Logistic(all) - stats.Logistic(truth.Bare[i])
			}
			truly *= 100 * mendedShare / n
			e := x.Corrected
			results[s][*x.Threshold] = tally{1, indicate(e.Low <= truly && truly <= e.High), e.Point - truly, x.Avoidable.Point - truly}
		}
	})
	t.Log("| avoids at least, per 100 call-backs | shops | holds what is truly avoided | bias | bias if not cross-fitted |")
	for _, threshold := range savings {
		var sum tally
		for _, r := range results {
			x := r[threshold]
			sum = tally{sum.n + x.n, sum.covered + x.covered, sum.bias + x.bias, sum.bare + x.bare}
		}
		if sum.n == 0 {
			continue
		}
		t.Logf("| %.0f | %.0f | %.3f | %+.3f | %+.3f |", 100*threshold, sum.n, sum.covered/sum.n, sum.bias/sum.n, sum.bare/sum.n)
		assert.GreaterOrEqual(t, sum.covered/sum.n, 0.92-3*math.Sqrt(0.05*0.95/sum.n), "threshold %v", threshold)
	}
}
