package form

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOneHome: no other production code lists the points or the faults, so that
// a new one is added here alone. A line that names three points, or a file that
// names half of the faults, is a list. What simulations know to be true of single
// faults may name them.
func TestOneHome(t *testing.T) {
	points := regexp.MustCompile(`["'](` + strings.Join(Texts(Points), "|") + `)["']`)
	seen := 0
	err := filepath.WalkDir(filepath.Join("..", ".."), func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == ".git" || d.Name() == "invented" || d.Name() == "form") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || strings.HasSuffix(filepath.ToSlash(path), "reports/sheet/teach.go") {
			return nil // teaching sheets have a drawing for each fault
		}
		seen++
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for i, line := range strings.Split(string(text), "\n") {
			if strings.Count(line, `"`)+strings.Count(line, "'") < 6 || strings.Contains(line, "{clothing}") || strings.Contains(line, `": "zone"`) {
				continue // too few words; a condition on a sheet's columns; the columns that a workshop's own words belong to
			}
			named := map[string]bool{}
			for _, m := range points.FindAllString(line, -1) {
				named[m] = true
			}
			if len(named) >= 3 {
				assert.Fail(t, "a list of points", "%s:%d: %s", path, i+1, line)
			}
		}
		faults := 0
		for _, f := range Faults {
			if strings.Contains(string(text), `"`+f.ID+`"`) {
				faults++
			}
		}
		assert.Less(t, faults, len(Faults)/2, "a list of faults in %s", path)
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, seen, 100, "the project's files were read")
}
