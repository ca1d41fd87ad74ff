package upkeep

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
)

// Kept risk models are held to the hash in their names, and a backup brings them
// back.
func TestModelsAreVerifiedAndBackedUp(t *testing.T) {
	ctx := context.Background()
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	loadSmall(t, book)
	f := bookfile.FilesOf(book)
	require.NoError(t, os.MkdirAll(f.Models(), 0o700))
	text := []byte(`{"format": 1}`)
	tmp := filepath.Join(t.TempDir(), "x")
	require.NoError(t, os.WriteFile(tmp, text, 0o600))
	sum, err := durable.Hash(tmp)
	require.NoError(t, err)
	name := "model-0001-" + sum[:bookfile.ModelSum] + ".json"
	require.NoError(t, os.WriteFile(filepath.Join(f.Models(), name), text, 0o600))
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
