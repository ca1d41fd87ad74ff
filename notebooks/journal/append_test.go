package journal

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A last line that was cut short at any byte gives way to the next one, whole lines
// never change, and one whose end a hand took off stays where it stands without.
func TestAppendMends(t *testing.T) {
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	path := filepath.Join(dir, "list")
	next := []byte("{\"n\":3}\n")
	require.ErrorIs(t, Append(root, "list", 0, next, nil), fs.ErrNotExist)
	require.NoError(t, Append(root, "list", os.O_CREATE, next, nil))
	require.ErrorIs(t, Append(root, "list", os.O_CREATE|os.O_EXCL, next, nil), fs.ErrExist)

	const old, last = "{\"n\":1}\n", `{"n":2}`
	for cut := range len(last) + 1 {
		for _, stands := range []func([]byte) bool{nil, json.Valid} {
			want := old + string(next)
			if stands != nil && cut == len(last) {
				want = old + last + "\n" + string(next)
			}
			require.NoError(t, os.WriteFile(path, []byte(old+last[:cut]), 0o600))
			require.NoError(t, Append(root, "list", 0, next, stands))
			got, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, want, string(got), "cut after %d bytes", cut)
			assert.Equal(t, strings.TrimSuffix(want, string(next)), string(Whole(got[:len(want)-len(next)], stands)))
		}
	}
	require.NoError(t, os.WriteFile(path, []byte(last[:3]), 0o600))
	require.NoError(t, Append(root, "list", 0, next, json.Valid))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(next), string(got), "only half a line was there")
}
