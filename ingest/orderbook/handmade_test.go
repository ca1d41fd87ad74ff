package orderbook

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
)

// handmade is a book in memory with the given SQL run on its empty tables.
func handmade(t testing.TB, statements ...string) *sql.DB {
	t.Helper()
	ctx := context.Background()
	db, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	defer conn.Close()
	require.NoError(t, bookfile.BringUp(ctx, conn))
	for _, s := range statements {
		_, err := conn.ExecContext(ctx, s)
		require.NoError(t, err, s)
	}
	return db
}

func readerAt(t testing.TB, db *sql.DB, asOf string) *Reader {
	t.Helper()
	opt := Options{AsOf: cohort.NoDay}
	if asOf != "" {
		var err error
		opt.AsOf, err = cohort.ParseDay(asOf)
		require.NoError(t, err)
	}
	r, err := NewReader(context.Background(), db, opt)
	require.NoError(t, err)
	return r
}

func day(t testing.TB, s string) cohort.Day {
	t.Helper()
	if s == "" {
		return cohort.NoDay
	}
	d, err := cohort.ParseDay(s)
	require.NoError(t, err)
	return d
}
