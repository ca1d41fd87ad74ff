package journal

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func folder(t *testing.T) (*Folder, string) {
	t.Helper()
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	t.Cleanup(func() { root.Close() })
	return &Folder{Root: root, Name: "learners"}, filepath.Join(dir, "learners")
}

func lines(t *testing.T, f *Folder, word string) (out []string) {
	t.Helper()
	require.NoError(t, f.Read(word, func(line []byte) error { out = append(out, string(line)); return nil }))
	return out
}

func always() error { return nil }

func TestLinesAreAddedAndKept(t *testing.T) {
	f, dir := folder(t)
	none, err := f.words()
	require.NoError(t, err)
	assert.Empty(t, none)
	word, err := f.Begin("one")
	require.NoError(t, err)
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() { assert.NoError(t, f.Add(word, "two", always)) })
	}
	all.Wait()
	assert.Len(t, lines(t, f, word), 21)
	no := errors.New("no")
	require.ErrorIs(t, f.Add(word, "three", func() error { return no }), no)
	assert.Len(t, lines(t, f, word), 21)

	// One that was cut short counts as not written, and the next takes its place.
	path := filepath.Join(dir, word+ending)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, text[:len(text)-3], 0o600))
	assert.Len(t, lines(t, f, word), 20)
	require.NoError(t, f.Add(word, "last", always))
	got := lines(t, f, word)
	assert.Len(t, got, 21)
	assert.Equal(t, `"last"`, got[20])

	text[3] ^= 1
	require.NoError(t, os.WriteFile(path, text, 0o600))
	err = f.Read(word, func([]byte) error { return nil })
	require.ErrorContains(t, err, "learners/"+word+ending)
	require.ErrorContains(t, err, "line 1 was changed")

	words, err := f.words()
	require.NoError(t, err)
	assert.Equal(t, []string{word}, words)
	require.NoError(t, f.Remove(word))
	require.ErrorIs(t, f.Remove(word), ErrNone)
	require.ErrorIs(t, f.Read(word, nil), ErrNone)
	require.ErrorIs(t, f.Add(word, "x", always), ErrNone)
	for _, bad := range []string{"", "../" + word, strings.ToLower(word), word + "/x"} {
		require.ErrorIs(t, f.Read(bad, nil), ErrNone)
		require.ErrorIs(t, f.Remove(bad), ErrNone)
	}
}
