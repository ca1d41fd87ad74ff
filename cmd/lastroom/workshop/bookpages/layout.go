package bookpages

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/ingest/layout/propose"
	"lastroom/reports/page"
)

// Layout shows a proposal: the columns with their readings, what is not
// used, the questions.
func Layout(p *propose.Proposal, out string) *page.Document {
	t := page.Table{ID: "columns", Caption: "Columns, and what their cells are read as", Columns: []page.Column{
		{Key: "where", Title: "Where"}, {Key: "column", Title: "Column"}, {Key: "read_as", Title: "Read as"}, {Key: "readings", Title: "As written → as read"},
	}}
	for i, v := range p.Views {
		var shown []string
		for _, r := range v.Readings {
			read := r.Read
			switch {
			case r.Refused != "":
				read = "can't be read"
			case read == "":
				read = "nothing"
			}
			shown = append(shown, strings.Join(strings.Fields(r.Written), " ")+" → "+read)
		}
		as := v.Sheet + " " + v.Column
		if v.Refused > 0 {
			as += fmt.Sprintf(" (%d of %d can't be read)", v.Refused, v.Cells)
		}
		if i > 0 && p.Views[i-1].Where == v.Where && p.Views[i-1].Letter == v.Letter && slices.Equal(p.Views[i-1].Readings, v.Readings) {
			last := t.Rows[len(t.Rows)-1]
			last[2] = page.Text(last[2].Text + ", " + as)
			continue
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(v.Where), page.Text(v.Letter + " " + v.Header), page.Text(as), page.Text(strings.Join(shown, "; "))})
	}
	d := &page.Document{Title: "Layout", Lead: fmt.Sprintf("%s understood, %s not used. %s for you, at the end.",
		page.Counted(len(p.Views), "column is", "columns are"), page.Counted(len(p.Unused), "is", "are"), page.Counted(len(p.Questions), "question is", "questions are"))}
	if len(p.Views) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "columns", Blocks: []page.Block{t}})
	}
	list := func(id, title string, lines []string) {
		if len(lines) > 0 {
			d.Sections = append(d.Sections, page.Section{ID: id, Title: title, Blocks: []page.Block{page.Prose(lines)}})
		}
	}
	list("evidence", "Seen", p.Evidence)
	list("unused", "Not used", p.Unused)
	list("notes", "Notes", append(p.Notes, p.Tidy...))
	if p.Text == "" {
		d.Lead = "There is nothing to propose: all of these are order sheets already."
		return d
	}
	next := []string{"With --out map.yaml this is written as a mapping, which lastroom load --map map.yaml reads your files by."}
	if out != "" {
		next = []string{fmt.Sprintf("The mapping is in %s, the questions in it as comments. Mend it there, then: lastroom load --map %s --dry-run and your files.", out, out)}
	}
	// A person at a terminal sees the end of long pages.
	list("questions", "Questions", numbered(p.Questions))
	list("next", "Next", next)
	return d
}

func numbered(lines []string) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		out[i] = fmt.Sprintf("%d. %s", i+1, l)
	}
	return out
}
