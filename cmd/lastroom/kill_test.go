package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/demo"
)

// The program killed during a load, at whatever moment, leaves the book as it
// was before or as it is after, and the next load works.
func TestKilledDuringLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	work := t.TempDir()
	early, late := filepath.Join(work, "early"), filepath.Join(work, "late")
	_, err := demo.Write(early, demo.Options{Seed: 3, Orders: 60, AsOf: demo.AsOf - 200})
	require.NoError(t, err)
	_, err = demo.Write(late, demo.Options{Seed: 3, Orders: 60})
	require.NoError(t, err)
	home := filepath.Join(work, "home")
	require.NoError(t, os.Mkdir(home, 0o777))
	book := filepath.Join(home, "shop.duckdb")
	say(t, "load", "--book", book, early)
	before := content(t, book)
	saved := filepath.Join(work, "saved")
	require.NoError(t, os.CopyFS(saved, os.DirFS(home)))

	start := time.Now()
	say(t, "load", "--book", book, late)
	whole := time.Since(start)
	after := content(t, book)
	require.NotEqual(t, before, after)

	var old, fresh int
	const rounds = 3
	for i := range rounds {
		dir := filepath.Join(work, "round")
		require.NoError(t, os.RemoveAll(dir))
		require.NoError(t, os.CopyFS(dir, os.DirFS(saved)))
		book := filepath.Join(dir, "shop.duckdb")
		c := exec.Command("lastroom", "load", "--book", book, late)
		require.NoError(t, c.Start())
		time.Sleep(whole * time.Duration(i+1) / (rounds - 1))
		require.NoError(t, c.Process.Kill())
		c.Wait()
		say(t, "book", "verify", "--book", book)
		switch got := content(t, book); {
		case got == before:
			old++
		case got == after:
			fresh++
		default:
			t.Fatalf("round %d: the book is neither the old nor the new one", i)
		}
		say(t, "load", "--book", book, late)
		require.Equal(t, after, content(t, book), "round %d", i)
	}
	require.Positive(t, old, "no round stopped the load before its end")
	t.Logf("%d rounds found the old book, %d the new one", old, fresh)
}

// content is the checksum of all that a book holds.
func content(t *testing.T, book string) string {
	t.Helper()
	var info struct {
		Checksum string `json:"book_hash"`
	}
	require.NoError(t, json.Unmarshal([]byte(say(t, "book", "info", "--format", "json", "--book", book)), &info))
	require.NotEmpty(t, info.Checksum)
	return info.Checksum
}

// say runs the program as a process of its own and gives what it printed.
func say(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	c := exec.Command("lastroom", args...)
	c.Stdout, c.Stderr = &out, &errs
	require.NoError(t, c.Run(), "%v: %s%s", args, errs.String(), out.String())
	return out.String()
}
