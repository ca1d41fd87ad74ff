package translation

import (
	"cmp"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

var pagesOf = flag.String("pages", "", "say the HTML pages of this folder in German, into FOLDER/de, and list what no sentence fits")

// TestUntold is for who writes sentences: it lists what is untold in saved pages, the most
// frequent first, with holes where numbers, days and months stand.
func TestUntold(t *testing.T) {
	if *pagesOf == "" {
		t.Skip("lists what is untold in pages that -pages names")
	}
	l, err := Of("de")
	require.NoError(t, err)
	names, err := filepath.Glob(filepath.Join(*pagesOf, "*.html"))
	require.NoError(t, err)
	require.NotEmpty(t, names)
	require.NoError(t, os.MkdirAll(filepath.Join(*pagesOf, "de"), 0o755))
	count, where := map[string]int{}, map[string]string{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		said, untold := l.Page(text)
		require.NoError(t, os.WriteFile(filepath.Join(*pagesOf, "de", filepath.Base(name)), said, 0o644))
		for _, u := range untold {
			if inner, _, _, ok := unwrapped(u); ok && u[0] == 0xEE {
				u = inner
			}
			u, _ = counted(u, nil)
			u = withHoles(u)
			count[u]++
			where[u] = filepath.Base(name)
		}
	}
	for _, u := range slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(where[a], where[b]), cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	}) {
		fmt.Printf("%-28s %4d  %s\n", where[u], count[u], u)
	}
	fmt.Println(len(count), "sentences untold")
}

var isMark = regexp.MustCompile(`[\x{E000}-\x{E2FF}]`)

func withHoles(s string) string {
	s = regexp.MustCompile(day).ReplaceAllString(s, "{day}")
	s = regexp.MustCompile(`\b`+month+`\b`).ReplaceAllString(s, "{month}")
	s = regexp.MustCompile(`[−+-]?[£€$]?\b\d(?:[\d,]*\d)?(?:\.\d+)?(?:\s?%)?`).ReplaceAllString(s, "{n}")
	return isMark.ReplaceAllStringFunc(s, func(m string) string {
		switch r := []rune(m)[0]; {
		case r >= alone:
			return fmt.Sprintf("<%d/>", r-alone)
		case r >= closes:
			return fmt.Sprintf("</%d>", r-closes)
		default:
			return fmt.Sprintf("<%d>", r-opens)
		}
	})
}
