package orderbook

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/rules"
	"lastroom/ingest/engine"
	"lastroom/ingest/testdata/books"
)

// A cohort read in many partitions, several at a time, is the one read at once:
// codes, words, what rules say, and the gaps that orders in doubt leave.
func TestPartitionsGiveOneCohort(t *testing.T) {
	fill := strings.ReplaceAll(books.Fixture(t, "many_orders"), "@N", "4000") +
		"UPDATE orders SET received_on = shipped_on + 1 WHERE hash(order_id) % 50 = 0;\n" +
		"UPDATE orders SET customer_id = NULL WHERE hash(order_id) % 40 = 0;\n"
	r := readerAt(t, handmade(t, fill), "2026-01-01")
	list := []rules.Rule{{ID: "marks", When: "tape_marks_missing"}, {ID: "tall", When: "shaft_height_in >= 15"}}
	ctx := context.Background()
	whole, held, err := r.HoldFirstForms(ctx, list)
	require.NoError(t, err)
	require.Less(t, whole.Len(), 4000, "some are in doubt")
	require.Greater(t, whole.Len(), 3000)

	r.sizes = partitionSizes{atOnce: 300, few: 1}
	for range 3 {
		c, h, err := r.HoldFirstForms(ctx, list)
		require.NoError(t, err)
		require.Equal(t, whole.OrderID, c.OrderID)
		require.Equal(t, whole.Customer, c.Customer)
		require.Equal(t, whole.Measurer, c.Measurer)
		require.Equal(t, whole.Zone, c.Zone)
		require.Equal(t, whole.Cut, c.Cut)
		require.Equal(t, whole.Remade, c.Remade)
		require.Equal(t, whole.CutNo, c.CutNo)
		require.Equal(t, whole.CalledBack, c.CalledBack)
		require.Equal(t, whole.Excluded, c.Excluded)
		require.Equal(t, held, h)
	}
}

// A reader is asked by several at once: the tables that its cohort works out
// are never mixed up.
func TestCohortsAtTheSameTime(t *testing.T) {
	r := readerAt(t, handmade(t, strings.ReplaceAll(books.Fixture(t, "many_orders"), "@N", "2000")), "2026-01-01")
	want, err := r.Cohort(context.Background())
	require.NoError(t, err)
	errs := make(chan error)
	for range 4 {
		go func() {
			c, err := r.Cohort(context.Background())
			if err == nil && len(c.OrderID) != len(want.OrderID) {
				err = errors.New("another cohort")
			}
			errs <- err
		}()
	}
	for range 4 {
		require.NoError(t, <-errs)
	}
}

// A connection opened after work went to disk works like the first.
func TestConnectionAfterSpill(t *testing.T) {
	ctx := context.Background()
	db, err := engine.Open(ctx, "", false, "SET temp_directory = "+engine.Quote(t.TempDir()), "SET memory_limit = '60MB'", engine.OneThread)
	require.NoError(t, err)
	defer db.Close()
	first, err := db.Conn(ctx)
	require.NoError(t, err)
	defer first.Close()
	_, err = first.ExecContext(ctx, "CREATE TEMP TABLE much AS SELECT hash(i) AS a, hash(i + 1) AS b, hash(i + 2)::VARCHAR AS c FROM range(3000000) t(i)")
	require.NoError(t, err)
	second, err := db.Conn(ctx)
	require.NoError(t, err)
	defer second.Close()
	var limit string
	require.NoError(t, second.QueryRowContext(ctx, "SELECT current_setting('memory_limit')").Scan(&limit))
	require.Contains(t, limit, "57.2 MiB")
}
