package bookpages

import (
	"fmt"
	"strings"

	"lastroom/ingest/load"
	"lastroom/ingest/sheets"
	"lastroom/reports/page"
)

// Load says what a load did; rejects is the file with the rows kept out,
// "" where none was asked for.
func Load(r *load.Report, rejects string) *page.Document {
	hints := Hints{Dry: "This was a dry run: nothing was changed. Load without --dry-run to take it.",
		KeptOut: "Mend the rows kept out in your sheets and load again: only what is new or changed is taken. With --rejects FILE they are written to a file."}
	if rejects != "" {
		hints.KeptOut = "The rows kept out are in " + rejects + ". Mend them there or in your sheets and load again: only what is new or changed is taken."
	}
	return Loaded(r, hints)
}

// Hints say what to do next, at the command line or on a page.
type Hints struct{ Dry, KeptOut string }

// Loaded is Load with the hints of another place.
func Loaded(r *load.Report, hints Hints) *page.Document {
	t := page.Table{ID: "sheets", Caption: "Rows", Columns: []page.Column{
		{Key: "sheet", Title: "Sheet"}, {Key: "file", Title: "File"}, {Key: "read", Title: "Read", Numeric: true}, {Key: "taken", Title: "Taken", Numeric: true},
		{Key: "unchanged", Title: "Already in", Numeric: true}, {Key: "superseded", Title: "Superseded", Numeric: true}, {Key: "kept_out", Title: "Kept out", Numeric: true},
	}}
	taken, out := 0, 0
	var unknown []string
	for _, s := range r.Sheets {
		taken, out = taken+int(s.Taken), out+int(s.KeptOut)
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(s.Sheet), page.AsIs(s.File), page.Count(int(s.Read)), page.Count(int(s.Taken)), page.Count(int(s.Unchanged)), page.Count(int(s.Superseded)), page.Count(int(s.KeptOut))})
		if len(s.Unknown) > 0 {
			unknown = append(unknown, fmt.Sprintf("%s: columns not known here, left out: %s.", s.File, strings.Join(s.Unknown, ", ")))
		}
	}
	if r.DryRun {
		t.Notes = append(t.Notes, hints.Dry)
	} else if r.AllIn() {
		t.Notes = append(t.Notes, "All of these sheets are already in; the book is as it was.")
	}
	if len(r.KeptOut) > 0 {
		t.Notes = append(t.Notes, hints.KeptOut)
	}
	t.Notes = append(t.Notes, unknown...)
	if len(r.Ignored) > 0 {
		t.Notes = append(t.Notes, "Files that are no order sheets, left alone: "+strings.Join(r.Ignored, ", ")+".")
	}
	t.Notes = append(t.Notes, r.Notes...)
	d := &page.Document{Title: "Load", Lead: fmt.Sprintf("%s rows taken, %s kept out.", page.Thousands(taken), page.Thousands(out))}
	if r.Gist != nil {
		d.Sections = gistSections(r.Gist)
	}
	d.Sections = append(d.Sections, page.Section{ID: "sheets", Blocks: []page.Block{t}})
	if len(r.KeptOut) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "kept-out", Title: "Rows kept out", Blocks: []page.Block{keptOut(r.KeptOut)}})
	}
	return d
}

// mostKeptOut is how many rows kept out are named on the page; the rejects
// file has all.
const mostKeptOut = 50

func keptOut(rows []sheets.Reject) page.Table {
	t := page.Table{ID: "kept-out-table", Caption: "Rows kept out, and why", Total: len(rows), Columns: []page.Column{
		{Key: "file", Title: "File"}, {Key: "line", Title: "Line", Numeric: true}, {Key: "column", Title: "Column"}, {Key: "text", Title: "As written"}, {Key: "reason", Title: "Why"},
	}}
	for _, r := range rows[:min(len(rows), mostKeptOut)] {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(r.File), page.Count(int(r.Line)), page.AsIs(r.Column), page.AsIs(r.Text), page.Text(r.Reason)})
	}
	return t
}

// gistSections say what a load amounts to, for the person who checks it.
func gistSections(g *load.Gist) []page.Section {
	lines := page.Prose{fmt.Sprintf("%s, %s with forms, %s with numbers (%s, %s of them tucked), %s with reports of fit.",
		page.Counted(int(g.Orders), "order", "orders"), page.Thousands(int(g.WithForms)), page.Thousands(int(g.WithNumbers)), page.Counted(int(g.Numbers), "number", "numbers"), page.Thousands(int(g.Tucked)), page.Thousands(int(g.WithReports)))}
	if g.FirstDay != "" {
		lines = append(lines, fmt.Sprintf("Received from %s to %s; %s shipped.", g.FirstDay, g.LastDay, page.Thousands(int(g.Shipped))))
	}
	if g.Orders > 0 {
		made := fmt.Sprintf("%s made again, %.1f of 100 orders", page.Thousands(int(g.Remade)), 100*float64(g.Remade)/float64(g.Orders))
		if g.RemadeNoDay > 0 {
			made += fmt.Sprintf("; %s of them without a day", page.Thousands(int(g.RemadeNoDay)))
		}
		lines = append(lines, made+".")
	}
	out := []page.Section{{ID: "gist", Title: "What was read", Blocks: []page.Block{lines}}}
	if len(g.Reasons) > 0 {
		t := page.Table{ID: "reasons", Caption: "Most frequent reasons for rows kept out, with one example each", Columns: []page.Column{
			{Key: "rows", Title: "Rows", Numeric: true}, {Key: "reason", Title: "Reason"}, {Key: "example", Title: "Such as"}, {Key: "at", Title: "At"}}}
		for _, r := range g.Reasons {
			at := r.Example.File
			if r.Example.Tab != "" {
				at += ", tab " + r.Example.Tab
			}
			if r.Example.Cell != "" {
				at += ", cell " + r.Example.Cell
			} else {
				at += fmt.Sprintf(", line %d", r.Example.Line)
			}
			t.Rows = append(t.Rows, []page.Cell{page.Count(r.Rows), page.Text(r.Reason), page.AsIs(r.Example.Text), page.Text(at)})
		}
		out = append(out, page.Section{ID: "reasons", Blocks: []page.Block{t}})
	}
	if len(g.Extremes) > 0 {
		t := page.Table{ID: "extremes", Caption: "Readings farthest from the middle of their place: are they right?", Columns: []page.Column{
			{Key: "form_id", Title: "Form"}, {Key: "place", Title: "Place"}, {Key: "written", Title: "As written"}, {Key: "mm", Title: "Read as", Unit: "mm", Numeric: true}, {Key: "middle_mm", Title: "Middle", Unit: "mm", Numeric: true}}}
		for _, e := range g.Extremes {
			t.Rows = append(t.Rows, []page.Cell{page.AsIs(e.Form), page.Text(e.Place), page.AsIs(e.Written),
				{Text: fmt.Sprintf("%.0f", e.MM), Value: e.MM}, {Text: fmt.Sprintf("%.0f", e.MiddleMM), Value: e.MiddleMM}})
		}
		out = append(out, page.Section{ID: "extremes", Blocks: []page.Block{t}})
	}
	return out
}
