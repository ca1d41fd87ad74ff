package workshop

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
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
	said, err := src.HoldDesk(ctx, 0)
	require.NoError(t, err)
	c, err := src.Cohort(ctx)
	require.NoError(t, err)
	ruled, err := src.HoldFirstForms(ctx)
	require.NoError(t, err)
	require.Contains(t, said[2].InForce, "a call-back costs")
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
		// Past forms are held by the rules in force now, the desk goes by their day.
		since := slices.ContainsFunc(ruled, func(a rules.Applied) bool {
			return a.Held[i] == form.With && a.InForceOn(c.AsOf) && !a.InForceOn(f.Received)
		})
		if !ok || since {
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
	require.Greater(t, n, 1000)
	require.Greater(t, float64(same)/float64(n), 0.95)
	require.Greater(t, float64(held)/float64(n), 0.97)
}

// A shop that can call so many holds no more of its past first forms, and what nothing
// can be cut from in any case.
func TestDeskHoldsAtMostAShare(t *testing.T) {
	w, err := Open(Setup{Book: demoBook(t)})
	require.NoError(t, err)
	src, err := w.state(t.Context(), cohort.NoDay)
	require.NoError(t, err)
	defer src.Close()
	c, err := src.Cohort(t.Context())
	require.NoError(t, err)
	m := remakes.MatureAfter(c, 0)
	shares := func(share float64) map[string]float64 {
		lines, err := src.HoldDesk(t.Context(), share)
		require.NoError(t, err)
		out := map[string]float64{}
		for _, l := range lines {
			held, n := 0.0, 0.0
			for i, h := range l.Held {
				if h != form.NotAtRisk && m.Is(c, i) {
					n++
					if h == form.With {
						held++
					}
				}
			}
			out[l.Verdict] = held / n
		}
		return out
	}
	pays := shares(0)
	firm, all := pays[desk.FirmHeld], pays[desk.HeldVerdict]
	require.Less(t, firm, all)
	require.Less(t, all, pays[desk.EveryDoubtHeld])
	between := (firm + all) / 2
	require.LessOrEqual(t, shares(between)[desk.HeldVerdict], between)
	require.GreaterOrEqual(t, shares(between)[desk.HeldVerdict], firm)
	require.Equal(t, firm, shares(firm / 2)[desk.HeldVerdict])
	require.Equal(t, all, shares(0.95)[desk.HeldVerdict], "no more than pay")
}
