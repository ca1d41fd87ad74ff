package sandbox

import (
	"os"
	"path/filepath"
	"sync"
	"testing"

	"lastroom/ingest/testdata/books"

	"github.com/stretchr/testify/require"
)

// The test binary is its own child for SQL that a person wrote.
func TestMain(m *testing.M) {
	Main()
	status := m.Run()
	if sharedHome != "" {
		os.RemoveAll(sharedHome)
	}
	os.Exit(status)
}

var (
	sharedOnce sync.Once
	sharedHome string // the folder of the book, once it is there
)

// shared is a book of three orders that all tests ask, since none can change it: the
// attacks see to that.
func shared(t testing.TB) (book string) {
	t.Helper()
	sharedOnce.Do(func() {
		home, err := os.MkdirTemp("", "lastroom-sandbox-")
		require.NoError(t, err)
		books.FileIn(t, home, books.Fixture(t, "three_orders"))
		sharedHome = home
	})
	require.NotEmpty(t, sharedHome, "the shared book was not made")
	return filepath.Join(sharedHome, "shop.duckdb")
}
