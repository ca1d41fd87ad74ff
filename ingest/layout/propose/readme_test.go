package propose

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/layout"
)

// The mapping that the README shows can be read, and its example is what the
// program says.
func TestReadmeExample(t *testing.T) {
	text, err := os.ReadFile("../../../README.md")
	require.NoError(t, err)
	_, rest, ok := strings.Cut(string(text), "```yaml\nfile: Massbuch")
	require.True(t, ok)
	block, _, _ := strings.Cut(rest, "```")
	_, err = layout.Parse("README.md", []byte("file: Massbuch"+block))
	require.NoError(t, err)

	_, sheet, ok := strings.Cut(string(text), "    Bench book 2024\n")
	require.True(t, ok)
	sheet, _, _ = strings.Cut(sheet, "\n\n`lastroom layout")
	dir := t.TempDir()
	path := filepath.Join(dir, "book 2024.csv")
	require.NoError(t, os.WriteFile(path, []byte("Bench book 2024\n"+strings.ReplaceAll(sheet, "\n    ", "\n")), 0o644))
	files, _, err := Gather(t.Context(), []string{path}, dir)
	require.NoError(t, err)
	p, err := Propose(t.Context(), files, dir)
	require.NoError(t, err)
	assert.Contains(t, string(text), p.Questions[0])
	said := strings.Join(p.Evidence, "\n")
	assert.Contains(t, said, "days: month first, since 4 days have a second number over 12.")
	assert.Contains(t, p.Text, "skip: ")
}
