package orderbook

import (
	"context"
	"testing"

	"lastroom/analysis/cohort"
	"lastroom/ingest/testdata/books"

	"github.com/stretchr/testify/require"
)

func TestInfo(t *testing.T) {
	r, err := OpenReader(context.Background(), books.File(t, books.Fixture(t, "three_orders"), books.Fixture(t, "some_numbers")), Options{AsOf: day(t, "2026-06-01")})
	require.NoError(t, err)
	defer r.Close()
	i, err := r.Info(context.Background())
	require.NoError(t, err)
	require.Equal(t, [...]int{6, 5, 4, 2, 4, 3, 2, 5, 5, 1, 2, 2}, [...]int{i.Orders, i.Shipped, i.Followed, i.Remade, i.Forms, i.Keyed,
		i.Judged, i.Numbers, i.Outcomes, i.CallBacks, i.Measurers, i.Superseded})
	require.Len(t, i.LeftOut, 2)
	require.Contains(t, i.Notes[0], "of 2 shipped orders no form")
	require.Len(t, i.Loads, 1)
	require.Equal(t, i.Hash, contentHash(i.Loads[0].Checksum))
	require.Equal(t, day(t, "2026-06-15"), i.Newest)
	months, err := r.ShippingMonths(context.Background())
	require.NoError(t, err)
	require.Equal(t, []cohort.Month{day(t, "2026-01-20").Month(), day(t, "2026-02-05").Month()}, months)
}

func TestChanges(t *testing.T) {
	ctx := context.Background()
	r := readerAt(t, handmade(t, books.Fixture(t, "three_orders"), `
INSERT INTO loads VALUES (1, now(), 'p', 'c1'), (2, now(), 'p', 'c2'), (3, now(), 'p', 'c3');
INSERT INTO orders_history SELECT *, 2 FROM orders WHERE order_id = 'A';        -- corrected by load 2
UPDATE orders SET load_id = 2 WHERE order_id IN ('A', 'E');                     -- E came with load 2
INSERT INTO orders_history BY NAME (SELECT 'X' AS order_id, 1 AS load_id, 3 AS until_load);
INSERT INTO measured_history VALUES ('B2', 1, 1, 1, 3);
UPDATE outcomes SET load_id = 3 WHERE order_id = 'C';`), "2026-07-01")
	got, err := r.Changes(ctx, 1, day(t, "2026-06-01"))
	require.NoError(t, err)
	require.Equal(t, cohort.Changes{Loads: 2, NewOrders: cohort.Affected{Orders: 1, Some: []string{"E"}}, LateOutcomes: cohort.Affected{Orders: 1, Some: []string{"C"}},
		CorrectedOrders: cohort.Affected{Orders: 2, Some: []string{"A", "B"}}, RemovedOrders: cohort.Affected{Orders: 1, Some: []string{"X"}}}, got)
	got, err = r.Changes(ctx, 3, day(t, "2026-06-01"))
	require.NoError(t, err)
	require.Equal(t, cohort.Changes{}, got)
	n, err := r.Load(ctx)
	require.NoError(t, err)
	require.Equal(t, int64(3), n)
}
