package orderbook

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/rules"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/engine"
	"lastroom/ingest/testdata/books"
)

// A cohort read in many partitions, several at a time, is the one read at once:
// codes, words, what rules say, and the gaps that orders in doubt leave. With CI=true
// thrice, of eight times as many orders.
func TestPartitionsGiveOneCohort(t *testing.T) {
	orders := breadth.Few(500, 4000)
	fill := strings.ReplaceAll(books.Fixture(t, "many_orders"), "@N", fmt.Sprint(orders)) +
		"UPDATE orders SET received_on = shipped_on + 1 WHERE hash(order_id) % 50 = 0;\n" +
		"UPDATE orders SET customer_id = NULL WHERE hash(order_id) % 40 = 0;\n"
	r := readerAt(t, handmade(t, fill), "2026-01-01")
	list := []rules.Rule{{ID: "marks", When: "tape_marks_missing"}, {ID: "tall", When: "shaft_height_in >= 15"}}
	ctx := context.Background()
	whole, held, err := r.HoldFirstForms(ctx, list)
	require.NoError(t, err)
	require.Less(t, whole.Len(), orders, "some are in doubt")
	require.Greater(t, whole.Len(), orders*3/4)

	r.sizes = partitionSizes{atOnce: 300, few: 1}
	for range breadth.Few(1, 3) {
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
	breadth.Leave(t, "TestPartitionsGiveOneCohort reads several partitions of one at a time, and TestViewsAreMadeWhenTheyAreNamed asks several questions")
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

// A connection opened after work went to disk works like the first. With CI=true at
// twice the memory.
func TestConnectionAfterSpill(t *testing.T) {
	ctx := context.Background()
	megabytes, told := 20, "19.0 MiB"
	if breadth.Wide() {
		megabytes, told = 60, "57.2 MiB"
	}
	db, err := engine.Open(ctx, "", false, "SET temp_directory = "+engine.Quote(t.TempDir()), fmt.Sprintf("SET memory_limit = '%dMB'", megabytes), engine.OneThread)
	require.NoError(t, err)
	defer db.Close()
	first, err := db.Conn(ctx)
	require.NoError(t, err)
	defer first.Close()
	_, err = first.ExecContext(ctx, "CREATE TEMP TABLE much AS SELECT hash(i) AS a, hash(i + 1) AS b, hash(i + 2)::VARCHAR AS c FROM range("+fmt.Sprint(50_000*megabytes)+") t(i)")
	require.NoError(t, err)
	second, err := db.Conn(ctx)
	require.NoError(t, err)
	defer second.Close()
	var limit string
	require.NoError(t, second.QueryRowContext(ctx, "SELECT current_setting('memory_limit')").Scan(&limit))
	require.Contains(t, limit, told)
}
