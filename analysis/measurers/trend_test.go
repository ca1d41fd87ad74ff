package measurers

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// A measurer whose forms lose a fault with the training, and one whose do not.
func TestTrendSinceTraining(t *testing.T) {
	c := book([]int{120, 120, 20}, []int{12, 12, 2})
	on := map[string]cohort.Day{}
	for i := range c.Shipped {
		c.Received[i] = cohort.Day(1000 + i%120)
		for f := range form.Faults {
			c.Cut[f][i] = form.Without
		}
		if c.Measurer.Code[i] == 1 && i%120 < 60 && i%2 == 0 || i%10 == 9 {
			c.Cut[0][i] = form.With
		}
	}
	for _, id := range c.Measurer.Levels[1:] {
		on[id] = 1060
	}
	d := Measure(c, Options{Trained: on})
	require.Len(t, d.Measurers, 3)
	a := d.Measurers[0].Trend
	assert.Equal(t, 60, a.Before.Forms)
	assert.InDelta(t, 36.0/60, a.Before.Faults.Point, 1e-12)
	assert.InDelta(t, 6.0/60, a.After.Faults.Point, 1e-12)
	assert.InDelta(t, -0.5, a.Change.Point, 1e-12)
	assert.Less(t, a.Change.High, 0.0)
	assert.InDelta(t, 0, a.Others.Point, 0.05)
	assert.Contains(t, a.Words, "0.5 faults a form fewer")
	assert.Contains(t, d.Measurers[1].Trend.Words, "No change")
	assert.Contains(t, d.Measurers[2].Trend.Words, "too few forms")
	assert.Contains(t, Measure(c, Options{}).Measurers[0].Trend.Words, "not written")
}

// What other programs read by name.
func TestNamesInJSON(t *testing.T) {
	c := book([]int{100, 100}, []int{5, 5})
	for i := range c.Shipped {
		c.Cut[0][i] = form.Without
	}
	b, err := json.Marshal(Measure(c, Options{}))
	require.NoError(t, err)
	var got struct{ Measurers []map[string]any }
	require.NoError(t, json.Unmarshal(b, &got))
	for _, name := range []string{"measurer", "expected", "faults", "signs", "trend", "habits", "faults_per_form"} {
		assert.Contains(t, got.Measurers[0], name)
	}
	for _, name := range []string{"fault", "forms", "with", "share", "expected"} {
		assert.Contains(t, got.Measurers[0]["faults"].([]any)[0], name)
	}
}

// Boots of one measurer are mostly tall, where a fault is four times as common for all:
// it is expected so often. By hand: others 10 % of short and 40 % of tall, 20 short and 80 tall: 34 %.
func TestExpectedShareByShaft(t *testing.T) {
	by := []counts{{{2, 20}, {0, 0}, {32, 80}, {0, 0}}, {{10, 100}, {0, 0}, {40, 100}, {0, 0}}}
	e := expectedShare(by, 0)
	assert.InDelta(t, 0.34, e.Point, 1e-12)
	assert.True(t, e.Low > 0.25 && e.High < 0.45, "%v", e)
	assert.False(t, expectedShare([]counts{{{1, 50}}, {{0, 3}}}, 0).Given())
	rare := expectedShare([]counts{{{0, 50}}, {{0, 500}}}, 0)
	assert.True(t, rare.Point == 0 && rare.Low == 0 && rare.High > 0 && rare.High < 0.02, "%v", rare)
}
