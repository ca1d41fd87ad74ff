// Package books makes order books for tests. Under testdata it is no part of the
// program.
package books

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
)

// Fixture is SQL that fills an empty book, out of the testdata of the order book.
func Fixture(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "orderbook", "testdata", name+".sql"))
	require.NoError(t, err)
	return string(text)
}

// File is a book on disk with the given SQL run on its empty tables, and
// published as one load.
func File(t testing.TB, statements ...string) string {
	t.Helper()
	ctx := context.Background()
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	w, err := bookfile.OpenWriter(ctx, book, bookfile.WriterOptions{Program: "test", Now: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	defer w.Close()
	for _, s := range statements {
		_, err := w.Conn.ExecContext(ctx, s)
		require.NoError(t, err)
	}
	require.NoError(t, w.Publish(ctx, nil))
	return book
}

// FolderHash is a hash over all names and bytes under a folder.
func FolderHash(t testing.TB, dir string) string {
	t.Helper()
	h := sha256.New()
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		fmt.Fprintf(h, "%s %x\n", path, sha256.Sum256(b))
		return err
	})
	require.NoError(t, err)
	return fmt.Sprintf("%x", h.Sum(nil))
}

// Day reads a day; an empty one is none.
func Day(t testing.TB, s string) cohort.Day {
	t.Helper()
	if s == "" {
		return cohort.NoDay
	}
	d, err := cohort.ParseDay(s)
	require.NoError(t, err)
	return d
}
