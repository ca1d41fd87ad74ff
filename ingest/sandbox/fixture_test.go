package sandbox

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
)

// fixture is SQL that fills an empty book, out of the testdata of the order book.
func fixture(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "orderbook", "testdata", name+".sql"))
	require.NoError(t, err)
	return string(text)
}

// bookFile is a book on disk with the given SQL run on its empty tables, and
// published as one load.
func bookFile(t testing.TB, statements ...string) string {
	t.Helper()
	ctx := context.Background()
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	w, err := orderbook.OpenWriter(ctx, book, orderbook.WriterOptions{Program: "test", Now: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	defer w.Close()
	for _, s := range statements {
		_, err := w.Conn.ExecContext(ctx, s)
		require.NoError(t, err)
	}
	require.NoError(t, w.Publish(ctx, nil))
	return book
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
