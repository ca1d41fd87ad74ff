package workshop

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop/ruling"
	"lastroom/ingest/demo"
	"lastroom/ingest/durable"
	"lastroom/ingest/load"
	"lastroom/ingest/sandbox"
	"lastroom/ingest/testdata/books"
)

func TestMain(m *testing.M) {
	sandbox.Main()
	Main()
	status := m.Run()
	if made != "" {
		os.RemoveAll(made)
	}
	os.Exit(status)
}

var (
	made     string     // the folder of invented, once it is there
	madeWith demo.Truth // its truth
)

// orders of the invented workshop and its seed. Few are enough every day where the risk
// model is worth asking, as it is not in most shops of that size.
var orders, seed = breadth.Few(900, 1500), breadth.Few(5, 1)

// invented is an invented workshop's book with its rules that all tests may read, made
// once; its review, which takes by far the longest, nobody here looks at.
var invented = sync.OnceValues(func() (dir string, err error) {
	if dir, err = os.MkdirTemp("", "lastroom-workshop-"); err != nil {
		return "", err
	}
	made = dir
	sheets, book := filepath.Join(dir, "sheets"), filepath.Join(dir, "shop.duckdb")
	if madeWith, err = demo.Write(sheets, demo.Options{Seed: uint64(seed), Orders: orders}); err != nil {
		return dir, err
	}
	w, err := Open(Setup{Book: book})
	if err != nil {
		return dir, err
	}
	if _, err = w.LoadSheets(context.Background(), load.Options{Paths: []string{sheets}}, Silent); err != nil {
		return dir, err
	}
	return dir, durable.Write(ruling.Beside(book), 0o600, inventedRules(madeWith))
})

// demoBook is the invented workshop's book, to be read only.
func demoBook(t *testing.T) string {
	t.Helper()
	dir, err := invented()
	require.NoError(t, err)
	return filepath.Join(dir, "shop.duckdb")
}

// ownDemo is a copy of the invented workshop's folder that a test may change.
func ownDemo(t *testing.T) string {
	t.Helper()
	return books.Copy(t, filepath.Dir(demoBook(t)))
}
