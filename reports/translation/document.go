package translation

import (
	"bytes"
	"io"

	"lastroom/reports/page"
)

// Document says a finished report; nil, for English, gives it back. Its values, keys and
// ids stay as they are, so JSON and CSV are made from the report as it was.
func (l *Language) Document(d *page.Document) *page.Document {
	if l == nil {
		return d
	}
	said := *d
	said.Title, said.Lead, said.Cautions = l.Text(d.Title), l.Text(d.Lead), l.texts(d.Cautions)
	said.Sections = make([]page.Section, len(d.Sections))
	for i, s := range d.Sections {
		s.Title = l.Text(s.Title)
		blocks := make([]page.Block, len(s.Blocks))
		for k, b := range s.Blocks {
			blocks[k] = l.block(b)
		}
		s.Blocks = blocks
		said.Sections[i] = s
	}
	return &said
}

func (l *Language) block(b page.Block) page.Block {
	switch b := b.(type) {
	case page.Prose:
		return page.Prose(l.texts(b))
	case page.Markup:
		b.HTML, _ = l.Page(b.HTML)
		b.Text = l.texts(b.Text)
		return b
	case page.Finding:
		b.Headline, b.Detail, b.Certainty, b.Action, b.Warnings = l.Text(b.Headline), l.texts(b.Detail), l.Text(b.Certainty), l.Text(b.Action), l.texts(b.Warnings)
		return b
	case page.Table:
		return l.table(b)
	case page.Figure:
		b.Title, b.Desc, b.Data = l.Text(b.Title), l.Text(b.Desc), l.table(b.Data)
		b.SVG, _ = l.Page(b.SVG)
		b.Narrow, _ = l.Page(b.Narrow)
		return b
	case page.Value:
		b.Text = l.Text(b.Text)
		return b
	}
	return b
}

func (l *Language) table(t page.Table) page.Table {
	t.Caption, t.Notes = l.Text(t.Caption), l.texts(t.Notes)
	columns := make([]page.Column, len(t.Columns))
	for i, c := range t.Columns {
		c.Title, c.Unit = l.Text(c.Title), l.Text(c.Unit)
		columns[i] = c
	}
	t.Columns = columns
	rows := make([][]page.Cell, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = make([]page.Cell, len(row))
		for k, c := range row {
			if !c.AsIs {
				c.Text = l.Text(c.Text)
			}
			rows[i][k] = c
		}
	}
	t.Rows = rows
	return t
}

func (l *Language) texts(of []string) []string {
	out := make([]string, len(of))
	for i, s := range of {
		out[i] = l.Text(s)
	}
	return out
}

// HTML writes a finished report as one file; nil, for English, as it is.
func (l *Language) HTML(w io.Writer, d *page.Document) error {
	footed := *d
	footed.Foot = page.FootOf(d, l.Text) // stands in the style, which Page leaves as it is
	return l.Through(func(w io.Writer) error { return page.HTML(w, &footed) })(w)
}

// Through gives a writer of a page that says it; nil, for English, gives it back.
func (l *Language) Through(write func(io.Writer) error) func(io.Writer) error {
	if l == nil {
		return write
	}
	return func(w io.Writer) error {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return err
		}
		said, _ := l.Page(b.Bytes())
		_, err := w.Write(said)
		return err
	}
}
