package orderbook

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
)

// stateLetters writes the states of one row of faults: - unknown, . without,
// X with, o not at risk; in the order of the catalogue.
func stateLetters(f cohort.FormFaults, row int) string {
	var s []byte
	for k := range f {
		s = append(s, "-.Xo"[f[k][row]])
	}
	return string(s)
}

func TestCohortByHand(t *testing.T) {
	r := threeOrders(t)
	c, err := r.Cohort(context.Background())
	require.NoError(t, err)

	require.EqualValues(t, []string{"C", "A", "B", "F"}, c.OrderID)
	require.EqualValues(t, []int32{0, 0, 1, 2}, c.Customer)
	require.EqualValues(t, []cohort.Day{day(t, "2026-01-20"), day(t, "2026-02-01"), day(t, "2026-02-01"), day(t, "2026-02-05")}, c.Shipped)
	require.EqualValues(t, []cohort.Day{day(t, "2026-01-01"), day(t, "2026-01-02"), day(t, "2026-01-03"), day(t, "2026-01-05")}, c.Received)
	require.True(t, math.IsNaN(c.ShaftMM[0]))
	require.Equal(t, 381.0, c.ShaftMM[1])
	require.EqualValues(t, []int16{0, 1, 2, 0}, c.CutNo)
	require.EqualValues(t, []bool{false, false, true, false}, c.CalledBack)
	// C's remake was reported on 15 June: on 1 June nobody knows of it.
	// F's has no day: it counts, and has no day here either.
	require.EqualValues(t, []cohort.Day{cohort.NoDay, day(t, "2026-03-13"), cohort.NoDay, cohort.NoDay}, c.Remade)
	require.EqualValues(t, []bool{false, false, false, true}, c.NoDayTold)
	require.EqualValues(t, []cohort.Day{cohort.NoDay, day(t, "2026-02-20"), cohort.NoDay, cohort.NoDay}, c.Adjusted)
	require.EqualValues(t, []bool{false, true, true, true}, c.Answered)
	require.Equal(t, "measuring", c.Cause.At(1))
	require.Equal(t, "calf", c.Zone.At(1))
	require.Equal(t, "", c.Zone.At(0))
	require.Equal(t, 300.0, c.Cost[1])
	require.Equal(t, "yes", c.Tucked.At(0))
	require.Equal(t, "", c.Tucked.At(2))
	require.Equal(t, "no", c.Orthotic.At(2))
	require.EqualValues(t, []string{"", "lace-up", "pull-on"}, c.Closure.Levels)
	require.Equal(t, "shop", c.Channel.At(0))
	require.Equal(t, "m1", c.Measurer.At(2))
	require.Equal(t, "north", c.Region.At(1))
	require.Equal(t, "", c.Measurer.At(0))

	// Catalogue order: tape-marks-missing, outline-broken, outline-doubled,
	// tape-zero-missed, tape-zero-shown, foot-girth-missing, leg-height-missing,
	// tucked-set-skipped, self-measured, sides-copied, unit-mixed,
	// value-implausible, orthotic-undiscussed.
	//
	// A1: 15 in shaft needs 7 to 15 in; the right 13 in (bit 8) is missing.
	// No trousers inside, so tucked-set-skipped is not at risk. A number is
	// implausible. The orthotic was not talked over.
	require.Equal(t, "......Xo...XX", stateLetters(c.Cut, 1))
	require.Equal(t, stateLetters(c.Cut, 1), stateLetters(c.First, 1))
	// B1: one outline has a gap, a mark nobody judged, tape not from its
	// start, self-measured; not keyed, so nothing is known of its numbers.
	require.Equal(t, "-X.X---oX---o", stateLetters(c.First, 2))
	// B2: one outline unknown, one doubled line, 7 in shaft needs 7 in only,
	// the left ankle (bit 32) is missing; all three pairs agree. Nobody noted
	// that B is worn tucked, so it is not at risk of that fault.
	require.Equal(t, ".-X--.XoXX--o", stateLetters(c.Cut, 2))
	// C has no form that is known as cut from, and nobody noted an orthotic.
	// C1: one mark is missing, the
	// shaft is not known, two tucked numbers, no pair agrees, a unit is mixed;
	// an orthotic nobody noted is not at risk.
	require.Equal(t, "------------o", stateLetters(c.Cut, 0))
	require.Equal(t, "X----.-.-.X-o", stateLetters(c.First, 0))

	require.Equal(t, []cohort.Exclusion{
		{Reason: "not shipped by the as-of day", Orders: 1, Some: []string{"E"}},
		{Reason: "second making of another order", Orders: 1, Some: []string{"D"}},
	}, c.Excluded)
}
