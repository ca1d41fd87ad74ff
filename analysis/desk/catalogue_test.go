package desk

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/form"
)

// Every fault of the catalogue that asks for something raises the verdict with
// its reason; the others leave a good form alone.
func TestEveryFault(t *testing.T) {
	c := model.Check(goodForm(t), nil, 0)
	for _, f := range form.Faults {
		d := Decide(Facts{FormID: "A1", Faults: []string{f.ID}}, c)
		if f.Asks == form.Nothing {
			assert.Equal(t, Cut, d.Verdict, f.ID)
			continue
		}
		assert.Equal(t, []string{f.Why}, d.Reasons, f.ID)
		assert.Equal(t, f.Asks == form.Tracing, d.TraceAgain, f.ID)
		assert.Equal(t, f.Asks == form.Girths || f.Asks == form.OverTrousers, len(d.TakeAgain) > 0, f.ID)
	}
}
