package workshop

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

// What is said of past forms set-wise is what the desk says of each, but for what
// the book does not keep: nearly always.
func TestDeskOfThePastAgreesWithTheDesk(t *testing.T) {
	book := demoBook(t)
	ctx := context.Background()
	w, err := Open(Setup{Book: book})
	require.NoError(t, err)
	src, err := w.state(ctx, cohort.NoDay)
	require.NoError(t, err)
	defer src.Close()
	said, err := src.HoldDesk(ctx)
	require.NoError(t, err)
	c, err := src.Cohort(ctx)
	require.NoError(t, err)
	d, err := OpenDesk(ctx, DeskSetup{Book: book, FalseAlarms: FalseAlarms}, Silent)
	require.NoError(t, err)
	defer d.Close()
	row := map[string]int{}
	for i, id := range c.OrderID {
		row[id] = i
	}
	list, err := d.judge(ctx, d.book, "form_no = 1")
	require.NoError(t, err)
	n, same, held := 0, 0, 0
	for _, f := range list {
		i, ok := row[f.Order]
		if !ok {
			continue
		}
		n++
		verdict := desk.Cut
		switch {
		case said[0].Held[i] == form.With:
			verdict = desk.MeasureAgain
		case said[1].Held[i] == form.With:
			verdict = desk.Ask
		}
		require.Equal(t, verdict != desk.Cut, said[2].Held[i] == form.With, "either verdict holds")
		if verdict == f.Decision.Verdict {
			same++
		}
		if (verdict != desk.Cut) == f.Decision.Held() {
			held++
		}
	}
	// Of 1,397 forms of the invented workshop 95.8 % have the same verdict, 97.5 %
	// are held by both or neither.
	require.Greater(t, n, 1000)
	require.Greater(t, float64(same)/float64(n), 0.95)
	require.Greater(t, float64(held)/float64(n), 0.97)
}
