package archive

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"lastroom/analysis/testdata/breadth"
	"lastroom/notebooks/testdata/fake"

	"github.com/stretchr/testify/require"
)

// One byte flipped in any file of a run, its lists of hashes too, or a file that
// is gone or cut, is noticed by whoever reads that file and by Verify; running
// the notebook again mends it. With CI=true every file of a run in each way, otherwise
// in one of them, the ways in turn; every list of hashes in all.
func TestAFlippedByteOfARunIsNoticed(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	rec, err := s.Save(runOf(t, fake.New()), "v0", "")
	require.NoError(t, err)
	again, err := s.Save(runOf(t, fake.New()), "v0", "")
	require.NoError(t, err)
	require.Len(t, again.Repeated, 1)
	wrong, files, err := s.Verify()
	require.NoError(t, err)
	require.Empty(t, wrong)
	require.Greater(t, files, 4)
	var paths []string
	require.NoError(t, filepath.WalkDir(s.Dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			paths = append(paths, path)
		}
		return err
	}))
	ways := []string{"flipped", "first", "last", "cut", "gone"}
	for i, path := range paths {
		name, err := filepath.Rel(s.Dir, path)
		require.NoError(t, err)
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		for what, b := range map[string][]byte{"flipped": flipped(good, (i*7919+13)%len(good)), "first": flipped(good, 0), "last": flipped(good, len(good)-1), "cut": good[:len(good)/2], "gone": nil} {
			if filepath.Base(name) == sumsName && b == nil { // as a run of an older program
				continue
			}
			if filepath.Base(name) != sumsName && what != ways[i%len(ways)] && !breadth.Wide() {
				continue
			}
			other := Store{Dir: t.TempDir(), Clock: s.Clock}
			require.NoError(t, os.CopyFS(other.Dir, os.DirFS(s.Dir)))
			require.NoError(t, os.Remove(filepath.Join(other.Dir, name)))
			if b != nil {
				require.NoError(t, os.WriteFile(filepath.Join(other.Dir, name), b, 0o600))
			}
			wrong, _, err := other.Verify()
			require.NoError(t, err)
			require.Len(t, wrong, 1, "%s %s", name, what)
			_, err = other.File(rec.ID, filepath.ToSlash(name)[len(rec.ID)+1:])
			require.ErrorIs(t, err, ErrDamaged, "%s %s", name, what)
			_, err = other.Save(runOf(t, fake.New()), "v0", "")
			require.NoError(t, err)
			wrong, _, err = other.Verify()
			require.NoError(t, err)
			require.Empty(t, wrong, "%s %s", name, what)
		}
	}
}

func flipped(b []byte, at int) []byte {
	b = append([]byte{}, b...)
	b[at] ^= 1
	return b
}
