package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"lastroom/analysis/remakes"
	"lastroom/analysis/testdata/breadth"
)

// noOrders says of columns with whole numbers why these lead nowhere, by table and column.
// A name that ends with … stands for all that begin so.
var noOrders = map[string]string{
	"held-forms/days waiting": "days", "ages/Days since shipping": "days", "maturity-curves-figure-data/Day": "days",
	"maturity-curves-figure-data/Orders": "a curve's orders still followed at an age: all of a quarter, less a few each day",
	"ages/n":                             "every order of the book, at each age",
	"marks-…/is":                         "facts of one form", "boot/is": "facts of one order", "call-backs-table/form no": "a form's number",
	"measurer-repeats/…": "legs taped in a session, which are no orders", "habits/Legs": "legs taped in a session", "needed/…": "legs to tape in a session",
	"spots/Numbers": "numbers taped in a session", "spots/Tolerated": "millimetres",
	"measurer-signs/Forms to say more":  "forms that are still to come",
	"risk-course/95 in 100 counts from": "what was to be expected", "risk-course/to": "what was to be expected",
	"ranges-figure-data/n": "numbers on forms, some of each form", "ratios-figure-data/n": "numbers on forms",
	"silence-…/…": "shares", "unjudged-data/…": "shares",
	"figures/…": "money; counts of pairs lead to them", "remade/Cost": "money", "remade-table/Cost": "money",
}

func whyNoOrders(table, column string) (why string) {
	for name, why := range noOrders {
		pattern := "^" + strings.ReplaceAll(regexp.QuoteMeta(name), "…", ".*") + "$"
		if regexp.MustCompile(pattern).MatchString(table + "/" + column) {
			return why
		}
	}
	return ""
}

// A shownCell is a cell of a table of a page.
type shownCell struct{ page, table, column, text, href string }

// tablesOf are the cells of all tables of a page, below their heads; rows counts those of a table.
func tablesOf(t *testing.T, page, text string) (cells []shownCell, tables map[string]*html.Node) {
	root, err := html.Parse(strings.NewReader(text))
	require.NoError(t, err)
	tables = map[string]*html.Node{}
	for n := range root.Descendants() {
		if n.Data != "table" {
			continue
		}
		id := attribute(n, "id")
		tables[id+"#"+strconv.Itoa(len(tables))] = n
		var heads []string
		for row := range n.Descendants() {
			if row.Data != "tr" {
				continue
			}
			column := 0
			for c := range row.ChildNodes() {
				switch {
				case c.Data != "td" && c.Data != "th":
					continue
				case attribute(c, "scope") == "col":
					heads = append(heads, strings.TrimSpace(textWithoutUnit(c)))
				case column < len(heads):
					cell := shownCell{page, id, heads[column], strings.TrimSpace(textOf(c)), ""}
					for a := range c.Descendants() {
						if a.Data == "a" {
							cell.href = attribute(a, "href")
						}
					}
					cells = append(cells, cell)
				}
				column++
			}
		}
	}
	return cells, tables
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return b.String()
}

// textWithoutUnit is a head without the unit that stands behind it.
func textWithoutUnit(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode && attribute(d.Parent, "class") != "unit" {
			b.WriteString(d.Data)
		}
	}
	return strings.TrimRight(b.String(), "\u00a0 ")
}

// slow are pages of a kind that others stand for where a run is not wide.
var slow = map[string]bool{"/measurers/sessions": true}

// shownPages walks the links of the invented workshop's pages, of each kind one, in a wide
// run a few, and runs no notebook. Lists behind counts are left to who follows counts. Pages
// are kept for the next test.
func shownPages(t *testing.T, see func(path, text string)) {
	shownOnce.Do(func() { shownTexts = walkShown(t, shownShop(t)) })
	require.NotEmpty(t, shownTexts, "an earlier test did not come to the end of the pages")
	for _, p := range shownTexts {
		see(p[0], p[1])
	}
}

var (
	shownOnce  sync.Once
	shownTexts [][2]string // path and text
)

