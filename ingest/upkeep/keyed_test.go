package upkeep

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/keyed"
	"lastroom/ingest/keyed/loading"
	"lastroom/ingest/load"
)

// keepTyped keeps a form each of two people at the desk.
func keepTyped(t testing.TB, s keyed.Store) {
	t.Helper()
	for _, id := range []string{"anna", "bert"} {
		_, err := s.Change("typed-of-"+id, 0, func(r *keyed.Record) error {
			r.Keep(keyed.Form{ID: "form-of-" + id, No: 1, By: "Ben", At: deskTime, Cells: map[string]string{"form_no": "1"},
				Numbers: []map[string]string{{"side": "left", "clothing": "bare", "point": "ball", "value": "240", "unit": "mm"}}}, map[string]string{"customer_id": "customer-" + id})
			return nil
		})
		require.NoError(t, err)
	}
}

var deskTime = time.Date(2026, 10, 5, 9, 0, 0, 0, time.UTC)

// What the desk keeps is verified, comes back with a backup, loaded or not, and
// goes with its person, though nothing of them is in the book yet.
func TestKeyedIsKeptLikeTheBook(t *testing.T) {
	breadth.Leave(t, "TestBackupComesBackEqual brings it back and verifies it, TestForget forgets a person of it")
	ctx, now := context.Background(), deskTime
	book := once(t)
	s := keyed.Store{Files: bookfile.FilesOf(book)}
	keepTyped(t, s)
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
	require.Contains(t, v.Unfinished, "what was typed in at the desk for some orders is not in the book yet (2)")

	dir, back := filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "shop.duckdb")
	_, err = Backup(ctx, book, dir, "test")
	require.NoError(t, err)
	_, err = Restore(ctx, dir, back, "test")
	require.NoError(t, err)
	restored := keyed.Store{Files: bookfile.FilesOf(back)}
	report, err := loading.Load(ctx, restored, load.Options{Now: now})
	require.NoError(t, err)
	require.EqualValues(t, 2, report.Load)
	require.Equal(t, []string{"typed-of-anna", "typed-of-bert"}, ask(t, back, "SELECT order_id FROM orders WHERE order_id LIKE 'typed-of-%' ORDER BY 1"))

	for _, which := range []string{book, back} {
		g, err := Forget(ctx, which, "customer-anna", bookfile.WriterOptions{Program: "test", Now: now})
		require.NoError(t, err)
		require.Empty(t, g.Left)
		require.Equal(t, []string{"typed-of-bert"}, heldBy(t, filepath.Dir(which), "typed-of-anna", "typed-of-bert"), which)
		_, err = loading.Load(ctx, keyed.Store{Files: bookfile.FilesOf(which)}, load.Options{Now: now})
		require.NoError(t, err)
		require.Equal(t, []string{"typed-of-bert"}, ask(t, which, "SELECT order_id FROM orders WHERE order_id LIKE 'typed-of-%'"))
	}
	entries, err := filepath.Glob(filepath.Join(s.Files.Keyed(), "*.json"))
	require.NoError(t, err)
	require.Len(t, entries, 1)
	text, err := os.ReadFile(entries[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(entries[0], text[:len(text)-2], 0o600))
	v, err = Verify(ctx, book)
	require.NoError(t, err)
	require.Len(t, v.Problems, 1)
	require.Contains(t, v.Problems[0], "what the desk kept is damaged")
}
