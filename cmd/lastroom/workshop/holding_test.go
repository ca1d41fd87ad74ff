package workshop

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
)

// A shop that can call so many holds no more of its past first forms, and what nothing
// can be cut from in any case.
func TestDeskHoldsAtMostAShare(t *testing.T) {
	w, err := Open(Setup{Book: demoBook(t)})
	require.NoError(t, err)
	src, err := w.Look(t.Context(), cohort.NoDay)
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
	held := shares(between)[desk.HeldVerdict]
	require.LessOrEqual(t, held, between)
	require.GreaterOrEqual(t, held, firm)
	require.Equal(t, firm, shares(firm / 2)[desk.HeldVerdict])
	require.Equal(t, all, shares(0.95)[desk.HeldVerdict], "no more than pay")
}
