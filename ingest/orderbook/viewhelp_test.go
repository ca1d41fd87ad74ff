package orderbook

import (
	"context"
	"testing"

	"lastroom/ingest/engine"

	"github.com/stretchr/testify/require"
)

// Every view is explained under its own name.
func TestViewsAreExplained(t *testing.T) {
	r := readerAt(t, handmade(t, fixture(t, "three_orders")), "2026-06-01")
	conn, err := r.conn(context.Background())
	require.NoError(t, err)
	defer conn.Close()
	views := Views()
	require.Greater(t, len(views), 10)
	for _, v := range views {
		require.NotEmpty(t, v.About, v.Name)
		_, err := conn.ExecContext(context.Background(), "SELECT * FROM "+engine.QuoteName(v.Name)+" LIMIT 0")
		require.NoError(t, err)
	}
}
