package remakes

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// An extract taken while a third of the orders are young must say the same as
// one taken 400 days later, and use the young orders: closer to the late answer
// than the old orders alone are. With CI=true in 30 workshops, otherwise in 8.
func TestYoungOrdersAreUsedNotThrownAway(t *testing.T) {
	invented.Long(t)
	var bias, young, old float64
	n := breadth.Few(8, 30)
	workshops := float64(n)
	for seed := range uint64(n) {
		c, _ := invented.Workshop{Orders: 4000, Intercept: -2.3, Idle: 400, Seed: seed}.Make()
		late := point(c.AsOf, c, nil)
		early := c.AsOf - 400
		all := point(early, c, nil)
		complete := point(early, c, func(i int) bool { return early-c.Shipped[i] >= Horizon })
		bias += (all - late) / workshops
		young += (all - late) * (all - late) / workshops
		old += (complete - late) * (complete - late) / workshops
	}
	assert.InDelta(t, 0, bias, 3*math.Sqrt(young/workshops))
	assert.Less(t, young, 0.8*old)
}

// point is the standardised difference of missing tape marks, as of a day.
func point(asOf cohort.Day, c *cohort.Cohort, keep func(i int) bool) float64 {
	then := *c
	then.AsOf = asOf
	d, _ := newDesign(&then, MatureAfter(&then, 0), modelOptions{faults: true, time: true, keep: keep})
	f, _ := d.Fit(regression.Columns{Exposures: true}, d.Whole(), nil)
	es, _ := regression.Model{Fit: f, Questions: []regression.Question{d.Question(0, 0)}}.Standardise()
	return es[0].Difference()
}

// Where reports come later with a fault than without, the finding says so.
func TestUnlikeDelaysAreSaid(t *testing.T) {
	c, _ := invented.Workshop{Orders: 4000, Intercept: -2, Idle: 400, Seed: 2}.Make()
	assert.Empty(t, unlikeDelays(c, c.Cut[0]))
	for i := range c.Shipped {
		if c.Cut[0][i] == form.With && c.Remade[i].Known() {
			c.Remade[i] = min(c.Remade[i]+60, c.Shipped[i]+Horizon)
		}
	}
	assert.Contains(t, unlikeDelays(c, c.Cut[0]), "leans on equal delays")
}

// The robust standard error must be that of the bootstrap, within what 300
// replicates can tell.
func TestComparisonAgreesWithBootstrap(t *testing.T) {
	invented.Long(t)
	c, _ := invented.Workshop{Orders: 6000, Intercept: -2.5, Seed: 8}.Make()
	m := MatureAfter(c, 0)
	marks := c.Cut[0]
	got := NewComparer(c, m, nil).Compare(marks)
	require.True(t, got.Difference.Bounded(), "%v", got.Difference.Warnings)
	// The same model by the long way: descriptors and the fault alone.
	d, _ := newDesign(c, m, modelOptions{time: true, keep: func(i int) bool { return marks[i] != form.Unknown }, exposure: func(i int) regression.Level {
		return exposureLevel(marks[i], form.Unknown)
	}})
	f, err := d.Fit(regression.Columns{Added: d.Levels(0)}, d.Whole(), nil)
	require.NoError(t, err)
	models := []regression.Model{{Fit: f, Questions: []regression.Question{f.AddedQuestion(0)}}}
	points, _ := answers(models)
	r := regression.NewRefitter(d, models, nil)
	var diffs []float64
	for k := range 300 {
		es, _ := r.Answer(0, r.Draw(stats.Source(1, k)))
		diffs = append(diffs, es[0].Difference())
	}
	se := (got.Difference.High - got.Difference.Low) / (2 * stats.Z(level))
	assert.InDelta(t, 1, se/regression.Spread(diffs), 0.12)
	assert.InDelta(t, points[0].Difference(), got.Difference.Point, 0.2*se, "orders not judged aside")
}
