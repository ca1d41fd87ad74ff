package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/testdata/invented"
)

// By the scorecard's own model each rule is worth what the scorecard says, and
// nets that too.
func TestAvoidableByTheSameModel(t *testing.T) {
	c, _ := invented.Workshop{Orders: 1500, Intercept: -2.6, Idle: 60, Seed: 8}.Make()
	var applied []Applied
	for f, x := range form.Faults {
		applied = append(applied, Applied{Rule: Rule{ID: x.ID, Title: x.Title, Mends: []string{x.ID}}, Held: c.First[f]})
	}
	remake, call := 400.0, 15.0
	o := Options{Costs: Costs{Remake: &remake, Callback: &call}}
	d := Score(t.Context(), c, applied, nil, o)
	given := 0
	for j, e := range AvoidableBy(remakes.NewMending(c, d.Maturity), d, applied, o) {
		r := d.Rules[j]
		if !r.Avoidable.Given() {
			assert.False(t, e.Given(), r.ID)
			continue
		}
		given++
		assert.InDelta(t, r.Avoidable.Point, e.Point, 1e-9, r.ID)
		assert.InDelta(t, r.Avoidable.Low, e.Low, 1e-9, r.ID)
		assert.InDelta(t, r.Net.High, d.NetAt(r, e).High, 1e-6, r.ID)
	}
	require.Greater(t, given, 5)
}
