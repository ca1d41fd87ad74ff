package orderpages

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/ingest/orderbook"
	"lastroom/reports/page"
)

// What a mended form changed is told fault by fault and number by number, what came new
// and what went too; what is the same is not told.
func TestWhatAMendedFormChanged(t *testing.T) {
	number := func(side form.Side, p form.Point, written string) form.Number {
		return form.Number{Place: form.Place{Side: side, Point: p}, Written: written, Unit: form.Inch}
	}
	seen := func(no int, marks form.State, note string) orderbook.FormSeen {
		f := orderbook.FormSeen{ID: "W1-" + string(rune('0'+no)), No: no, Faults: make([]form.State, len(form.Faults)),
			Facts: orderbook.Row{Cells: []orderbook.Cell{{Name: "irregularities", Value: note, Known: note != ""}}}}
		for i := range f.Faults {
			f.Faults[i] = form.Without
		}
		f.Faults[0] = marks
		return f
	}
	first := []form.Number{number(form.Left, form.Ball, "9 1/4"), number(form.Left, form.Heel, "13"), number(form.Right, form.Ball, "9 1/4")}
	then := []form.Number{number(form.Left, form.Ball, "9 1/4"), number(form.Right, form.Ball, "9 3/8"), number(form.Right, form.Instep, "9 1/2")}
	b := changed(seen(1, form.With, ""), seen(2, form.Without, "a bunion"), first, then)
	table, is := b.(page.Table)
	require.True(t, is)
	var rows [][]string
	for _, r := range table.Rows {
		rows = append(rows, []string{r[0].Text, r[1].Text, r[2].Text})
	}
	assert.Equal(t, [][]string{{"faults", form.Faults[0].Title, "none"}, {"irregularities", "not known", "a bunion"},
		{"right ball", "9 1/4 in", "9 3/8 in"}, {"right instep", "not known", "9 1/2 in"}, {"left heel", "13 in", "not known"}}, rows)
	assert.Equal(t, page.Prose{"Nothing differs."}, changed(seen(1, form.With, ""), seen(2, form.With, ""), first, first))
}
