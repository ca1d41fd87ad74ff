package main

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/demo"
)

// A stop from outside ends each command soon, says that nothing was changed,
// and gives status 4.
func TestStopped(t *testing.T) {
	dir, err := demoDir()
	require.NoError(t, err)
	sheets, home := filepath.Join(t.TempDir(), "sheets"), t.TempDir()
	_, err = demo.Write(sheets, demo.Options{Orders: 2000})
	require.NoError(t, err)
	for _, args := range []string{
		"load --book " + filepath.Join(home, "shop.duckdb") + " " + sheets,
		"faults --mature-days 77 --book " + filepath.Join(dir, "demo", "shop.duckdb"),
		"rules --mature-days 77 --book " + filepath.Join(dir, "demo", "shop.duckdb"),
	} {
		ctx, stop := context.WithCancel(t.Context())
		time.AfterFunc(5*time.Millisecond, stop) // a small shop's finding is there in fifty
		var out, errs bytes.Buffer
		require.Equal(t, workshop.ExitTrouble, run(ctx, strings.NewReader(""), &out, &errs, strings.Fields(args)), args)
		require.Contains(t, errs.String(), "stopped; nothing was changed", args)
		require.Empty(t, out.String(), args)
	}
	require.NoFileExists(t, filepath.Join(home, "shop.duckdb"))
}
