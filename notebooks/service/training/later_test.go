package training

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/notebooks/learners"
)

// Only forms that came after the first day of practice count, of the measurer of the
// learner's name, and only faults that are noted or counted.
func TestOwnForms(t *testing.T) {
	began := time.Date(2026, 10, 5, 9, 0, 0, 0, time.UTC)
	day := cohort.DayOf(began)
	evident, _ := form.FaultIndex("sides-copied")
	noted, _ := form.FaultIndex("outline-broken")
	c := &cohort.Cohort{Measurer: cohort.Factor{Levels: []string{"", "M07", "M08"}, Code: []int32{1, 1, 1, 1, 2, 0}},
		Received: []cohort.Day{day - 3, day, day + 1, day + 2, day + 2, day + 2}, Shipped: make([]cohort.Day, 6)}
	for range form.Faults {
		c.Cut = append(c.Cut, make([]form.State, 6))
	}
	for i := range 6 {
		c.Cut[noted][i] = form.With
	}
	c.Cut[noted][3], c.Cut[evident][3] = form.Without, form.With
	l := &learners.Learner{Name: "m07", Rounds: []learners.Round{{Began: began, Seen: []practice.Seen{{Answer: practice.Answer{Form: "P01", Verdict: practice.Ask}, Planted: []string{"outline-broken"}, Right: practice.MeasureAgain}}}}}
	code := codeOf(c, l.Name)
	assert.Equal(t, int32(1), code)
	o := own(c, code, l)
	assert.Equal(t, 2, o.Forms)
	assert.Equal(t, 1, o.WithFault)
	assert.InDelta(t, 1, o.Sensitivity.Point, 1e-12)
	assert.Zero(t, codeOf(c, "nobody"))
	assert.Zero(t, codeOf(c, ""))
}

func TestMost(t *testing.T) {
	assert.Empty(t, most([]practice.Chance{{Fault: "outline-broken", Weight: 1}, {Fault: "sides-copied", Weight: 1}}))
	assert.Equal(t, "sides copied", most([]practice.Chance{{Fault: "outline-broken", Weight: 1}, {Fault: "sides-copied", Weight: 5}, {Fault: "unit-mixed", Weight: 1}}))
}
