package review

import (
	"fmt"

	"lastroom/reports/page"
)

// A Loaded says what a load did, for its page.
type Loaded struct {
	Sheets []LoadedSheet
	Out    []KeptOut
	Notes  []string // ignored files, unknown columns, "already in", …
}

// A LoadedSheet counts the rows of one sheet.
type LoadedSheet struct {
	Sheet, File                                 string
	Read, Taken, Unchanged, Superseded, KeptOut int
}

// KeptOut is a row that was not taken, and why.
type KeptOut struct {
	File   string
	Line   int
	Column string
	Text   string
	Reason string
}

// mostKeptOut is how many rows kept out are named on the page; the rejects
// file has all.
const mostKeptOut = 50

// LoadPage is the load report. Its first table counts the rows.
func LoadPage(l Loaded) *page.Document {
	t := page.Table{ID: "sheets", Caption: "Rows", Columns: []page.Column{
		{Key: "sheet", Title: "Sheet"}, {Key: "file", Title: "File"}, {Key: "read", Title: "Read", Numeric: true}, {Key: "taken", Title: "Taken", Numeric: true},
		{Key: "unchanged", Title: "Already in", Numeric: true}, {Key: "superseded", Title: "Superseded", Numeric: true}, {Key: "kept_out", Title: "Kept out", Numeric: true},
	}}
	taken, out := 0, 0
	for _, s := range l.Sheets {
		taken, out = taken+s.Taken, out+s.KeptOut
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(s.Sheet), page.AsIs(s.File), page.Count(s.Read), page.Count(s.Taken), page.Count(s.Unchanged), page.Count(s.Superseded), page.Count(s.KeptOut)})
	}
	t.Notes = l.Notes
	d := &page.Document{Title: "Load", Lead: fmt.Sprintf("%s rows taken, %s kept out.", page.Thousands(taken), page.Thousands(out))}
	d.Sections = append(d.Sections, page.Section{ID: "sheets", Blocks: []page.Block{t}})
	if len(l.Out) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "kept-out", Title: "Rows kept out", Blocks: []page.Block{keptOut(l.Out)}})
	}
	return d
}

func keptOut(rows []KeptOut) page.Table {
	t := page.Table{ID: "kept-out-table", Caption: "Rows kept out, and why", Total: len(rows), Columns: []page.Column{
		{Key: "file", Title: "File"}, {Key: "line", Title: "Line", Numeric: true}, {Key: "column", Title: "Column"}, {Key: "text", Title: "As written"}, {Key: "reason", Title: "Why"},
	}}
	for _, r := range rows[:min(len(rows), mostKeptOut)] {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(r.File), page.Count(r.Line), page.AsIs(r.Column), page.AsIs(r.Text), page.Text(r.Reason)})
	}
	return t
}
