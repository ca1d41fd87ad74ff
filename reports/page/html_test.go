package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

func parsed(t *testing.T, d *Document) (*html.Node, string) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, HTML(&b, d))
	s := b.String()
	n, err := html.Parse(&b)
	require.NoError(t, err)
	return n, s
}

// all finds the elements of a name, within an optional class.
func all(n *html.Node, name string) []*html.Node {
	var out []*html.Node
	for d := range n.Descendants() {
		if d.Type == html.ElementNode && d.Data == name {
			out = append(out, d)
		}
	}
	return out
}

func get(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func words(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func TestHTMLAsksForNothing(t *testing.T) {
	d := sample()
	fig := d.Sections[1].Blocks[3].(Figure)
	fig.SVG = []byte(`<svg xmlns="http://www.w3.org/2000/svg" class="fig"></svg>`)
	d.Sections[1].Blocks[3] = fig
	n, s := parsed(t, d)
	assert.NotContains(t, s, "http:", "no address stands in the page")
	assert.NotContains(t, s, "https:")
	assert.Empty(t, all(n, "script"))
	assert.Empty(t, all(n, "link"))
	assert.Empty(t, all(n, "img"))
	for d := range n.Descendants() {
		for _, a := range d.Attr {
			if a.Key == "href" {
				assert.True(t, strings.HasPrefix(a.Val, "#"), "offline page links to %s", a.Val)
			}
			assert.NotEqual(t, "src", a.Key)
			assert.NotEqual(t, "style", a.Key, "inline styles fall foul of the policy")
			assert.False(t, strings.HasPrefix(a.Key, "on"), "inline handler %s", a.Key)
		}
	}
	assert.NotRegexp(t, `@import|url\(`, words(all(n, "style")[0]))
}

// The policy names the hash of the very style that stands in the page (CSP
// Level 3, section 2.3.1, hash sources).
func TestHTMLPolicyNamesItsStyle(t *testing.T) {
	n, _ := parsed(t, sample())
	var policy string
	for _, m := range all(n, "meta") {
		if get(m, "http-equiv") == "Content-Security-Policy" {
			policy = get(m, "content")
		}
	}
	sum := sha256.Sum256([]byte(all(n, "style")[0].FirstChild.Data))
	assert.Contains(t, policy, "default-src 'none'")
	assert.Contains(t, policy, "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
}

func TestHTMLEscapesWhatSheetsSay(t *testing.T) {
	n, s := parsed(t, sample())
	assert.NotContains(t, s, "<script>")
	assert.Equal(t, sample().Title, words(all(n, "h1")[0]))
	assert.Contains(t, words(all(n, "style")[0]), `\3c script\3e alert`, "a title can't end the style")
	assert.Contains(t, words(all(n, "style")[0]), `\22 onload`, "a quote can't end the footer's string")
	assert.Contains(t, words(all(n, "main")[0]), "Plain <b>text</b>.")
	assert.Len(t, all(n, "em"), 1, "what was made safe is printed as it stands")
}

func TestHTMLIsAccessible(t *testing.T) {
	n, _ := parsed(t, sample())
	assert.Equal(t, "en", get(all(n, "html")[0], "lang"))
	assert.Len(t, all(n, "h1"), 1)
	assert.Len(t, all(n, "main"), 1)
	assert.NotEmpty(t, words(all(n, "title")[0]))
	ids := map[string]bool{}
	for d := range n.Descendants() {
		if id := get(d, "id"); id != "" {
			assert.False(t, ids[id], "id %s stands twice", id)
			ids[id] = true
		}
	}
	for d := range n.Descendants() {
		for _, id := range strings.Fields(get(d, "aria-labelledby")) {
			assert.True(t, ids[id], "no element %s", id)
		}
		if h := get(d, "href"); h != "" {
			assert.True(t, ids[strings.TrimPrefix(h, "#")], "link to %s leads nowhere", h)
		}
	}
	for _, table := range all(n, "table") {
		assert.Len(t, all(table, "caption"), 1)
		for _, h := range all(table, "th") {
			assert.Contains(t, []string{"col", "row"}, get(h, "scope"))
		}
		assert.Equal(t, "0", get(table.Parent, "tabindex"), "a table that scrolls is reached by keyboard")
		assert.Equal(t, "region", get(table.Parent, "role"))
	}
	require.Len(t, all(n, "figure"), 1)
	f := all(n, "figure")[0]
	assert.Len(t, all(f, "svg"), 2)
	require.Len(t, all(f, "details"), 1)
	assert.Contains(t, words(all(f, "summary")[0]), "A figure")
	assert.NotEmpty(t, all(all(f, "details")[0], "table"))
}

func TestHTMLSheets(t *testing.T) {
	n, _ := parsed(t, sample())
	var order []string
	for _, s := range all(n, "section") {
		order = append(order, get(s, "id"))
	}
	assert.Equal(t, []string{"one", "two", "annex"}, order)
	foot := all(n, "footer")
	require.Len(t, foot, 1)
	assert.Equal(t, "sheet sheet-2", get(foot[0].Parent, "class"), "provenance closes sheet two")
	assert.Len(t, all(n, "article"), 2)
	assert.Contains(t, words(n), "showing 3 of 1,340")
}

func TestLinksOpenWhatStandsBehindACount(t *testing.T) {
	var b bytes.Buffer
	link := func(r Ref) string { return "/" + r.Kind + "?n=" + r.IDs[0] }
	require.NoError(t, BodyHTML(&b, sample(), link))
	n, err := html.Parse(&b)
	require.NoError(t, err)
	var found []string
	for _, a := range all(n, "a") {
		if h := get(a, "href"); !strings.HasPrefix(h, "#") {
			found = append(found, h+" "+words(a))
		}
	}
	assert.Equal(t, []string{"/orders?n=O-1 1,234", "/orders?n=O-1 1,234", "/orders?n=1 1, 2, 3, 4, 5, 6 and 2 more"}, found)
}

func TestALinkNeverRunsScript(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, BlockHTML(&b, sample().Sections[1].Blocks[2], func(Ref) string { return "javascript:alert(1)" }))
	assert.NotContains(t, b.String(), "javascript:")
}

func TestEachBlockAlone(t *testing.T) {
	for _, s := range sample().Sections {
		for _, k := range s.Blocks {
			var b bytes.Buffer
			require.NoError(t, BlockHTML(&b, k, nil))
			assert.NotEmpty(t, strings.TrimSpace(b.String()))
		}
	}
	var b bytes.Buffer
	require.NoError(t, BlockHTML(&b, Table{}, nil), "an empty table is a table")
}

func TestEmptyDocument(t *testing.T) {
	n, _ := parsed(t, &Document{Title: "Nothing", Provenance: Provenance{Version: "1"}})
	assert.Len(t, all(n, "footer"), 1)
}

func TestSameDocumentSameBytes(t *testing.T) {
	_, a := parsed(t, sample())
	_, b := parsed(t, sample())
	assert.Equal(t, a, b)
}

// What people wrote is marked, so that no language changes it.
func TestCellsThatStayAsTheyAreAreMarked(t *testing.T) {
	d := sample()
	d.Sections[0].Blocks = []Block{Table{ID: "written", Columns: []Column{{Title: "as written"}, {Title: "read as"}}, Rows: [][]Cell{{AsIs("left"), Text("left")}}}}
	n, _ := parsed(t, d)
	for _, table := range all(n, "table") {
		if get(table, "id") != "written" {
			continue
		}
		assert.Equal(t, "no", get(all(table, "th")[2], "translate"))
		assert.Empty(t, get(all(table, "td")[0], "translate"))
		return
	}
	t.Error("the table is not there")
}
