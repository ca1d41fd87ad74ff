package remakes

import (
	"fmt"
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
// than the old orders alone are. With CI=true in 30 workshops, otherwise in 5, which are too few to tell
// an error of both from chance: that is TestYoungOrdersByDealtRisks's.
func TestYoungOrdersAreUsedNotThrownAway(t *testing.T) {
	invented.Long(t)
	var bias, young, old float64
	n := breadth.Few(5, 30)
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
	spread := math.Sqrt((young - bias*bias) * workshops / (workshops - 1))
	t.Logf("early less late %.4f, standard error %.4f; from the old ones alone %.4f off, from all %.4f", bias, spread/math.Sqrt(workshops), math.Sqrt(old), math.Sqrt(young))
	if breadth.Wide() {
		assert.InDelta(t, 0, bias, 3*spread/math.Sqrt(workshops))
	}
	assert.Less(t, young, 0.8*old)
}

// Young orders count by what is reported by their age: of forms with the fault 20 in 100 are
// remade, of others 10, and reports come 20 to 320 days late, so that a seventh of them is still
// out. Outcomes and delays are dealt (TestChangeByDealtRisks): over ten seeds the difference was
// within 0.005 of 0.1; as if all were old it is 0.015 below.
func TestYoungOrdersByDealtRisks(t *testing.T) {
	c, _ := invented.Workshop{Orders: 6000, Intercept: -3, Seed: 3}.Make()
	dealt, late := [2]float64{}, [2]float64{}
	for i := range c.Shipped {
		arm, p := 0, 0.1
		c.Cut[0][i] = form.Without
		if _, u := math.Modf(float64(i) * math.Phi); u < 0.3 {
			arm, p, c.Cut[0][i] = 1, 0.2, form.With
		}
		c.First[0][i] = c.Cut[0][i]
		c.Remade[i], c.Returned[i] = cohort.NoDay, cohort.NoDay
		if dealt[arm] += p; dealt[arm] >= 1 {
			dealt[arm]--
			_, late[arm] = math.Modf(late[arm] + math.Phi)
			if day := cohort.Day(20 + 300*late[arm]); c.Shipped[i]+day <= c.AsOf {
				invented.Remake(c, i, day)
			}
		}
	}
	got := point(c.AsOf, c, nil)
	t.Logf("%.4f", got)
	assert.InDelta(t, 0.1, got, 0.006)
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
	assert.InEpsilon(t, math.Erfc(math.Abs(got.Difference.Point)/se/math.Sqrt2), float64(got.P), 1e-6, "on both sides, of the normal distribution")
	assert.InDelta(t, points[0].Difference(), got.Difference.Point, 0.2*se, "orders not judged aside")
}

// By hand, over two years: the trend of the descriptors goes by quarters, from 7/8 of a year before the middle to 7/8 after it,
// and the season is a wave of four. By month, where that is asked for, from 23/24 to 23/24.
func TestTrendByHand(t *testing.T) {
	c := invented.Bare(24)
	for i := range c.Shipped {
		day, err := cohort.ParseDay(fmt.Sprintf("%d-%02d-15", 2024+i/12, i%12+1))
		require.NoError(t, err)
		c.Shipped[i] = day
	}
	var notes []string
	of := func(o modelOptions) (values [][]float64) {
		all := descriptors(c, o, &notes)
		d := all[len(all)-1]
		require.Equal(t, []string{"trend", "season (sine)", "season (cosine)"}, d.Names)
		for i := range c.Shipped {
			values = append(values, d.Values[d.Code(i)])
		}
		return values
	}
	quarters, months := of(modelOptions{time: true}), of(modelOptions{time: true, months: true})
	for i := range c.Shipped {
		assert.InDelta(t, float64(i/3)/4-7.0/8, quarters[i][0], 1e-12)
		assert.InDelta(t, float64(i)/12-23.0/24, months[i][0], 1e-12)
		angle := math.Pi/4 + math.Pi/2*float64(i/3)
		assert.InDeltaSlice(t, []float64{math.Sin(angle), math.Cos(angle)}, quarters[i][1:], 1e-12)
	}
}
