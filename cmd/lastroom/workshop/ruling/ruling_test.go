package ruling

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/rules"
)

const one = "- id: tall\n  when: shaft_height_in > 15\n"

// The file is followed while it comes, changes, breaks and goes; a change is all or
// nothing.
func TestFileIsFollowed(t *testing.T) {
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	f, err := Open(book, "")
	require.NoError(t, err)
	assert.Equal(t, rules.Default(), f.Now().List, "those of the program")
	first := f.Now().Key
	path := Beside(book)
	later := time.Now()
	write := func(text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		later = later.Add(time.Second) // whatever the clock of the files is worth
		require.NoError(t, os.Chtimes(path, later, later))
	}
	write(one)
	require.Len(t, f.Now().List, 1)
	assert.NotEqual(t, first, f.Now().Key)
	write("- id: [")
	require.Len(t, f.Now().List, 1, "a broken file changes nothing")
	assert.Error(t, f.Change(func(text []byte) ([]byte, error) { return text, nil }))
	write(one)

	refused := errors.New("no")
	assert.ErrorIs(t, f.Change(func([]byte) ([]byte, error) { return nil, refused }), refused)
	assert.Error(t, f.Change(func([]byte) ([]byte, error) { return []byte("- id: ["), nil }), "what can't be read is not written")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, one, string(text))
	require.NoError(t, f.Change(func(text []byte) ([]byte, error) {
		return append(text, []byte("- id: odd\n  when: alarm_score > 2\n")...), nil
	}))
	assert.Len(t, f.Now().List, 2)
	require.NoError(t, os.Remove(path))
	assert.Equal(t, first, f.Now().Key)

	own := filepath.Join(t.TempDir(), "given.yaml")
	_, err = Open(book, own)
	assert.ErrorContains(t, err, "can't read the rules", "a file that was given must be there")
}
