// Package bookpages lays out what commands say of the order book as a whole: what it
// holds ([Info]), whether it is sound ([Verification]), what was copied out of it
// or taken from it ([Manifest], [Forgotten]), what a load brought ([Load], [Loaded])
// and how a shop's own spreadsheets are read ([Layout]).
package bookpages

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/upkeep"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Info says what a book holds and where it came from.
func Info(book string, i *orderbook.Info) *page.Document {
	facts := [][]page.Cell{fact("as-of day", orNone(i.AsOf)), fact("newest day in the book", orNone(i.Newest))}
	for _, c := range []struct {
		name string
		n    int
	}{
		{"orders", i.Orders}, {"shipped", i.Shipped}, {"followed up after shipping", i.Followed}, {"of them remade", i.Remade},
		{"forms", i.Forms}, {"forms with measurements", i.Keyed}, {"forms judged by the model", i.Judged}, {"measurements", i.Numbers},
		{"reports of fit", i.Outcomes}, {"call-backs", i.CallBacks}, {"measurers", i.Measurers}, {"repeated measurements", i.Repeats},
		{"superseded rows kept as history", i.Superseded},
	} {
		facts = append(facts, fact(c.name, page.Thousands(c.n)))
	}
	for _, x := range i.LeftOut {
		facts = append(facts, fact("orders not followed: "+x.Reason, page.Thousands(x.Orders)))
	}
	for _, name := range slices.Sorted(maps.Keys(i.Settings)) {
		facts = append(facts, []page.Cell{page.Text("shop setting " + name), page.AsIs(i.Settings[name])})
	}
	facts = append(facts, fact("schema version", fmt.Sprint(i.Schema)), []page.Cell{page.Text("content hash"), page.AsIs(i.Hash)})
	d := review.FactsPage("Order book "+book, "", facts, loadsTable(i.Loads))
	if len(i.Notes) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "notes", Title: "To bear in mind", Blocks: []page.Block{page.Prose(i.Notes)}})
	}
	return d
}

// fact is a line of plain facts.
func fact(what, is string) []page.Cell { return []page.Cell{page.Text(what), page.Text(is)} }

func orNone(d cohort.Day) string {
	if !d.Known() {
		return "none"
	}
	return d.String()
}

// shownLoads is how many loads a page shows; the newest.
const shownLoads = 20

func loadsTable(loads []bookfile.LedgerLine) page.Table {
	t := page.Table{ID: "loads", Caption: "Loads, newest first", Total: len(loads), Columns: []page.Column{
		{Key: "load", Title: "Load", Numeric: true}, {Key: "at", Title: "At (UTC)"}, {Key: "program", Title: "By"},
		{Key: "files", Title: "Files"}, {Key: "taken", Title: "Rows taken", Numeric: true}, {Key: "kept_out", Title: "Kept out", Numeric: true},
	}}
	for _, l := range slices.Backward(loads) {
		if len(t.Rows) == shownLoads {
			break
		}
		var names []string
		var taken, out int64
		for _, f := range l.Files {
			names = append(names, f.File)
			taken, out = taken+f.Taken, out+f.KeptOut
		}
		t.Rows = append(t.Rows, []page.Cell{page.Count(int(l.Load)), page.Text(l.At.UTC().Format("2006-01-02 15:04")), page.AsIs(l.Program),
			page.AsIs(strings.Join(names, ", ")), page.Count(int(taken)), page.Count(int(out))})
	}
	return t
}

// Verification says whether a book is sound.
func Verification(v *upkeep.Verification) *page.Document {
	lead := fmt.Sprintf("Sound: every row of %d tables was read, %s and %s agree.", len(v.Tables), page.Counted(v.Loads, "load", "loads"), page.Counted(v.Sheets, "kept sheet", "kept sheets"))
	if !v.Sound() {
		lead = fmt.Sprintf("Not sound: %s found.", page.Counted(len(v.Problems), "problem was", "problems were"))
	}
	t := page.Table{ID: "tables", Caption: "Rows read", Columns: []page.Column{{Key: "table", Title: "Table"}, {Key: "rows", Title: "Rows", Numeric: true}}}
	for _, c := range v.Tables {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(c.Name), page.Count(int(c.Rows))})
	}
	var tables []page.Table
	if len(t.Rows) > 0 {
		tables = append(tables, t)
	}
	d := review.FactsPage("Order book "+v.Book+", verified", lead, nil, tables...)
	if len(v.Problems) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "problems", Title: "What is wrong", Blocks: []page.Block{page.Prose(v.Problems)}})
	}
	if len(v.Unfinished) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "unfinished", Title: "What was cut short, and the next command finishes", Blocks: []page.Block{page.Prose(v.Unfinished)}})
	}
	if len(v.Changed) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "changed", Title: "Changed since the last load or backup: was it one of you?", Blocks: []page.Block{page.Prose(v.Changed)}})
	}
	return d
}

// Manifest lists the files of a backup or an export; title and done say what was
// done.
func Manifest(m *upkeep.Manifest, title, done string) *page.Document {
	t := page.Table{ID: "files", Caption: "Files", Columns: []page.Column{
		{Key: "path", Title: "File"}, {Key: "rows", Title: "Rows", Numeric: true}, {Key: "bytes", Title: "Bytes", Numeric: true}, {Key: "sha256", Title: "SHA-256"},
	}}
	for _, f := range m.Files {
		rows := page.Cell{}
		if m.Kind == "backup" && strings.HasSuffix(f.Path, ".parquet") {
			rows = page.Count(int(f.Rows))
		}
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(f.Path), rows, page.Count(int(f.Bytes)), page.AsIs(f.SHA256[:min(12, len(f.SHA256))])})
	}
	lead := fmt.Sprintf("%s of %s, %s.", page.Counted(len(m.Files), "file", "files"), page.Counted(m.Loads, "load", "loads"), done)
	return review.FactsPage(title, lead, nil, t)
}

// Forgotten says what went with a person.
func Forgotten(g *upkeep.Forgotten) *page.Document {
	var facts [][]page.Cell
	for _, f := range []struct {
		name string
		n    int
	}{
		{"orders", g.Orders}, {"forms", g.Forms}, {"rows removed, history included", int(g.Rows)},
		{"rows left out of kept sheets", int(g.SheetRows)}, {"kept sheets removed whole (a layout of your own)", g.SheetsRemoved}, {"stored runs removed", g.Runs}, {"files of practice and measuring sessions changed", g.Training},
	} {
		facts = append(facts, fact(f.name, page.Thousands(f.n)))
	}
	d := review.FactsPage("Forgotten", "The person is gone from the book. Remove the rows in your own sheets too: loading them again would bring the person back. So would letters, backups and exports that were moved from where they were written.", facts)
	if len(g.Left) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "left", Title: "What still holds the person, for you to see to", Blocks: []page.Block{page.Prose(g.Left)}})
	}
	return d
}
