package risk

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/form"
)

// By hand, ten orders of which the first three were remade: holding all at a threshold
// of 0.2 brings 0.3 - 0.7 x 0.2/0.8 = 0.125 an order, holding the remade ones alone 0.3
// at any threshold, holding none nothing (Vickers AJ, Elkin EB (2006) Med Decis Making
// 26:565-574). What is weighed holds by the fall that a call-back brings, times the
// share that mends, beside what it holds anyway.
func TestDecisionCurvesByHand(t *testing.T) {
	f := &foresight{by: map[string][]float64{countOfFaults: make([]float64, 10)}}
	held := make([]form.State, 12)
	for k := range 10 {
		f.rows, f.event = append(f.rows, k+2), append(f.event, k < 3) // not the first rows of the cohort
		risk, fall := 0.01, 0.0
		if k < 3 {
			risk, fall = 0.9, 0.25
		}
		f.risk, f.falls = append(f.risk, risk), append(f.falls, fall)
		held[k+2] = form.Without
	}
	held[11] = form.With // one of those that were kept
	list := decisions(f, Options{Held: held, HeldBy: "rules", Success: 0.8, Strategies: []Strategy{{Name: "weighed", Held: held, Weighed: true}}})
	at := func(name string, threshold float64) BenefitPoint {
		for _, d := range list {
			for _, p := range d.Points {
				if d.Strategy == name && float64(p.Threshold) == threshold {
					return p
				}
			}
		}
		t.Fatal(name)
		return BenefitPoint{}
	}
	assert.InDelta(t, 12.5, at(HoldAll, 0.2).Benefit.Point, 1e-12)
	assert.InDelta(t, 30, at(modelItself, 0.2).Benefit.Point, 1e-12)
	assert.InDelta(t, 0.3, float64(at(modelItself, 0.2).Held), 1e-12)
	assert.Zero(t, at(HoldNone, 0.2).Benefit.Point)
	assert.InDelta(t, -2.5, at("rules", 0.2).Benefit.Point, 1e-12)
	assert.InDelta(t, 27.5, at("weighed", 0.2).Benefit.Point, 1e-12, "0.8 x 0.25 reaches 0.2")
	assert.InDelta(t, -100.0/10/3, at("weighed", 0.25).Benefit.Point, 1e-12, "and not 0.25")
	assert.Less(t, at(HoldAll, 0.2).Benefit.Low, 12.5)
}
