package sheets

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
)

// Every mark is a column of the forms sheet, every word of the trade is read.
func TestWordsOfTheTrade(t *testing.T) {
	forms, ok := SheetNamed("forms")
	require.True(t, ok)
	for _, m := range form.Marks {
		c, ok := forms.Column(m.Column)
		assert.True(t, ok && c.Kind == YesNo, m.Column)
	}
	for _, x := range []struct {
		sheet, column string
		words         []string
	}{
		{"measurements", "point", form.Texts(form.Points)}, {"measurements", "side", form.Texts(form.Sides)},
		{"measurements", "clothing", form.Texts(form.Clothings)}, {"measurements", "unit", form.Texts(form.Units)},
		{"repeats", "point", form.Texts(form.Points)}, {"orders", "channel", form.Texts(form.Channels)},
		{"orders", "closure", form.Closures}, {"orders", "sock", form.Socks}, {"outcomes", "zone", form.Texts(form.Zones)},
		{"outcomes", "cause", form.Causes}, {"costs", "item", form.CostItems},
	} {
		s, ok := SheetNamed(x.sheet)
		require.True(t, ok)
		c, ok := s.Column(x.column)
		require.True(t, ok, x.column)
		for _, w := range x.words {
			got, ok := c.word(w)
			assert.True(t, ok && got == w, "%s %s %s", x.sheet, x.column, w)
		}
	}
}
