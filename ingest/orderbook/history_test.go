package orderbook

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/testdata/books"
)

func TestOrderDrillDown(t *testing.T) {
	ctx := context.Background()
	r := readerAt(t, handmade(t, books.Fixture(t, "three_orders"), books.Fixture(t, "some_numbers")), "2026-06-01")
	o, found, err := r.Order(ctx, "B")
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, "p2", o.Order.Get("customer_id"))
	require.Empty(t, o.LeftOut)
	require.Len(t, o.Forms, 2)
	require.Equal(t, "B1", o.Forms[0].ID)
	require.Equal(t, form.With, o.Forms[0].Faults[1])
	require.Equal(t, "kept", o.Outcomes[0].Get("result"))
	require.Equal(t, "outline-broken", o.CallBacks[0].Get("fault"))
	require.Len(t, o.History, 2)
	require.Equal(t, "old", o.History[0].Get("customer_id"))
	require.Equal(t, int64(2), o.History[0].Until)

	// What came after the as-of day is not there.
	o, found, err = r.Order(ctx, "C")
	require.NoError(t, err)
	require.True(t, found)
	require.Empty(t, o.Outcomes)
	o, _, err = r.Order(ctx, "F")
	require.NoError(t, err)
	require.Empty(t, o.LeftOut, "a remake without its day is counted all the same")

	early := readerAt(t, r.db, "2026-01-02")
	_, found, err = early.Order(ctx, "B")
	require.NoError(t, err)
	require.False(t, found)
	_, found, err = r.Order(ctx, "'; DROP TABLE orders")
	require.NoError(t, err)
	require.False(t, found)

	order, found, err := r.OrderOfForm(ctx, "A1")
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, "A", order)
	_, found, err = early.OrderOfForm(ctx, "B1")
	require.NoError(t, err)
	require.False(t, found)
	a, _, err := r.Order(ctx, "A")
	require.NoError(t, err)
	require.Equal(t, "1", a.Forms[0].Facts.Get("heights_missing"))

	// An exercise is what was known when the first form came.
	firsts, err := r.FirstForms(ctx, []string{"A", "nobody"})
	require.NoError(t, err)
	require.Len(t, firsts, 1)
	require.Equal(t, "A", firsts[0].Order.Get("order_id"))
	require.Equal(t, a.Forms[0].ID, firsts[0].Form.ID)
	require.Equal(t, a.Forms[0].Faults, firsts[0].Form.Faults)
	numbers, err := r.Numbers(ctx, a.Forms[0].ID)
	require.NoError(t, err)
	require.Equal(t, numbers, firsts[0].Numbers)
	ids, err := r.OrdersOfCustomer(ctx, "A")
	require.NoError(t, err)
	require.Equal(t, []string{"C", "A", "D"}, ids)
}

func TestNumbersAndCounts(t *testing.T) {
	ctx := context.Background()
	r := threeOrdersNumbers(t)
	n, err := r.Numbers(ctx, "A1")
	require.NoError(t, err)
	var got []string
	for _, x := range n {
		got = append(got, x.Clothing.String()+" "+x.Point.String()+" "+x.Side.String()+" "+x.Written)
	}
	require.Equal(t, []string{"bare length left 270", "bare ball left 10", "bare ball right 25", "bare leg left 13", "tucked leg left 340"}, got)
	require.Zero(t, n[0].HeightMM)
	require.Equal(t, form.Height(228.6), n[3].HeightMM)

	// One number each: all quantiles are it. Two balls, 250 and 254: the
	// type-7 1st percentile is 250 + 0.01 * 4.
	s, err := r.Spreads(ctx)
	require.NoError(t, err)
	require.Equal(t, "ball", s[0].Name)
	require.Equal(t, form.SexUnknown, s[0].Sex)
	require.Equal(t, 2, s[0].N)
	require.InDelta(t, 250.04, s[0].P1, 1e-9)
	require.InDelta(t, 252, s[0].P50, 1e-9)
	require.Equal(t, human.Spread{Name: "ball/length", N: 1, P1: s[1].P1, P5: s[1].P1, P25: s[1].P1, P50: s[1].P1, P75: s[1].P1, P95: s[1].P1, P99: s[1].P1}, s[1])
	require.InDelta(t, 254.0/270, s[1].P50, 1e-12)

	m, err := r.RangeMonths(ctx)
	require.NoError(t, err)
	require.Equal(t, []human.RangeMonth{{Month: day(t, "2026-01-01").Month(), Judged: 2, Out: 1, Forms: []string{"A1"}, JudgedForms: []string{"A1", "C1"}}}, m)
}

// With CI=true with a currency, and reports on an earlier day, too.
func TestCallBacksRepeatsCosts(t *testing.T) {
	ctx := context.Background()
	r := threeOrdersNumbers(t)
	c, err := r.Cohort(ctx)
	require.NoError(t, err)
	calls, err := r.CallBacks(ctx, c)
	require.NoError(t, err)
	require.Equal(t, []rules.Call{{Row: 2, Fault: "outline-broken", CalledOn: day(t, "2026-01-04"), Resolved: form.With, ResolvedOn: day(t, "2026-01-09")}}, calls)

	repeats, err := r.Repeats(ctx)
	require.NoError(t, err)
	require.Len(t, repeats, 1) // the other was measured after the as-of day
	require.True(t, math.IsNaN(repeats[0].HeightMM))
	repeats[0].HeightMM = 0
	require.Equal(t, repeatability.Repeat{Session: "s", Subject: "leg1", Measurer: "m1", Trial: 1, Reference: true, Side: "left", Point: "ball", ValueMM: 250}, repeats[0])

	costs, err := r.Costs(ctx)
	require.NoError(t, err)
	require.Equal(t, 400.0, *costs.Remake)
	require.Equal(t, 5.5, *costs.Callback)
	require.Nil(t, costs.Adjustment)
	require.Empty(t, costs.Currency)

	reports, err := r.Reports(ctx, day(t, "2026-02-01"), day(t, "2026-02-04"))
	require.NoError(t, err)
	require.Len(t, reports, 4, "A's three and B's one; C was shipped before, F after")
	require.Equal(t, shop.Report{Order: "A", On: day(t, "2026-02-20"), Result: "adjusted", Cost: 10}, reports[0])
	require.True(t, math.IsNaN(reports[3].Cost))
	if !breadth.Wide() {
		return
	}
	r = readerAt(t, handmade(t, books.Fixture(t, "three_orders"), "INSERT INTO settings VALUES ('currency', '€')"), "2026-03-01")
	reports, err = r.Reports(ctx, day(t, "2026-02-01"), day(t, "2026-02-04"))
	require.NoError(t, err)
	require.Len(t, reports, 1, "the others are told later")
	costs, err = r.Costs(ctx)
	require.NoError(t, err)
	require.Equal(t, "€", costs.Currency)
}
