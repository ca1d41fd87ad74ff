package upkeep

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
)

// keepModel writes a risk model beside a book.
func keepModel(t testing.TB, f bookfile.Files) (name string, text []byte) {
	t.Helper()
	text = []byte(`{"format": 1}`)
	name = fmt.Sprintf("model-0001-%.*s.json", bookfile.ModelSum, fmt.Sprintf("%x", sha256.Sum256(text)))
	require.NoError(t, os.MkdirAll(f.Models(), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(f.Models(), name), text, 0o600))
	return name, text
}

// Kept risk models are held to the hash in their names, and a backup brings them
// back.
func TestModelsAreVerifiedAndBackedUp(t *testing.T) {
	breadth.Leave(t, "TestBackupComesBackEqual verifies one that was backed up, and finds it changed")
	ctx := context.Background()
	book := once(t)
	f := bookfile.FilesOf(book)
	name, text := keepModel(t, f)
	require.NoError(t, os.WriteFile(filepath.Join(f.Models(), name+".123"), text[:4], 0o600))
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.Empty(t, v.Problems)

	dir := filepath.Join(t.TempDir(), "backup")
	_, err = Backup(ctx, book, dir, "test")
	require.NoError(t, err)
	back := filepath.Join(t.TempDir(), "back.duckdb")
	_, err = Restore(ctx, dir, back, "test")
	require.NoError(t, err)
	have, err := os.ReadFile(filepath.Join(bookfile.FilesOf(back).Models(), name))
	require.NoError(t, err)
	require.Equal(t, text, have)

	require.NoError(t, os.WriteFile(filepath.Join(f.Models(), name), text[1:], 0o600))
	v, err = Verify(ctx, book)
	require.NoError(t, err)
	require.Len(t, v.Problems, 1)
	require.Contains(t, v.Problems[0], "risk model "+name)
}
