package judging

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/demo"
	"lastroom/ingest/sandbox"
)

func TestMain(m *testing.M) {
	sandbox.Main() // the review of the invented workshop asks in SQL
	status := m.Run()
	if made != "" {
		os.RemoveAll(made)
	}
	os.Exit(status)
}

var made string // the folder of invented, once it is there

// invented is an invented workshop that all tests read, made once.
var invented = sync.OnceValues(func() (dir string, err error) {
	if dir, err = os.MkdirTemp("", "lastroom-desk-"); err != nil {
		return "", err
	}
	made = dir
	_, err = workshop.Invent(context.Background(), dir, demo.Options{Seed: 1}, workshop.Finding{AsOf: cohort.NoDay, Replicates: 40}, nil, workshop.Silent)
	return dir, err
})

// demoBook is the invented workshop's book.
func demoBook(t testing.TB) string {
	t.Helper()
	dir, err := invented()
	require.NoError(t, err)
	return filepath.Join(dir, "shop.duckdb")
}
