package rules

import (
	"context"
	"flag"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

var (
	modelChoices     = flag.Int("model-choices", breadth.Few(1, 2), "simulated shops of TestChoiceWithModelKnownTruth")
	firstModelChoice = flag.Int("first-model-choice", 1, "the seed of the first of them")
)

// Where the risk model is a candidate the promise holds too: in shops of 3,000 orders
// whose truth is known the promised interval holds what the chosen set truly brings on
// 3,000 fresh orders, the model holding what it says of them by then. Every day at 15
// call-backs a month, with CI=true at 30 and by costs alone too.
//
//	go test ./analysis/rules -run ChoiceWithModel -model-choices=100 -first-model-choice=3001 -v -timeout 2h
func TestChoiceWithModelKnownTruth(t *testing.T) {
	const orders, intercept = 3000, -2.8
	remake, callback := 420.0, 18.0
	budgets := []float64{15, 30, math.Inf(1)} // the last by costs alone
	if !breadth.Wide() && *modelChoices == 1 {
		budgets = budgets[:1]
	}
	type result struct{ covered, bias, bare, chosen, truly, gains, alone []float64 }
	results := make([]result, *modelChoices)
	stats.Parallel(0, *modelChoices, func(s int) {
		seed := uint64(s + *firstModelChoice)
		c, _ := invented.Workshop{Orders: orders, Intercept: intercept, Seed: seed}.Make()
		next, truth := invented.Workshop{Orders: orders, Intercept: intercept, Seed: seed + 1_000_000}.Make()
		learnt, err := risk.Learn(context.Background(), c, risk.Options{Seed: seed, Workers: 1})
		require.NoError(t, err)
		as, falls, there := defaults(c), learnt.FallsOfFirst(c), learnt.FallsOfFirst(next)
		for _, b := range budgets {
			o := ChooseOptions{Options: Options{Seed: seed, Workers: 1}}
			if o.CallsAMonth = &b; math.IsInf(b, 1) {
				o.CallsAMonth, o.Costs = nil, Costs{Remake: &remake, Callback: &callback}
			}
			fresh := func(model []float64) (d Choice, truly, gains float64) {
				o.Model = model
				k, why := newChooser(c, as, callsOf(c), o)
				require.Empty(t, why)
				k.settle(context.Background())
				nextRules := defaults(next)
				if model != nil {
					least := float64(k.d.ModelFrom) / k.d.Success
					a := Applied{Rule{ID: ModelID}, make([]form.State, next.Len())}
					for i := range a.Held {
						if a.Held[i] = form.Without; there[i] >= least {
							a.Held[i] = form.With
						}
					}
					nextRules = append(nextRules, a)
				}
				p := truePuzzle(next, truth, nextRules)
				held, avoided := p.sum(p.falls, placesOf(nextRules, k.d.Chosen))
				truly = 100 * mendedShare * avoided / p.falls.Total
				if gains = truly; o.CallsAMonth == nil { // in remakes
					gains -= 100 * held / p.falls.Total * callback / remake
				}
				return *k.d, truly, gains
			}
			_, _, without := fresh(nil)
			d, truly, gains := fresh(falls)
			r, e := &results[s], d.Avoided
			r.covered = append(r.covered, indicate(e.Low <= truly && truly <= e.High))
			r.bias, r.bare = append(r.bias, e.Point-truly), append(r.bare, float64(d.Apparent)-truly)
			r.chosen = append(r.chosen, indicate(len(placesOf([]Applied{{Rule: Rule{ID: ModelID}}}, d.Chosen)) == 1))
			r.truly, r.gains, r.alone = append(r.truly, truly), append(r.gains, gains), append(r.alone, without)
		}
	})
	t.Log("| call-backs a month | model chosen | truly avoided per 100 | fresh orders held | bias | bias if not cross-fitted | gains in remakes per 100 | by rules alone |")
	for b, budget := range budgets {
		mean := func(of func(r result) []float64) (sum float64) {
			for _, r := range results {
				sum += of(r)[b] / float64(len(results))
			}
			return sum
		}
		covered := mean(func(r result) []float64 { return r.covered })
		gains, alone := mean(func(r result) []float64 { return r.gains }), mean(func(r result) []float64 { return r.alone })
		t.Logf("| %.0f | %.2f | %.2f | %.3f | %+.2f | %+.2f | %.2f | %.2f |", budget, mean(func(r result) []float64 { return r.chosen }), mean(func(r result) []float64 { return r.truly }),
			covered, mean(func(r result) []float64 { return r.bias }), mean(func(r result) []float64 { return r.bare }), gains, alone)
		assert.GreaterOrEqual(t, covered, 0.92-3*math.Sqrt(0.05*0.95/float64(len(results))), "budget %v", budget)
		assert.Greater(t, gains, alone-0.1, "one more candidate does no harm")
	}
}

// The desk's verdict in force holds what can't be cut from and doubts that are worth a
// call-back by the risk model: what its line of the scorecard says that this avoids
// holds the truth on these forms, though the model has seen them.
//
//	go test ./analysis/rules -run DeskByRisk -model-choices=100 -first-model-choice=3001 -v -timeout 2h
func TestDeskByRiskKnownTruth(t *testing.T) {
	const least = 18.0 / 420
	firmly := []string{"foot-girth-missing", "leg-height-missing", "orthotic-undiscussed"}
	type result struct{ covered, bias, bare, held float64 }
	results := make([]result, *modelChoices)
	stats.Parallel(0, *modelChoices, func(s int) {
		seed := uint64(s + *firstModelChoice)
		c, truth := invented.Workshop{Orders: 3000, Intercept: -2.8, Seed: seed}.Make()
		learnt, err := risk.Learn(context.Background(), c, risk.Options{Seed: seed, Workers: 1})
		require.NoError(t, err)
		falls, m := learnt.FallsOfFirst(c), remakes.MatureAfter(c, 0)
		h := DeskHeld{Applied: Applied{Rule{ID: "desk", Title: "desk"}, make([]form.State, c.Len())}, Verdict: "held", Picked: true}
		n, truly, held := 0.0, 0.0, 0.0
		for i := range h.Held {
			h.Held[i] = form.Without
			all := truth.Bare[i]
			for f, fault := range form.Faults {
				if c.First[f][i] == form.With {
					all += invented.Effects[fault.ID]
					if slices.Contains(firmly, fault.ID) {
						h.Held[i] = form.With
					}
				}
			}
			if mendedShare*falls[i] >= least {
				h.Held[i] = form.With
			}
			if !m.Is(c, i) {
				continue
			}
			if n++; h.Held[i] == form.With {
				held++
				truly += stats.Logistic(all) - stats.Logistic(truth.Bare[i])
			}
		}
		truly *= 100 * mendedShare / n
		x := Score(context.Background(), c, nil, callsOf(c), Options{Desk: []DeskHeld{h}, Workers: 1, Seed: seed}).Desk[0]
		e := x.Corrected
		results[s] = result{indicate(e.Low <= truly && truly <= e.High), e.Point - truly, x.Avoidable.Point - truly, held / n}
	})
	var mean result
	k := float64(len(results))
	for _, r := range results {
		mean = result{mean.covered + r.covered/k, mean.bias + r.bias/k, mean.bare + r.bare/k, mean.held + r.held/k}
	}
	t.Logf("%.0f shops, %.3f of first forms held: the interval holds what is truly avoided in %.3f, bias %+.3f, if not cross-fitted %+.3f", k, mean.held, mean.covered, mean.bias, mean.bare)
	assert.GreaterOrEqual(t, mean.covered, 0.92-3*math.Sqrt(0.05*0.95/k))
}
