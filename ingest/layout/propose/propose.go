package propose

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/sheets"
)

// A Proposal is a mapping for files that nobody described, with the questions
// that only a person can answer. Its text always loads; what is not clear is
// left out of it, as a comment with the question.
type Proposal struct {
	Text      string        `json:"mapping"`
	Views     []layout.View `json:"columns"`
	Unused    []string      `json:"not_used"`
	Evidence  []string      `json:"evidence"` // what else was seen, and by what
	Questions []string      `json:"questions"`
	Notes     []string      `json:"notes"`
	Tidy      []string      `json:"order_sheets"` // tables that need no mapping
	Parts     []layout.Part `json:"-"`
	// Sketch is the same with lists to answer the questions from, for a page.
	Sketch *sketch.Sketch `json:"-"`
}

// A proposer writes a mapping.
type proposer struct {
	out       strings.Builder
	questions []string
	evidence  []string
	drop      map[string]bool // "table|sheet.column" that could not be read after all
	looks     []*look
	groups    [][]*look
	names     map[*look]string // tables that others look orders up in
	orders    *look
	prefix    string
	lastUnit  form.Unit                    // of the table before
	legends   map[string]map[string]string // by header and code, what a code means
	answers   sketch.Answers               // what a person chose from lists
	paged     bool                         // the mapping is for a page, to be kept for files to come
	unread    error                        // why the first file that can't be read can't
	all       [][]*look                    // all groups, those that are no table of ours too
}

// Propose looks at files and proposes a mapping for what they hold. dir is a
// folder for working copies.
func Propose(ctx context.Context, files []layout.File, dir string) (*Proposal, error) {
	p := &proposer{}
	out, err := p.propose(ctx, files, dir)
	if err == nil && out.Text == "" && p.unread != nil {
		err = p.unread
	} else if err == nil && out.Text == "" && len(out.Tidy) == 0 {
		err = &grid.FileError{File: "layout", Reason: "no table of orders, numbers or reports was seen in these files; a table needs a row of column names above it"}
	}
	return out, err
}

// ForPage is Propose with what a person chose from the lists of its Sketch. Where
// no table can be used the mapping is empty. Its patterns of files and tabs take
// files of the same layout that are to come.
func ForPage(ctx context.Context, files []layout.File, answers sketch.Answers, dir string) (*Proposal, error) {
	p := &proposer{answers: answers, paged: true}
	return p.propose(ctx, files, dir)
}

func (p *proposer) propose(ctx context.Context, files []layout.File, dir string) (*Proposal, error) {
	p.drop, p.names, p.legends = map[string]bool{}, map[*look]string{}, map[string]map[string]string{}
	out := &Proposal{}
	if err := p.lookAll(ctx, files, out); err != nil {
		return nil, err
	}
	out.Notes = append(out.Notes, p.group()...)
	if len(p.groups) == 0 {
		p.pageLists()
		out.Sketch = p.sketchOf(nil, "", out.Notes)
		return out, nil
	}
	// What turns out to be unreadable is left out, and the rest looked at again; on
	// a page it stands to be seen.
	for range 4 {
		p.write()
		m, err := layout.Parse("proposal", []byte(p.out.String()))
		if err != nil {
			return nil, err
		}
		scratch, err := os.MkdirTemp(dir, "proposal-")
		if err != nil {
			return nil, err
		}
		found, views, err := m.Preview(ctx, files, scratch)
		if err != nil {
			return nil, err
		}
		out.Text, out.Views, out.Evidence, out.Questions, out.Parts = p.out.String(), views, p.evidence, p.questions, found.Parts
		out.Sketch = p.sketchOf(views, out.Text, out.Notes)
		out.Unused = nil
		for _, part := range found.Parts {
			for _, name := range part.Unused {
				at := part.Table.Name
				if part.Table.Tab != "" {
					at += ", tab " + part.Table.Tab
				}
				out.Unused = append(out.Unused, at+": "+name)
			}
		}
		if p.paged || !p.dropUnread(views) {
			break
		}
	}
	return out, nil
}

// lookAll looks at all tables of the files. A hidden tab is looked at where a
// person says so.
func (p *proposer) lookAll(ctx context.Context, files []layout.File, out *Proposal) error {
	for _, f := range files {
		grids, err := f.Table.Grids()
		if err != nil {
			out.Notes, p.unread = append(out.Notes, err.Error()), cmp.Or(p.unread, err)
			continue
		}
		tabs := 0
		for _, g := range grids {
			if !g.Hidden {
				tabs++
			}
		}
		for _, g := range grids {
			l := &look{file: f, grid: g, answers: p.answers, exact: g.Where(), id: kindOf(g)}
			if g.Hidden && p.answers[l.exact+"|hidden"] != "yes" {
				out.Notes = append(out.Notes, fmt.Sprintf("the tab %s of %s is hidden and was not looked at", g.Tab, g.File))
				p.all = append(p.all, []*look{l})
				continue
			}
			if err := p.readLegend(ctx, g); err != nil {
				return err
			}
			if err := l.read(ctx); err != nil {
				return err
			}
			if sheet := orderSheet(l); sheet != nil {
				out.Tidy = append(out.Tidy, fmt.Sprintf("%s is laid out like the order sheet %s; lastroom load reads it as it is, without a mapping", g.Where(), sheet.Name))
				continue
			}
			if len(l.columns) > 0 && len(l.rows) > 0 {
				p.looks = append(p.looks, l)
			} else {
				out.Notes = append(out.Notes, unseen(g))
				p.all = append(p.all, []*look{l})
			}
		}
	}
	return nil
}

