package upkeep

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/sumlines"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
)

// writeLines writes a file of lines with their sums.
func writeLines(t testing.TB, path string, lines ...map[string]any) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	var b bytes.Buffer
	for _, l := range lines {
		line, err := sumlines.Line(l)
		require.NoError(t, err)
		b.Write(line)
	}
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
}

// keepTraining keeps two learners, and a session on two people's legs.
func keepTraining(t testing.TB, f bookfile.Files) {
	t.Helper()
	type m = map[string]any
	writeLines(t, filepath.Join(f.Learners(), "A.lines"), m{"learner": "customer-anna"}, m{"answer": m{"form": "P01"}})
	writeLines(t, filepath.Join(f.Learners(), "B.lines"), m{"learner": "Ben"}, m{"answer": m{"form": "P01"}})
	writeLines(t, filepath.Join(f.Sessions(), "C.lines"), m{"plan": m{"subjects": []string{"7", "customer-anna"}}, "doors": []string{"x"}},
		m{"entry": m{"person": 0, "subject": 0, "readings": []m{{"written": "240", "value_mm": 240}}}}, m{"entry": m{"person": 0, "subject": 1, "readings": []m{{"written": "251", "value_mm": 251}}}}, m{"did": "closed"})
}

// What is kept of training is verified, comes back with a backup, and goes with its
// person: a learner whole, legs out of a session, and nobody else's.
func TestTrainingIsKeptLikeTheBook(t *testing.T) {
	breadth.Leave(t, "TestBackupComesBackEqual brings it back and verifies it, TestForget forgets a learner and a leg")
	ctx, now := context.Background(), deskTime
	book := once(t)
	f := bookfile.FilesOf(book)
	keepTraining(t, f)
	before, err := os.ReadFile(filepath.Join(f.Sessions(), "C.lines"))
	require.NoError(t, err)
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)

	dir, back := filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "shop.duckdb")
	_, err = Backup(ctx, book, dir, "test")
	require.NoError(t, err)
	_, err = Restore(ctx, dir, back, "test")
	require.NoError(t, err)
	after, err := os.ReadFile(filepath.Join(bookfile.FilesOf(back).Sessions(), "C.lines"))
	require.NoError(t, err)
	require.Equal(t, before, after)

	for _, which := range []string{book, back} {
		f := bookfile.FilesOf(which)
		// A person of whom the book itself has nothing is forgotten too.
		g, err := Forget(ctx, which, "7", bookfile.WriterOptions{Program: "test", Now: now})
		require.NoError(t, err)
		require.Equal(t, 1, g.Training)
		require.Empty(t, g.Left)
		g, err = Forget(ctx, which, "customer-anna", bookfile.WriterOptions{Program: "test", Now: now})
		require.NoError(t, err)
		require.Equal(t, 2, g.Training)
		require.NoFileExists(t, filepath.Join(f.Learners(), "A.lines"))
		require.FileExists(t, filepath.Join(f.Learners(), "B.lines"))
		text, err := os.ReadFile(filepath.Join(f.Sessions(), "C.lines"))
		require.NoError(t, err)
		require.NotContains(t, string(text), "240")
		require.NotContains(t, string(text), "251")
		require.Contains(t, string(text), `"subjects":["forgotten 1","forgotten 2"]`)
		require.Contains(t, string(text), "closed")
		v, err := Verify(ctx, which)
		require.NoError(t, err)
		require.True(t, v.Sound(), v.Problems)
	}
	_, err = Forget(ctx, book, "customer-anna", bookfile.WriterOptions{Program: "test", Now: now})
	require.ErrorIs(t, err, errNobody)

	// A changed byte is noticed, and named where a person is forgotten.
	path := filepath.Join(f.Sessions(), "C.lines")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	text[20] ^= 1
	require.NoError(t, os.WriteFile(path, text, 0o600))
	v, err = Verify(ctx, book)
	require.NoError(t, err)
	require.Len(t, v.Problems, 1)
	require.Contains(t, v.Problems[0], "line 1 was changed")
	writeLines(t, filepath.Join(f.Learners(), "D.lines"), map[string]any{"learner": "customer-bert"})
	g, err := Forget(ctx, book, "customer-bert", bookfile.WriterOptions{Program: "test", Now: now})
	require.NoError(t, err)
	require.Len(t, g.Left, 1)
	require.Contains(t, g.Left[0], path)
}
