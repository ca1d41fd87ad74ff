package judging

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
)

// What is said of past forms set-wise is what the desk says of each, but for what
// the book does not keep: nearly always.
func TestDeskOfThePastAgreesWithTheDesk(t *testing.T) {
	book := demoBook(t)
	ctx := context.Background()
	w, err := workshop.Open(workshop.Setup{Book: book})
	require.NoError(t, err)
	src, err := w.At(ctx, cohort.NoDay)
	require.NoError(t, err)
	defer src.Close()
	said, err := src.HoldDesk(ctx, 0)
	require.NoError(t, err)
	c, err := src.Cohort(ctx)
	require.NoError(t, err)
	ruled, err := src.HoldFirstForms(ctx)
	require.NoError(t, err)
	require.Contains(t, said[2].InForce, "a call-back costs")
	list, err := judgedShop()
	require.NoError(t, err)
	row := map[string]int{}
	for i, id := range c.OrderID {
		row[id] = i
	}
	n, same, held := 0, 0, 0
	for _, f := range list {
		i, ok := row[f.Order]
		// Past forms are held by the rules in force now, the desk goes by their day.
		since := slices.ContainsFunc(ruled, func(a rules.Applied) bool {
			return a.Held[i] == form.With && a.InForceOn(c.AsOf) && !a.InForceOn(f.Received)
		})
		if !ok || since || f.No != 1 {
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
	t.Logf("%d forms, %.3f have the same verdict, %.3f are held by both or neither", n, float64(same)/float64(n), float64(held)/float64(n))
	require.Greater(t, n, orders*2/3)
	require.Greater(t, float64(same)/float64(n), 0.95)
	require.Greater(t, float64(held)/float64(n), 0.97)
}
