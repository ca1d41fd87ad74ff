package translation

import (
	"bytes"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// FuzzPage: whatever the page, saying it ends, and no tag is lost, made or changed.
func FuzzPage(f *testing.F) {
	for _, page := range []string{
		`<p>Of <a href="/o">12 pairs</a> shipped in <b>March 2026</b>, 1 has come back. Nothing waits.</p>`,
		`<p>one <i>two <b>three</i> four</b> five <br> six</p><textarea>Find</textarea><code>a`,
		`</b></p><svg viewBox="0 0 1 1"><text>3.5 %</text></svg><p translate="no">x<p>y</p>`,
		"<p>\ue001a\ue101</p>&lt;b&gt; &amp;amp;",
	} {
		f.Add(page)
	}
	l, err := Of("de")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, page string) {
		said, _ := l.walk([]byte(page))
		require.Equal(t, tagsOf([]byte(page)), tagsOf(said), "%q became %q", page, said)
	})
}

// tagsOf are the names of a page's tags, sorted.
func tagsOf(page []byte) []string {
	out := []string{}
	for z := html.NewTokenizer(bytes.NewReader(page)); ; {
		switch kind := z.Next(); kind {
		case html.ErrorToken:
			slices.Sort(out)
			return out
		case html.StartTagToken, html.EndTagToken, html.SelfClosingTagToken:
			name, _ := z.TagName()
			out = append(out, kind.String()+string(name))
		}
	}
}
