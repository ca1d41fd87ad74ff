package orderbook_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/testdata/books"
)

func TestFindIDs(t *testing.T) {
	ctx := context.Background()
	book := books.File(t, `
INSERT INTO orders BY NAME (SELECT unnest(['W00012', 'W00120', 'R0012', 'w7', 'W7', '2026/14']) AS order_id, unnest(['P00012', 'P1', 'P1', NULL, 'Anna B.', '0012']) AS customer_id,
	DATE '2026-01-01' AS received_on, 1 AS load_id);
INSERT INTO forms BY NAME (SELECT order_id || '-1' AS form_id, order_id, 1 AS load_id FROM orders);`)
	r, err := orderbook.OpenReader(ctx, book, orderbook.Options{AsOf: cohort.NoDay})
	require.NoError(t, err)
	defer r.Close()
	for text, want := range map[string]string{
		"W00012": "[{order W00012}]", "w00012": "[{order W00012}]", "W12": "[{order W00012}]", "w012": "[{order W00012}]",
		"12":       "[{order R0012} {order W00012} {customer 0012} {customer P00012}]", // with no letters any of them is meant
		"0012":     "[{customer 0012}]",
		"12-1":     "[{form R0012-1} {form W00012-1}]",
		"r12-1":    "[{form R0012-1}]",
		"w7":       "[{order w7}]", // just so
		"P1":       "[{customer P1}]",
		"anna b.":  "[{customer Anna B.}]",
		"2026/14":  "[{order 2026/14}]",
		"x12":      "[]",
		"W":        "[]",
		"'; DROP ": "[]",
	} {
		got, err := r.FindIDs(ctx, text)
		require.NoError(t, err)
		require.Equal(t, want, fmt.Sprint(got), text)
	}
	near, err := r.IDsOfLength(ctx, 3, 0)
	require.NoError(t, err)
	require.Empty(t, near)
	near, err = r.IDsOfLength(ctx, 5, 0)
	require.NoError(t, err)
	require.Equal(t, "[{order R0012}]", fmt.Sprint(near))
}