func walkShown(t *testing.T, base string) (texts [][2]string) {
	see := func(path, text string) { texts = append(texts, [2]string{path, text}) }
	most := breadth.Few(1, 3)
	kindOf := regexp.MustCompile(`^/(order|form|measurers|customer|run|teaching|notebook|edit|rules|help|practice|session)\b`)
	seen, some := map[string]bool{"/": true}, map[string]int{}
	for todo := []string{"/"}; len(todo) > 0; todo = todo[1:] {
		path := todo[0]
		res, err := http.Get(base + path)
		require.NoError(t, err)
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		require.NoError(t, err)
		if !strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") || res.Header.Get("Content-Disposition") != "" {
			continue
		}
		require.Equal(t, 200, res.StatusCode, path)
		see(path, string(b))
		for _, m := range links.FindAllSubmatch(b, -1) {
			next := string(bytes.ReplaceAll(m[1], []byte("&amp;"), []byte("&")))
			kind := kindOf.FindString(next)
			if seen[next] || !breadth.Wide() && slow[next] || strings.Contains(next, "behind") || strings.HasPrefix(next, "/static/") || kind != "" && some[kind] >= most {
				continue
			}
			seen[next] = true
			some[kind]++
			todo = append(todo, next)
		}
	}
	for _, path := range []string{"/rules?rule=tape-marks-missing", "/rules?when=self_measured", "/measurers/sessions"} {
		if !seen[path] && breadth.Wide() {
			see(path, requireOK(t, base, path))
		}
	}
	return texts
}

// haveTools holds tables to what the script takes: with more rows than are seen at a glance
// they can be sorted, filtered and kept as CSV. Boxes to write into and what people wrote
// in a notebook are left as they stand.
func haveTools(t *testing.T, path string, tables map[string]*html.Node) {
	const glance = 6
	ids := map[string]bool{}
	for _, n := range tables {
		rows, written := 0, attribute(n, "class") == "numbers"
		for r := range n.Descendants() {
			if r.Data == "tr" && r.Parent.Data == "tbody" {
				rows++
			}
		}
		for up := n.Parent; up != nil; up = up.Parent {
			written = written || attribute(up, "class") == "prose"
		}
		if rows < glance || written {
			continue
		}
		id := attribute(n, "id")
		assert.True(t, id != "" && !ids[id], "%s: a table without an id of its own: %q", path, id)
		ids[id] = true
		assert.True(t, strings.HasPrefix(attribute(n.Parent, "class"), "scroll"), "%s: table %s can't be scrolled to", path, id)
		columns := 0
		for c := range n.Descendants() {
			if attribute(c, "scope") == "col" {
				columns++
			}
		}
		assert.True(t, columns < 5 || strings.HasPrefix(attribute(n, "class"), "fold"), "%s: table %s does not fold on a phone", path, id)
	}
}

// Every count of orders or forms in a table leads to a list of just these, unless it is
// more than anybody goes through; what leads nowhere is listed with its reason. Tables that
// are more than a handful of rows have their tools.
func TestEveryCountLeadsToItsOrders(t *testing.T) {
	base := shownShop(t)
	whole := regexp.MustCompile(`^\d[\d,]*$`)
	followed := map[string]int{}
	shownPages(t, func(path, text string) {
		cells, tables := tablesOf(t, path, text)
		haveTools(t, path, tables)
		for _, c := range cells {
			if !whole.MatchString(c.text) {
				continue
			}
			n, err := strconv.Atoi(strings.ReplaceAll(c.text, ",", ""))
			require.NoError(t, err)
			name := c.table + "/" + c.column
			switch {
			case c.href == "":
				if n > 0 && n <= remakes.MostBehind && whyNoOrders(c.table, c.column) == "" {
					assert.Fail(t, "a count leads nowhere", "%s: %s %s", path, name, c.text)
				}
			case strings.Contains(c.href, "behind") && (followed[name] < 1 || breadth.Campaign()):
				followed[name]++
				list, _ := tablesOf(t, c.href, requireOK(t, base, c.href))
				rows := 0
				for _, l := range list {
					if l.column == list[0].column {
						rows++
					}
				}
				assert.Equal(t, n, rows, "%s: %s", path, name)
			}
		}
	})
	assert.Greater(t, len(followed), breadth.Few(20, 30), fmt.Sprint(followed))
	t.Log(followed)
}
