package uploads

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/sketch"
)

func store(t *testing.T) (Store, string) {
	t.Helper()
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	t.Cleanup(func() { root.Close() })
	return Store{root, time.Now}, dir
}

// What waits is private, is found again with what was chosen, and goes whole.
func TestAnUploadWaitsAndGoes(t *testing.T) {
	s, dir := store(t)
	u, err := s.Begin()
	require.NoError(t, err)
	u.Batch()
	require.NoError(t, s.Add(u, "a.csv", strings.NewReader("1")))
	u.Batch()
	require.NoError(t, s.Add(u, "a.csv", strings.NewReader("2")))
	require.NoError(t, s.Add(u, "one/two/three/four/b.csv", strings.NewReader("3")))
	require.NoError(t, s.Add(u, "letter.pdf", strings.NewReader("4")))
	u.Answers["t|c|is"] = "x"
	require.NoError(t, s.Save(u))

	again, err := s.Find(u.ID)
	require.NoError(t, err)
	assert.Equal(t, u, again)
	assert.Equal(t, []string{"letter.pdf"}, again.Left)
	names, err := s.Files(again)
	require.NoError(t, err)
	assert.Equal(t, []string{"a.csv", "a.csv", "b.csv"}, names)
	require.NoError(t, filepath.WalkDir(filepath.Join(dir, "incoming"), func(path string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		info, err := d.Info()
		require.NoError(t, err)
		assert.Zero(t, info.Mode().Perm()&0o077, path)
		return nil
	}))
	_, err = os.Stat(filepath.Join(dir, "incoming", u.ID, "files", "2", "three", "four", "b.csv"))
	require.NoError(t, err, "the folders nearest to a file are kept")

	require.NoError(t, s.Remove(again))
	_, err = s.Find(u.ID)
	require.ErrorIs(t, err, ErrNone)
	_, err = s.Find("../" + u.ID)
	require.ErrorIs(t, err, ErrNone)
}

func TestLayoutsAreKeptByName(t *testing.T) {
	s, dir := store(t)
	none, err := s.Layouts()
	require.NoError(t, err)
	assert.Empty(t, none)
	for _, name := range []string{"", " a", "a/b", "../a", ".a", "a\nb", "a:b", strings.Repeat("a", 61)} {
		var no *Refused
		require.ErrorAs(t, s.Keep(Layout{Name: name}), &no, name)
	}
	want := Layout{Name: "Maßbuch (neu)", Mapping: "unit: cm\n", Answers: sketch.Answers{"a": "b"}}
	require.NoError(t, s.Keep(Layout{Name: want.Name, Mapping: "unit: in\n"}))
	require.NoError(t, s.Keep(want))
	got, err := s.Layout(want.Name)
	require.NoError(t, err)
	assert.Equal(t, want, got)
	// A mapping that a person put there is a layout too.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "layouts", "mine.yaml"), []byte("x"), 0o600))
	all, err := s.Layouts()
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, "mine", all[1].Name)
	require.NoError(t, s.Drop("mine"))
	require.NoError(t, s.Drop(want.Name))
	require.ErrorIs(t, s.Drop(want.Name), ErrNoLayout)
	left, err := os.ReadDir(filepath.Join(dir, "layouts"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
