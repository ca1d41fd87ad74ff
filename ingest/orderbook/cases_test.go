package orderbook

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/risk"
	"lastroom/ingest/testdata/books"
)

// Orders are seen on the day of cutting: by the form cut from or the newest, with
// what was known of the customer when the order came in.
func TestCases(t *testing.T) {
	ctx := context.Background()
	more := `INSERT INTO orders BY NAME (SELECT * FROM (VALUES
		('G', 'p1', DATE '2026-03-20', NULL, 300.0, NULL::VARCHAR, NULL::BOOLEAN, NULL::BOOLEAN, NULL::VARCHAR, NULL::VARCHAR, NULL::DATE),
		('H', 'p2', DATE '2026-03-20', NULL, 300.0, NULL, NULL, NULL, NULL, NULL, DATE '2026-03-25')
		) AS v (order_id, customer_id, received_on, shipped_on, shaft_height_mm, closure, worn_tucked, orthotic, channel, remake_of_order_id, cut_on)
		CROSS JOIN (SELECT 1 AS load_id));
	INSERT INTO forms BY NAME (SELECT * FROM (VALUES
		('G1', 'G', 1, DATE '2026-03-20', false, 1), ('G2', 'G', 2, DATE '2026-03-28', NULL, 1), ('H1', 'H', 1, DATE '2026-03-20', NULL, 1)
		) AS v (form_id, order_id, form_no, received_on, cut_from, load_id))`
	db := handmade(t, books.Fixture(t, "three_orders"), more)
	r := readerAt(t, db, "2026-06-01")
	list, err := r.Cases(ctx, true)
	require.NoError(t, err)
	by := map[string]risk.Order{}
	var ids []string
	for _, o := range list {
		by[o.ID] = o
		ids = append(ids, o.ID)
	}
	assert.Equal(t, []string{"A", "B", "C", "G", "H"}, ids, "orders with a form")
	assert.Equal(t, risk.Shipped, by["A"].Stage)
	assert.True(t, by["A"].Done, "remade")
	assert.Equal(t, 0.5, by["A"].Alarm)
	assert.True(t, math.IsNaN(by["B"].Alarm))
	assert.Equal(t, "B2", by["B"].FormID)
	assert.Equal(t, "lace-up", by["B"].Closure)
	assert.Equal(t, "", by["B"].Tucked)
	assert.Equal(t, "no", by["B"].Orthotic)
	assert.Equal(t, "m1", by["B"].Measurer)
	broken, _ := form.FaultIndex("outline-broken")
	assert.Equal(t, form.With, by["B"].First[broken], "of its first form")
	assert.Equal(t, form.Unknown, by["B"].Cut[broken], "of the one cut from")
	assert.True(t, math.IsNaN(by["C"].ShaftMM))
	assert.Equal(t, risk.FirstPair, by["C"].History, "the first of p1")
	assert.Equal(t, risk.FirstPair, by["A"].History, "C had not been shipped")
	assert.Equal(t, risk.Uncut, by["G"].Stage)
	assert.Equal(t, "G2", by["G"].FormID, "the newest form")
	assert.Equal(t, risk.RemadeBefore, by["G"].History, "A was remade by then")
	assert.Equal(t, risk.CutOut, by["H"].Stage)
	assert.Equal(t, risk.OrderedAgain, by["H"].History)

	open, err := r.Cases(ctx, false)
	require.NoError(t, err)
	ids = nil
	for _, o := range open {
		ids = append(ids, o.ID)
	}
	assert.Equal(t, []string{"B", "C", "G", "H"}, ids, "not A, which is remade")
	late, err := readerAt(t, db, "2027-02-10").Cases(ctx, false)
	require.NoError(t, err)
	require.Len(t, late, 2, "a year past shipping is over, uncut ones stay")
}

// The alarm scores of both forms come with the cohort.
func TestAlarmsOfTheCohort(t *testing.T) {
	r := threeOrders(t)
	c, err := r.Cohort(context.Background())
	require.NoError(t, err)
	for i, id := range c.OrderID {
		if id == "A" {
			assert.Equal(t, 0.5, c.CutAlarm[i])
			assert.Equal(t, 0.5, c.FirstAlarm[i])
		} else {
			assert.True(t, math.IsNaN(c.CutAlarm[i]) && math.IsNaN(c.FirstAlarm[i]), id)
		}
	}
}
