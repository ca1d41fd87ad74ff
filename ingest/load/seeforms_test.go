package load

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/demo"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

// Summed up in stretches that cut through forms, by places instead of their
// numbers, or with one engine thread for its keys, a load comes to the same book,
// and the engine has its threads back.
func TestStretchesCutThroughForms(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	_, err := demo.Write(dir, demo.Options{Seed: 5, Orders: 60})
	require.NoError(t, err)
	fresh, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
	threads := threadsOf(t, fresh)
	require.NoError(t, fresh.Close())
	sum := func() string {
		db, report, err := InMemory(ctx, t.TempDir(), Options{Paths: []string{dir}, Program: "test"})
		require.NoError(t, err)
		defer db.Close()
		require.Empty(t, report.KeptOut)
		conn, err := db.Conn(ctx)
		require.NoError(t, err)
		defer conn.Close()
		require.Equal(t, threads, threadsOf(t, db))
		s, err := orderbook.Checksum(ctx, conn)
		require.NoError(t, err)
		var numbers string
		require.NoError(t, conn.QueryRowContext(ctx, "SELECT sum(hash(n))::VARCHAR || ' ' || count(*) FROM form_numbers n").Scan(&numbers))
		return s + " " + numbers
	}
	whole := sum()
	defer func(n, m int64) { formsAtATime, placesAtATime = n, m }(formsAtATime, placesAtATime)
	for _, n := range []int64{7, 100, 1000} {
		formsAtATime, placesAtATime = n, n
		require.Equal(t, whole, sum(), "%d measurements at a time", n)
	}
	defer func(n int64) { fewSpots = n }(fewSpots)
	fewSpots = 0
	require.Equal(t, whole, sum(), "by places")
	defer func(n int64) { manyKeys = n }(manyKeys)
	manyKeys = 1
	require.Equal(t, whole, sum(), "one thread")
}

func threadsOf(t *testing.T, db *sql.DB) (n int) {
	require.NoError(t, db.QueryRowContext(context.Background(), "SELECT current_setting('threads')").Scan(&n))
	return n
}