// mostRefused is what share of a column's cells may be refused.
const mostRefused = 0.05

// dropUnread notes the columns that can't be read, and reports whether there
// are any that were not left out before.
func (p *proposer) dropUnread(views []layout.View) (more bool) {
	for _, v := range views {
		key := v.Sheet + "." + v.Column + "|" + sheets.Fold(v.Header)
		if v.Sheet == "measurements" || float64(v.Refused) <= mostRefused*float64(v.Cells) || p.drop[key] {
			continue
		}
		p.drop[key], more = true, true
	}
	return more
}

// write writes the mapping.
func (p *proposer) write() {
	p.out.Reset()
	p.questions, p.evidence, p.prefix, p.lastUnit = nil, nil, "", form.NoUnit
	p.line("# Proposed by looking at the files. Lines that begin with '# ?' are questions: answer them by mending the")
	p.line("# lines beside them, then load with --map and this file. Text behind a # is not read.")
	p.line("tables:")
	p.pageLists()
	for _, g := range p.groups {
		p.table(g)
	}
}

func (p *proposer) table(g []*look) {
	l := g[0]
	p.prefix = "  "
	if names := p.fileNames(g); len(names) > 0 {
		fmt.Fprintf(&p.out, "- file: %s\n", list(names))
	} else {
		fmt.Fprintf(&p.out, "- name: %s\n", text(p.nameOf(l)))
	}
	if l.grid.Tab != "" {
		var tabs []string
		for _, o := range g {
			if !slices.Contains(tabs, o.grid.Tab) {
				tabs = append(tabs, o.grid.Tab)
			}
		}
		sort.Strings(tabs)
		if p.paged && !slices.ContainsFunc(tabs, func(t string) bool { return !yearTab.MatchString(t) }) {
			tabs = []string{"20??"} // years to come too
		}
		p.line("tab: %s", list(tabs))
		if l.grid.Hidden {
			p.line("hidden_tabs: read")
		}
	}
	if name := p.names[l]; name != "" && len(p.fileNames(g)) > 0 {
		p.line("name: %s", name)
	}
	p.seen(l, "header: "+text(l.key.name), "row %d is the first that names columns", l.head.Row)
	if l.levels > 1 {
		p.seen(l, fmt.Sprintf("levels: %d", l.levels), "the row above says the foot")
	}
	p.line("order: %s", text(l.key.ref()))
	hidden, first := 0, ""
	for _, o := range g {
		if hidden == 0 && len(o.hidden) > 0 {
			first = fmt.Sprintf("row %d of tab %s", o.hidden[0], o.grid.Tab)
		}
		hidden += len(o.hidden)
	}
	which := form.CountOf(hidden, "row is hidden, ", "rows are hidden, the first ") + first
	switch what := "skip"; {
	case hidden == 0:
	case p.ofTable(l, "hidden rows", which, what, true, option("read", "they count"), option(what, "they are left out")) == "read":
		p.line("hidden_rows: read")
	case l.told("hidden rows") == "":
		p.line("# hidden_rows: read")
		p.ask("%s: %s. Do they count? Then take the # off hidden_rows: read.", l.grid.File, which)
	}
	p.keyRows(g)
	if unit := p.unit(g); unit != form.NoUnit {
		p.lastUnit = unit
	}
	p.days(g)
	p.decimal(g)
	if l.hasOrders() {
		p.ordersSheet(l)
	}
	if len(l.with(roleSpot)) > 0 || l.one(roleReading) != nil {
		p.measurements(l)
	}
	if l.hasReports() {
		p.outcomes(l)
	}
	if !p.paged {
		p.unused(l)
	}
}

// Gather keeps copies of files, and of those in folders, in the folder dir, for
// looking at them. Files that can't be read are named in notes.
func Gather(ctx context.Context, paths []string, dir string) (files []layout.File, notes []string, err error) {
	found, ignored, err := sheets.Find(paths, sheets.Readable)
	if err != nil {
		return nil, nil, err
	}
	if len(ignored) > 0 {
		notes = append(notes, "Not looked at: "+strings.Join(some(ignored, 12), ", ")+".")
	}
	for i, s := range found {
		t, err := sheets.Intake(ctx, s.Path, filepath.Join(dir, fmt.Sprintf("in-%d%s", i, strings.ToLower(filepath.Ext(s.Path)))))
		if err != nil {
			if ctx.Err() != nil || s.Given && len(found) == 1 {
				return nil, nil, err
			}
			notes = append(notes, err.Error())
			continue
		}
		t.Name = s.Label
		files = append(files, layout.File{Table: t, Path: s.Path})
	}
	return files, notes, nil
}

// unused asks about columns that are not understood.
func (p *proposer) unused(l *look) {
	for _, c := range l.columns {
		if c.role == "" && c.some > 0 && c != l.key {
			p.ask("%s is not used. It holds: %s.", c.ref(), strings.ReplaceAll(strings.Join(some(c.few(), 3), "; "), "\n", " "))
		}
	}
}
