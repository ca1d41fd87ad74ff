package seals

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// Every flip of one byte in a sealed file, in one that grew since, or in the seals
// themselves, is noticed; an edit is told and not blamed; a growing list may grow. Every
// fourth byte, with CI=true each.
func TestVerify(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	rules := write("rules.yaml", "- id: a\n")
	list := write("decisions.jsonl", "{\"a\":1}\n")
	write("notebooks/ours.md", "# Ours\n")
	write("cache/x", "not sealed")
	skip := []string{"cache"}
	require.NoError(t, Write(dir, skip))
	check := func(damaged, changed int) []string {
		t.Helper()
		d, c, err := Verify(dir)
		require.NoError(t, err)
		require.Len(t, d, damaged, "%v", d)
		require.Len(t, c, changed, "%v", c)
		return append(d, c...)
	}
	check(0, 0)
	for _, path := range []string{rules, list, filepath.Join(dir, "notebooks", "ours.md"), filepath.Join(dir, Name)} {
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		info, err := os.Stat(path)
		require.NoError(t, err)
		for at := 0; at < len(good); at += breadth.Few(4, 1) {
			bad := append([]byte{}, good...)
			bad[at] ^= 1 << (at % 8)
			require.NoError(t, os.WriteFile(path, bad, 0o600))
			require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
			check(1, 0)
			require.NoError(t, Write(dir, skip)) // damage is not sealed
			check(1, 0)
			require.NoError(t, os.WriteFile(path, good, 0o600))
			require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
		}
		check(0, 0)
	}
	write("decisions.jsonl", "{\"a\":1}\n{\"b\":2}\n")
	check(0, 0)
	write("decisions.jsonl", "{\"a\":9}\n{\"b\":2}\n")
	require.Contains(t, check(1, 0)[0], "its first 8 bytes")
	write("decisions.jsonl", "{\"a\":1}")
	check(1, 0)
	write("decisions.jsonl", "{\"a\":1}\n{\"b\":2}\n")

	// What gave way to the next line after a pulled plug is no damage.
	write("decisions.jsonl", "{\"a\":1}\n{\"b\":")
	require.NoError(t, Write(dir, skip))
	write("decisions.jsonl", "{\"a\":1}\n{\"c\":3}\n")
	check(0, 0)

	later := time.Now().Add(time.Hour)
	write("rules.yaml", "- id: b\n")
	require.NoError(t, os.Chtimes(rules, later, later))
	require.Contains(t, check(0, 1)[0], "rules.yaml was changed at")
	require.NoError(t, Write(dir, skip))
	check(0, 0)
	require.NoError(t, os.Remove(rules))
	require.Contains(t, check(0, 1)[0], "rules.yaml is gone")
	require.NoError(t, Write(dir, skip))
	check(0, 0)
}
