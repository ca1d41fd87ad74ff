// Package books makes order books for tests. Under testdata it is no part of the
// program.
package books

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
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
	return FileIn(t, t.TempDir(), statements...)
}

// FileIn is such a book in a folder that may outlast the test.
func FileIn(t testing.TB, dir string, statements ...string) string {
	t.Helper()
	ctx := context.Background()
	book := filepath.Join(dir, "shop.duckdb")
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

// Copy is a copy of a folder with a book, with the times of its files: by those a
// snapshot is known to be of its book, and nothing has to be settled first.
func Copy(t testing.TB, home string) (dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "home")
	require.NoError(t, os.CopyFS(dir, os.DirFS(home)))
	require.NoError(t, filepath.WalkDir(home, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		require.NoError(t, err)
		rel, err := filepath.Rel(home, path)
		require.NoError(t, err)
		return os.Chtimes(filepath.Join(dir, rel), info.ModTime(), info.ModTime())
	}))
	return dir
}

// asking is the one database to which files are attached that tests ask about: to make
// one takes the engine longer than most of the questions.
var asking = sync.OnceValues(func() (*sql.DB, error) { return engine.Open(context.Background(), "", false, engine.OneThread) })

// Ask runs a query of one text column on the snapshot of a book.
func Ask(t testing.TB, book, query string) (out []string) {
	t.Helper()
	db, err := asking()
	require.NoError(t, err)
	conn, err := db.Conn(t.Context())
	require.NoError(t, err)
	defer conn.Close()
	require.NoError(t, engine.Attach(t.Context(), conn, bookfile.FilesOf(book).Snapshot(), true))
	_, err = conn.ExecContext(t.Context(), "USE book")
	require.NoError(t, err)
	defer func() {
		_, err := conn.ExecContext(context.Background(), "USE memory; DETACH book")
		require.NoError(t, err)
	}()
	rows, err := engine.Texts(t.Context(), conn, query)
	require.NoError(t, err)
	for _, r := range rows {
		out = append(out, r[0])
	}
	return out
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
