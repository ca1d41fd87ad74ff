package bookfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A sheet given for a book is told from a book that is damaged: the one never was a
// book, beside the other lies its folder.
func TestNeverABook(t *testing.T) {
	path := filepath.Join(t.TempDir(), "orders.csv")
	require.NoError(t, NeverABook(path), "what is not there is no other file")
	require.NoError(t, os.WriteFile(path, []byte("order_id,received_on\n1,2026-01-01\n"), 0o600))
	require.ErrorIs(t, NeverABook(path), ErrNoBook)
	_, err := Open(t.Context(), path, true)
	require.ErrorIs(t, err, ErrNoBook)
	require.NoError(t, os.Mkdir(FilesOf(path).Dir, 0o700))
	require.NoError(t, NeverABook(path))
	_, err = Open(t.Context(), path, true)
	require.ErrorIs(t, err, ErrDamaged)
}
