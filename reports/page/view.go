package page

import (
	"bytes"
	"html/template"
	"strings"
	"unicode/utf8"

	"lastroom/analysis/cohort"
)

var pages = template.Must(template.New("page").Funcs(template.FuncMap{"isolate": Isolate}).Parse(pageText))

type fileView struct {
	docView
	Style  template.CSS
	Policy string
}

type docView struct {
	*Document
	Sheets []sheetView
	Links  []Section
}

type sheetView struct {
	N    int
	Rows [][]sectionView // sections that stand side by side on paper share a row
	Tail bool            // cautions and provenance stand at its end
	Doc  *Document
}

type sectionView struct {
	ID, Title string
	Blocks    []blockView
}

// viewOf sorts the sections onto their sheets. Cautions and provenance close
// the last numbered sheet, before the annex.
func viewOf(d *Document, link Link) docView {
	v := docView{Document: d}
	beside := false
	for _, s := range inOrder(d.Sections) {
		n := s.Sheet
		if n > 2 || n < 0 {
			n = 0
		}
		if len(v.Sheets) == 0 || v.Sheets[len(v.Sheets)-1].N != n {
			v.Sheets = append(v.Sheets, sheetView{N: n, Doc: d})
		}
		last := &v.Sheets[len(v.Sheets)-1]
		one := sectionView{s.ID, s.Title, blocksOf(s.Blocks, s.Title, link)}
		if beside && len(last.Rows) > 0 {
			last.Rows[len(last.Rows)-1] = append(last.Rows[len(last.Rows)-1], one)
		} else {
			last.Rows = append(last.Rows, []sectionView{one})
		}
		beside = s.Beside
		if s.Title != "" && s.ID != "" {
			v.Links = append(v.Links, s)
		}
	}
	if len(v.Sheets) == 0 {
		v.Sheets = []sheetView{{Doc: d}}
	}
	tail := len(v.Sheets) - 1
	if tail > 0 && v.Sheets[tail].N == 0 {
		tail--
	}
	v.Sheets[tail].Tail = true
	return v
}

// blocksOf wraps blocks for the template; neighbouring findings become one
// group, so that they can stand side by side. A table's caption that only
// repeats the section's title is kept for those who can't see the page.
func blocksOf(bs []Block, title string, link Link) []blockView {
	var out []blockView
	for _, b := range bs {
		f, ok := b.(Finding)
		if !ok {
			t, isTable := b.(Table)
			out = append(out, blockView{Block: b, link: link, quiet: isTable && t.Caption == title})
			continue
		}
		if n := len(out); n > 0 && out[n-1].group != nil {
			out[n-1].group = append(out[n-1].group, f)
			continue
		}
		out = append(out, blockView{Block: f, link: link, group: []Finding{f}})
	}
	return out
}

type blockView struct {
	Block Block
	link  Link
	group []Finding
	quiet bool
}

// Kind picks the template of the block.
func (b blockView) Kind() string {
	switch b.Block.(type) {
	case Prose:
		return "prose"
	case Markup:
		return "markup"
	case Finding:
		return "findings"
	case Table:
		return "table"
	case Figure:
		return "figure"
	case Value:
		return "value"
	}
	return ""
}

// Markup is what its maker made safe.
func (b blockView) Markup() template.HTML { return template.HTML(b.Block.(Markup).HTML) }

// Findings are the findings of the group.
func (b blockView) Findings() []findingView {
	group := b.group
	if group == nil {
		group = []Finding{b.Block.(Finding)}
	}
	var out []findingView
	for _, f := range group {
		out = append(out, findingView{f, b.link.to(f.Orders)})
	}
	return out
}

type findingView struct {
	Finding
	Href string
}

// Table is the block as a table for the template.
func (b blockView) Table() tableView { return tableView{b.Block.(Table), b.link, b.quiet} }

// Data is the table behind a figure.
func (b blockView) Data() tableView {
	t := b.Block.(Figure).Data
	if t.ID == "" {
		t.ID = b.Block.(Figure).ID + "-data"
	}
	return tableView{t, b.link, true}
}

// Wide is the drawing, made by code that escapes.
func (b blockView) Wide() template.HTML { return inline(b.Block.(Figure).SVG) }

// Narrow is the drawing for a phone, empty where there is none.
func (b blockView) Narrow() template.HTML { return inline(b.Block.(Figure).Narrow) }

// inline leaves out the name space, which only a file of its own needs: a page
// then holds no address at all.
func inline(svg []byte) template.HTML {
	return template.HTML(bytes.Replace(svg, []byte(` xmlns="http://www.w3.org/2000/svg"`), nil, 1))
}

type tableView struct {
	Table
	link  Link
	Quiet bool // the caption repeats what stands above it
}

const (
	// foldColumns is from how many columns on a row becomes a small list on a phone,
	// and manyColumns from how many on an interval may stand under its number.
	foldColumns = 4
	manyColumns = 7
)

// Fold reports whether the rows become small lists on a narrow screen.
func (t tableView) Fold() bool { return len(t.Columns) >= foldColumns }

// Class is what the style sheet sets the table by.
func (t tableView) Class() string {
	switch {
	case len(t.Columns) >= manyColumns:
		return "fold many"
	case t.Fold():
		return "fold"
	}
	return ""
}

// Body is the rows as the template prints them.
func (t tableView) Body() [][]cellView {
	out := make([][]cellView, len(t.Rows))
	for i, row := range t.Rows {
		out[i] = make([]cellView, len(t.Columns))
		for j, col := range t.Columns {
			v := cellView{Numeric: col.Numeric, Head: j == 0}
			if t.Fold() {
				v.Label = col.Head()
			}
			if j < len(row) {
				v.Text, v.Href, v.AsIs = row[j].Text, t.link.to(row[j].Ref), row[j].AsIs
				_, day := row[j].Value.(cohort.Day)
				v.Whole = day || row[j].Ref.Kind == "order" || row[j].Ref.Kind == "form"
				if col.Numeric {
					v.Text = minus(v.Text)
				}
				if at := strings.Index(v.Text, " ("); col.Numeric && at > 0 && len(t.Columns) >= manyColumns {
					v.Text, v.Interval = v.Text[:at], v.Text[at+1:]
				}
			}
			out[i][j] = v
		}
	}
	return out
}

type cellView struct {
	Text, Href    string
	Interval      string // the rest of the text, that may stand under it
	Label         string // the column's head, for a narrow screen
	Numeric, Head bool
	Whole         bool // a day or an id: not broken over two lines
	AsIs          bool // no language changes it
}

// Class is what the style sheet sets the cell by.
func (c cellView) Class() string {
	switch {
	case c.Numeric:
		return "num"
	case c.Whole && utf8.RuneCountInString(c.Text) <= 24:
		return "whole"
	}
	return ""
}

// minus sets a true minus sign before a number, as figures have it; CSV and JSON keep the
// hyphen of their numbers.
func minus(s string) string {
	if strings.HasPrefix(s, "-") {
		s = "−" + s[1:]
	}
	return strings.NewReplacer("(-", "(−", "interval -", "interval −", " to -", " to −").Replace(s)
}

func (l Link) to(r Ref) string {
	if l == nil || len(r.IDs) == 0 && r.Kind == "" {
		return ""
	}
	return l(r)
}
