package translation

import (
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each sentence of the catalogue is one that the program may say: words that follow each
// other in it do so in a source, or each stands there beside a gap, where texts are put
// together. What the database, HTTP and readers of files say stands in others.txt.
func TestNoSentenceIsDead(t *testing.T) {
	const gap = "§"
	gaps := map[string]*regexp.Regexp{
		".go":   regexp.MustCompile("%[-+#0-9.\\[\\]]*[a-z]|[\"`<>]|'[^a-z]|[^a-z]'|[0-9]+"),
		".tmpl": regexp.MustCompile(`(?s)\{\{.*?\}\}|["<>]|[0-9]+`),
		".html": regexp.MustCompile(`["<>]|[0-9]+`), ".js": regexp.MustCompile("[\"`<>]|[0-9]+"), ".css": regexp.MustCompile(`["<>]`),
		".md": regexp.MustCompile("[\"`<>]|\\$[a-z]+|[0-9]+"), ".sql": regexp.MustCompile(`\n--|'[^a-z]|[^a-z]'|[0-9]+`), ".yaml": regexp.MustCompile(`["<>]|[0-9]+`),
	}
	words := regexp.MustCompile(`§|\p{L}+(?:['’]\p{L}+)?`)
	after, known := map[[2]string]bool{}, map[string]bool{}
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && (d.Name() == ".git" || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		gapsOf := gaps[filepath.Ext(path)]
		if d.IsDir() || gapsOf == nil || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		plain := html.UnescapeString(strings.ToLower(string(text)))
		if filepath.Ext(path) == ".sql" {
			plain = strings.ReplaceAll(plain, "\n--", "\n")
		}
		last := gap
		for _, w := range words.FindAllString(gapsOf.ReplaceAllString(plain, " § "), -1) {
			after[[2]string{last, w}], known[w], last = true, true, w
		}
		return nil
	}))
	hole := regexp.MustCompile(`\{[a-z]+\d*\}|</?\d+/?>|\d+|["“”]`)
	catalogue, err := texts("german")
	require.NoError(t, err)
	for name, text := range catalogue {
		if slices.Contains([]string{"language.txt", "glossary.txt", "others.txt"}, name) {
			continue
		}
		for i, line := range strings.Split(string(text), "\n") {
			if line == "" || line[0] == ' ' || line[0] == '#' {
				continue
			}
			last := gap
			for _, w := range words.FindAllString(hole.ReplaceAllString(strings.ToLower(line), " § "), -1) {
				follows := w == gap || last == gap && known[w] || after[[2]string{last, w}] || after[[2]string{last, gap}] && after[[2]string{gap, w}]
				assert.True(t, follows, "%s:%d: nothing says “%s %s” any more: %s", name, i+1, last, w, line)
				last = w
			}
		}
	}
}
