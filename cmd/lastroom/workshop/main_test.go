package workshop

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/ingest/demo"
	"lastroom/ingest/sandbox"
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

var made string // the folder of invented, once it is there

// invented is an invented workshop that all tests may read, made once.
var invented = sync.OnceValues(func() (dir string, err error) {
	if dir, err = os.MkdirTemp("", "lastroom-workshop-"); err != nil {
		return "", err
	}
	made = dir
	_, err = Invent(context.Background(), dir, demo.Options{Seed: 1}, Finding{AsOf: cohort.NoDay, Replicates: 40}, nil, nil, Silent)
	return dir, err
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
	own := t.TempDir()
	require.NoError(t, os.CopyFS(own, os.DirFS(filepath.Dir(demoBook(t)))))
	return own
}
