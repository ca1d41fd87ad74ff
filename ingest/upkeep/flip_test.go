package upkeep

import (
	"context"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/testdata/books"
)

// One byte flipped anywhere in the book, its snapshot, its ledger or a kept sheet
// is noticed by verify, and no command carries it over a good snapshot. One place in
// each file of a book filled by hand; with CI=true 16 places of a loaded one, 200 with
// -campaign.
func TestAFlippedByteIsNoticed(t *testing.T) {
	ctx := context.Background()
	home := filepath.Dir(byHand(t))
	if breadth.Wide() {
		home = filepath.Dir(once(t))
	}
	var files []string
	require.NoError(t, filepath.WalkDir(home, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && d.Name() != "lock" {
			files = append(files, path)
		}
		return err
	}))
	places := len(files)
	switch {
	case breadth.Campaign():
		places = 200
	case breadth.Wide():
		places = 16
	}
	r := rand.New(rand.NewPCG(12, 2))
	for i := range places {
		path := files[i%len(files)]
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		at := r.IntN(len(good))
		dir := books.Copy(t, home)
		book := filepath.Join(dir, "shop.duckdb")
		f := bookfile.FilesOf(book)
		rel, err := filepath.Rel(home, path)
		require.NoError(t, err)
		hit := filepath.Join(dir, rel)
		info, err := os.Stat(hit)
		require.NoError(t, err)
		b, err := os.ReadFile(hit)
		require.NoError(t, err)
		b[at%len(b)] ^= 1 << r.IntN(8)
		require.NoError(t, os.WriteFile(hit, b, 0o600))
		if i/len(files)%2 == 0 { // as a disk does it, without a word
			require.NoError(t, os.Chtimes(hit, info.ModTime(), info.ModTime()))
		}
		v, err := Verify(ctx, book)
		require.NoError(t, err)
		require.NotEmpty(t, append(v.Problems, v.Unfinished...), "%s at %d", rel, at)
		if hit == f.Book {
			before, err := durable.Hash(f.Snapshot())
			require.NoError(t, err)
			if bookfile.Settle(ctx, f, "test") != nil { // it was refused
				after, err := durable.Hash(f.Snapshot())
				require.NoError(t, err)
				require.Equal(t, before, after, "%s at %d", rel, at)
			} else if !v.Sound() {
				after, err := durable.Hash(f.Snapshot())
				require.NoError(t, err)
				require.Equal(t, before, after, "%s at %d: damage was carried on", rel, at)
			}
		}
		require.NoError(t, os.RemoveAll(dir))
	}
}
