package orderbook

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
)

// threeOrders is a small workshop written out by hand.
//
//	A  one form, cut from it, everything there; remade after 40 days
//	B  first form called back, cut from the second; answered as kept
//	C  no form marked as cut from; worn tucked; reported later than 1 June
//	D  books the second making of A
//	E  not shipped
//	F  its remake has no day
const threeOrders = `
INSERT INTO orders BY NAME (SELECT * FROM (VALUES
  ('A', 'p1', DATE '2026-01-02', DATE '2026-02-01', 381.0,  'pull-on', false, true,  'home',   NULL),
  ('B', 'p2', DATE '2026-01-03', DATE '2026-02-01', 177.8,  'lace-up', NULL,  false, 'dealer', NULL),
  ('C', 'p1', DATE '2026-01-01', DATE '2026-01-20', NULL,   'pull-on', true,  NULL,  'shop',   NULL),
  ('D', 'p1', DATE '2026-04-01', DATE '2026-05-01', 381.0,  'pull-on', false, true,  'home',   'A'),
  ('E', NULL, DATE '2026-05-01', NULL,              254.0,  'pull-on', false, false, 'home',   NULL),
  ('F', NULL, DATE '2026-01-05', DATE '2026-02-05', 254.0,  'pull-on', false, false, 'home',   NULL)
) AS v (order_id, customer_id, received_on, shipped_on, shaft_height_mm, closure, worn_tucked, orthotic, channel, remake_of_order_id)
CROSS JOIN (SELECT 1 AS load_id));
INSERT INTO forms BY NAME (SELECT *, 1 AS load_id FROM (VALUES
  ('A1', 'A', 1, DATE '2026-01-02', true,  'm1', false, true,  true,  true, true,  true, true,  true, true, true,  false),
  ('B1', 'B', 1, DATE '2026-01-03', false, 'm2', true,  false, true,  true, true,  true, NULL,  true, true, false, NULL),
  ('B2', 'B', 2, DATE '2026-01-09', true,  'm1', true,  true,  NULL,  true, false, true, true,  true, true, NULL,  NULL),
  ('C1', 'C', 1, DATE '2026-01-01', NULL,  NULL, NULL,  NULL,  NULL,  NULL, NULL,  NULL, false, NULL, NULL, NULL,  true)
) AS v (form_id, order_id, form_no, received_on, cut_from, measurer_id, self_measured,
  outline_closed_left, outline_closed_right, outline_single_left, outline_single_right,
  ball_mark_left, ball_mark_right, instep_mark_left, instep_mark_right, tape_zero_used, orthotic_discussed));
-- heights 7, 9, 11, 13, 15 in are bits 1, 2, 4, 8, 16
INSERT INTO form_numbers VALUES
  ('A1', 0, 22, 63, 63, 31, 23, 0, 11, 10),
  ('B2', 0, 6, 28, 60, 1, 1, 0, 3, 3),
  ('C1', 0, 4, 63, 63, 1, 1, 2, 2, 0);
INSERT INTO form_evidence VALUES
  ('A1', false, false, false, true, false, 0.5, 'test'),
  ('C1', NULL, NULL, true, NULL, NULL, NULL, 'test');
INSERT INTO measurers VALUES ('m1', 'shop', DATE '2025-01-01', 'north', 1), ('m2', 'home', NULL, NULL, 1);
INSERT INTO outcomes VALUES
  ('A', DATE '2026-02-20', 'adjusted', 'calf', 'tight', 'left', 'unknown', 10, 1),
  ('A', DATE '2026-03-13', 'remade', 'calf', 'tight', 'left', 'measuring', 300, 1),
  ('A', DATE '2026-04-13', 'remade', 'heel', 'loose', 'both', 'pattern', 200, 1),
  ('B', DATE '2026-05-01', 'kept', NULL, NULL, NULL, NULL, NULL, 1),
  ('C', DATE '2026-06-15', 'remade', 'top', 'tight', NULL, 'measuring', NULL, 1),
  ('F', NULL, 'remade', NULL, NULL, NULL, NULL, NULL, 1);
INSERT INTO callbacks VALUES ('B1', DATE '2026-01-04', 'outline-broken', true, DATE '2026-01-09', 1);
`

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
	r := readerAt(t, handmade(t, threeOrders), "2026-06-01")
	c, err := r.Cohort(context.Background())
	require.NoError(t, err)

	require.Equal(t, []string{"C", "A", "B"}, c.OrderID)
	require.Equal(t, []int32{0, 0, 1}, c.Customer)
	require.Equal(t, []cohort.Day{day(t, "2026-01-20"), day(t, "2026-02-01"), day(t, "2026-02-01")}, c.Shipped)
	require.Equal(t, []cohort.Day{day(t, "2026-01-01"), day(t, "2026-01-02"), day(t, "2026-01-03")}, c.Received)
	require.True(t, math.IsNaN(c.ShaftMM[0]))
	require.Equal(t, 381.0, c.ShaftMM[1])
	require.Equal(t, []int16{0, 1, 2}, c.CutNo)
	require.Equal(t, []bool{false, false, true}, c.CalledBack)
	// C's remake was reported on 15 June: on 1 June nobody knows of it.
	require.Equal(t, []cohort.Day{cohort.NoDay, day(t, "2026-03-13"), cohort.NoDay}, c.Remade)
	require.Equal(t, []cohort.Day{cohort.NoDay, day(t, "2026-02-20"), cohort.NoDay}, c.Adjusted)
	require.Equal(t, []bool{false, true, true}, c.Answered)
	require.Equal(t, "measuring", c.Cause.At(1))
	require.Equal(t, "calf", c.Zone.At(1))
	require.Equal(t, "", c.Zone.At(0))
	require.Equal(t, 300.0, c.Cost[1])
	require.Equal(t, "yes", c.Tucked.At(0))
	require.Equal(t, "", c.Tucked.At(2))
	require.Equal(t, "no", c.Orthotic.At(2))
	require.Equal(t, []string{"", "lace-up", "pull-on"}, c.Closure.Levels)
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
		{Reason: "remake reported without a day", Orders: 1, Some: []string{"F"}},
		{Reason: "second making of another order", Orders: 1, Some: []string{"D"}},
	}, c.Excluded)
}
