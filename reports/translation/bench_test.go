package translation

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkPage says a page of 4,000 cells; another one each time, or the same again.
func BenchmarkPage(b *testing.B) {
	l, err := Of("de")
	require.NoError(b, err)
	var rows strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&rows, `<tr><th scope="row" title="tape marks missing">W%05d</th><td>2026-03-%02d</td><td class="num">%d.5 %%</td><td>ball girth</td></tr>`, i, i%28+1, i)
	}
	page := func(i int) []byte {
		return fmt.Appendf(nil, `<html lang="en"><h1>%d</h1><table>%s</table></html>`, i, rows.String())
	}
	b.Run("another", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			l.Page(page(i))
		}
	})
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			l.Page(page(-1))
		}
	})
}
