package upkeep

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/load"
	"lastroom/ingest/testdata/books"
)

// loadSmall loads the small sheets of the loading tests, with the given
// replacements in the sheet of measurements.
func loadSmall(t testing.TB, book string, replace ...string) *load.Report {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join("..", "load", "testdata", "small"))))
	path := filepath.Join(dir, "measurements.csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte(strings.NewReplacer(replace...).Replace(string(text))), 0o600))
	report, err := load.Sheets(context.Background(), book, load.Options{Paths: []string{dir}, Program: "test", Now: time.Date(2026, 10, 1, 8, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	return report
}

// shared is a book in a folder of its own that several tests start from, made
// once; each gets a copy.
func shared(build func(testing.TB, string)) func(testing.TB) string {
	var once sync.Once
	var home string
	return func(t testing.TB) string {
		t.Helper()
		once.Do(func() {
			dir, err := os.MkdirTemp(sharedDir, "")
			require.NoError(t, err)
			build(t, filepath.Join(dir, "shop.duckdb"))
			home = dir
		})
		require.NotEmpty(t, home, "the shared book was not made")
		return filepath.Join(books.Copy(t, home), "shop.duckdb")
	}
}

// byHand is a book of two customers, with a kept sheet, as two loads would leave it.
var byHand = shared(func(t testing.TB, book string) {
	books.FileIn(t, filepath.Dir(book), twoCustomers(t), "INSERT INTO measured_history BY NAME (SELECT *, 2 AS until_load FROM measured WHERE form_id LIKE '%anna-1')")
	keptSheets(t, book, map[string]string{"orders.csv": "order_id,customer_id\norder-of-anna-1,customer-anna\norder-of-bert-1,customer-bert\n"})
	v, err := Verify(context.Background(), book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
})

// once has the small sheets, twice then some of them corrected.
var (
	once  = shared(func(t testing.TB, book string) { loadSmall(t, book) })
	twice = shared(func(t testing.TB, book string) {
		require.NoError(t, os.CopyFS(filepath.Dir(book), os.DirFS(filepath.Dir(once(t)))))
		loadSmall(t, book, "9.125", "9.25")
	})
)

var sharedDir string // where shared books are, until the tests are over

var ask = books.Ask
