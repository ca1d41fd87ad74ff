package workshop

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/ingest/orderbook"
)

// With a book, the customer's earlier orders are there, the shop's own values
// are used, and the rules in force hold forms.
func TestDeskWithABook(t *testing.T) {
	d, err := OpenDesk(t.Context(), DeskSetup{Book: demoBook(t), AsOf: cohort.NoDay, FalseAlarms: FalseAlarms}, Silent)
	require.NoError(t, err)
	defer d.Close()
	require.NotNil(t, d.calibration)
	require.True(t, d.calibration.Channels[form.Home].Enough)
	list, err := d.Judge(t.Context(), d.book, "")
	require.NoError(t, err)
	past, ruled, letters := 0, 0, 0
	for _, f := range list {
		if len(f.past) > 0 {
			past++
			assert.NotEqual(t, f.Order, f.past[0].Order)
			assert.Positive(t, f.past[0].years)
		}
		if len(f.Decision.Rules) > 0 {
			ruled++
			assert.NotEqual(t, desk.Cut, f.Decision.Verdict)
		}
		if f.Decision.Verdict == desk.MeasureAgain {
			letters++
			assert.True(t, len(f.Decision.TakeAgain) > 0 || f.Decision.TraceAgain, f.ID)
		}
	}
	assert.Positive(t, past)
	assert.Positive(t, ruled)
	assert.Positive(t, letters)
	t.Logf("%d forms, %d with history, %d held by a rule, %d to measure again", len(list), past, ruled, letters)
}

// The evidence in the book and the desk agree where both use published values.
func TestDeskAgreesWithTheBook(t *testing.T) {
	r, err := OpenReader(t.Context(), demoBook(t), cohort.NoDay)
	require.NoError(t, err)
	defer r.Close()
	d := &Desk{model: body.NewModel(form.Scheme{}), falseAlarms: FalseAlarms}
	list, err := d.Judge(t.Context(), r, "")
	require.NoError(t, err)
	for _, f := range list {
		states := statesOf(f.Faults, f.check)
		assert.Equal(t, f.Faults, states, f.ID)
	}
}

func BenchmarkCheckOneForm(b *testing.B) {
	d := &Desk{model: body.NewModel(form.Scheme{}), falseAlarms: FalseAlarms}
	var numbers []form.Number
	for i, p := range form.Points[:form.Leg] {
		x := []float64{246, 95, 234, 243, 308, 216, 373}[i]
		for k, side := range form.Sides {
			numbers = append(numbers, form.Number{Place: form.Place{Side: side, Point: p}, ValueMM: x + float64(k)})
		}
	}
	f := orderbook.DeskForm{ID: "F", Sex: "f", Channel: "home", Numbers: numbers, Faults: make([]form.State, len(form.Faults))}
	for b.Loop() {
		d.one(f, nil, nil)
	}
}
