package service

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// noTools are the tables of templates that can't be sorted, filtered and kept, by class.
var noTools = map[string]string{
	"numbers":   "boxes to write into, in the order of the paper",
	"paperform": "a paper form as it is drawn for practice: its places stand as on paper",
	"top":       "the first rows of a spreadsheet, as they stand in it",
}

// The script gives every table that has an id and stands in a part of its own the means to sort,
// to filter and to keep it; rows fold on a phone where the class says so. Tables of documents have
// both from their printer.
func TestEveryTableOfATemplateHasItsTools(t *testing.T) {
	table := regexp.MustCompile(`(<div class="scroll"[^>]*>)?\s*<table([^>]*)>`)
	class := regexp.MustCompile(`class="([a-z]+)"`)
	n := 0
	require.NoError(t, fs.WalkDir(os.DirFS("."), ".", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".tmpl") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range table.FindAllStringSubmatch(string(text), -1) {
			n++
			if c := class.FindStringSubmatch(m[2]); c != nil && noTools[c[1]] != "" {
				continue
			}
			assert.Contains(t, m[1], `class="scroll"`, "%s: %s", path, m[0])
			assert.Contains(t, m[2], ` id="`, "%s: %s", path, m[0])
			assert.Contains(t, m[2], `class="fold" role="table"`, "%s: %s", path, m[0])
		}
		return err
	}))
	assert.Greater(t, n, 10)
}
