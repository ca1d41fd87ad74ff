package analyses

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// numbers is a book that has measurements and nothing else.
type numbers struct {
	notebooks.Source
	spreads []human.Spread
	months  []human.RangeMonth
}

func (n numbers) Spreads(context.Context) ([]human.Spread, error)         { return n.spreads, nil }
func (n numbers) RangeMonths(context.Context) ([]human.RangeMonth, error) { return n.months, nil }

// Points and ratios are two figures; where a document says months there stands
// the table by month, not the second of them.
func TestMonthsAreMonths(t *testing.T) {
	of := numbers{months: []human.RangeMonth{{Month: cohort.Day(20000).Month(), Judged: 120, Out: 2}}}
	for _, name := range []string{"length", human.Ratios[0].String()} {
		of.spreads = append(of.spreads, human.Spread{Name: name, Sex: form.Female, N: 3})
	}
	out, err := measurementsAnalysis(context.Background(), notebooks.Input{Source: of})
	require.NoError(t, err)
	ranges, _ := out.Part("ranges")
	require.Len(t, ranges, 2)
	months, _ := out.Part("months")
	require.Len(t, months, 1)
	table, ok := months[0].(page.Table)
	require.True(t, ok, "%T", months[0])
	assert.Equal(t, "out-of-range", table.ID)
	assert.Len(t, table.Rows, 1)
}
