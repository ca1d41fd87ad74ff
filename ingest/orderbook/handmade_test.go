package orderbook

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
)

// handmade is a book in memory with the given SQL run on its empty tables.
func handmade(t testing.TB, statements ...string) *sql.DB {
	t.Helper()
	ctx := context.Background()
	db, err := openDB(ctx, "", false)
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	defer conn.Close()
	require.NoError(t, bringUp(ctx, conn, schemaFiles))
	for _, s := range statements {
		_, err := conn.ExecContext(ctx, s)
		require.NoError(t, err, s)
	}
	return db
}

// takeWritten puts the rows of the table written, which has the columns of the
// view measurements, where the book keeps measurements.
const takeWritten = `
INSERT INTO places SELECT row_number() OVER (), * FROM (SELECT DISTINCT side, clothing, point, height_mm, height_written FROM written);
INSERT INTO readings SELECT row_number() OVER (), * FROM (SELECT DISTINCT value_mm, value_written, unit FROM written);
INSERT INTO measured SELECT form_id, place_id, reading_id, load_id FROM written w
  JOIN places p ON p.side = w.side AND p.clothing = w.clothing AND p.point = w.point AND p.height_written IS NOT DISTINCT FROM w.height_written
  JOIN readings r ON r.value_mm = w.value_mm AND r.value_written = w.value_written AND r.unit = w.unit;
DROP TABLE written;
`

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
