package orderbook

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/testdata/books"
)

// handmade is a book in memory with the given SQL run on its empty tables.
func handmade(t testing.TB, statements ...string) *sql.DB {
	t.Helper()
	db := filled(t, statements...)
	t.Cleanup(func() { db.Close() })
	return db
}

// filled is such a book that nobody closes.
func filled(t testing.TB, statements ...string) *sql.DB {
	t.Helper()
	ctx := context.Background()
	db, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
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

// threeOrders reads the book of three orders on the first of June 2026. Tests share it,
// with the views that one of them has named; whoever changes the book or its reader
// makes one of their own.
func threeOrders(t testing.TB) *Reader { return sharedThree(t, &three) }

// threeOrdersNumbers is the same with some numbers.
func threeOrdersNumbers(t testing.TB) *Reader {
	return sharedThree(t, &threeNumbers, books.Fixture(t, "some_numbers"))
}

var three, threeNumbers *Reader

func sharedThree(t testing.TB, kept **Reader, more ...string) *Reader {
	t.Helper()
	if *kept == nil {
		*kept = readerAt(t, filled(t, append([]string{books.Fixture(t, "three_orders")}, more...)...), "2026-06-01")
	}
	return *kept
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
