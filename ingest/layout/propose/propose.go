package propose

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
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

// orderSheet is the order sheet whose columns the first row of a table names and no
// others, nil where there is none.
func orderSheet(l *look) *sheets.Sheet {
	if len(l.top) == 0 || len(l.top[0].Cells) < 2 {
		return nil
	}
	for _, s := range sheets.Catalogue {
		if m, err := sheets.Match(s, l.top[0].Cells); err == nil && len(m.Unknown) == 0 {
			return s
		}
	}
	return nil
}

var figures = regexp.MustCompile(`[0-9]+`)

// kindOf names the kind of table that a grid is for files to come: its tab, or
// its file's name, whatever the figures in it.
func kindOf(g *grid.Grid) string {
	name := g.Tab
	if name == "" {
		name = path.Base(g.File)
	}
	return figures.ReplaceAllString(name, "#")
}

// readLegend reads a small table that explains codes: the name of a column, the
// code, what it means.
func (p *proposer) readLegend(ctx context.Context, g *grid.Grid) error {
	header, rows := "", 0
	found := map[string]map[string]string{}
	err := g.Rows(ctx, func(r grid.Row) bool {
		rows++
		var cells [3]string
		for i, c := range r.Cells {
			if i >= len(cells) && c.Text != "" {
				rows = tooLong
			} else if i < len(cells) {
				cells[i] = wording.Plain(c.Text)
			}
		}
		if cells[0] != "" {
			header = sheets.Fold(cells[0])
		}
		if header != "" && cells[1] != "" && cells[2] != "" {
			if found[header] == nil {
				found[header] = map[string]string{}
			}
			found[header][cells[1]] = cells[2]
		}
		return rows < tooLong
	})
	if err == nil && rows < tooLong {
		maps.Copy(p.legends, found)
	}
	return err
}

// tooLong is from how many rows on a table is no legend.
const tooLong = 60

// means is what a code of a column means by a legend; else the text itself.
func (p *proposer) means(c *column, text string) string {
	if meaning, ok := p.legends[sheets.Fold(c.name)][text]; ok {
		return meaning
	}
	return text
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

// understand settles what the columns are by what is in them, and whether the
// table is one of ours.
func (l *look) understand() bool {
	spots := l.with(roleSpot)
	reading := l.one(roleReading)
	place := l.one(rolePlace)
	height := l.one(roleHeight)
	if height == nil {
		for _, c := range l.with("orders.shaft_height") {
			// A column of heights under a pair of columns for the feet.
			if !c.told && len(spots) > 0 && !slices.ContainsFunc(spots, func(s *column) bool { return s.spot.Point != "" }) {
				c.role, c.why, height = roleHeight, "heights beside columns for the feet", c
			}
		}
	}
	if reading != nil && (place != nil || height != nil || len(l.with("orders.shaft_height")) > 0) && height == nil && place == nil {
		c := l.one("orders.shaft_height")
		c.role, c.why, height = roleHeight, "heights beside readings", c
	}
	for _, c := range l.columns {
		switch {
		case c.told:
		case c.role == rolePlace && reading == nil, c.role == roleReading && place == nil && height == nil, c.role == roleHeight && reading == nil && len(spots) == 0:
			c.role = ""
		case c.role == "orders.shipped_on" || c.role == "orders.cut_on" || c.role == "orders.received_on" || c.role == "outcomes.reported_on":
			if c.some > 0 && c.share(c.days) < 0.5 {
				c.role = ""
			}
		case c.role == "orders.customer_id" && c.share(c.days) > 0.5:
			c.role = ""
		case c.role == roleSpot && c.some > 0 && c.share(c.length) < 0.5:
			c.role = ""
		case c.role == roleRemade && c.some > 0 && c.wordy() && c.share(c.days) < 0.5:
			c.role = roleFit
		}
	}
	// A day of a remake says that there was one, where nothing else does.
	if c := l.one("outcomes.reported_on"); c != nil && !c.told && l.one(roleRemade) == nil && l.one(roleFit) == nil && againDay.MatchString(bareHeader(c.name)) {
		c.role, c.why = roleRemade, "a day there is a remake"
	}
	// "By" beside the measurer's columns, a date column without its own name.
	l.key = l.one("orders.order_id")
	if l.key == nil {
		return false
	}
	for _, c := range l.with("orders.order_id") {
		if c != l.key {
			c.role = ""
		}
	}
	if l.isReports() {
		for _, c := range l.with("orders.received_on") {
			c.role, c.why = "outcomes.reported_on", "the day of a report, in a tab of remakes"
		}
	}
	return len(l.with(roleSpot)) > 0 || reading != nil || l.hasOrders() || l.hasReports()
}

// wordy reports whether most cells hold more than a mark.
func (c *column) wordy() bool {
	long := 0
	for t, n := range c.texts {
		if len(t) > 8 {
			long += n
		}
	}
	return 2*long > c.some
}

// isReports reports whether every row of the table is a remake: by the name of
// its tab or file.
func (l *look) isReports() bool {
	if told := l.told("rows"); told != "" {
		return told == "remakes"
	}
	name := l.grid.Tab
	if name == "" {
		name = l.grid.File
	}
	return againTab.MatchString(wording.Plain(name)) && len(l.with(roleSpot)) == 0
}

func (l *look) hasOrders() bool {
	return !l.isReports() && (l.one("orders.received_on") != nil || l.one("orders.shipped_on") != nil)
}

func (l *look) hasReports() bool {
	if l.key == nil {
		return false
	}
	return l.isReports() && l.one("outcomes.reported_on") != nil || l.one(roleRemade) != nil || l.one(roleFit) != nil || l.suffix() != "" && l.one(roleReason) != nil
}

func unseen(g *grid.Grid) string {
	return g.Where() + ": no table of orders, numbers or reports was seen in it"
}

// group joins tables of one layout: the same columns in other files or tabs.
// Those that are no table of ours are named, and what they explain is kept.
func (p *proposer) group() (notes []string) {
	for _, l := range p.looks {
		at := slices.IndexFunc(p.groups, func(g []*look) bool { return alike(g[0], l) })
		if at < 0 {
			p.groups = append(p.groups, []*look{l})
			continue
		}
		p.groups[at] = append(p.groups[at], l)
		if len(l.columns) > len(p.groups[at][0].columns) { // the fullest speaks for all
			g := p.groups[at]
			g[0], g[len(g)-1] = g[len(g)-1], g[0]
		}
	}
	p.all = append(p.all, p.groups...)
	p.nameGroups()
	var ours [][]*look
	for _, g := range p.groups {
		for _, other := range g[1:] {
			for _, d := range other.columns {
				if i := slices.IndexFunc(g[0].columns, func(c *column) bool { return sheets.Fold(c.path) == sheets.Fold(d.path) && c.again == d.again }); i >= 0 {
					g[0].columns[i].merge(d)
				}
			}
		}
		g[0].tell()
		if ok := g[0].understand(); ok && g[0].told("use") != notUsed {
			ours = append(ours, g)
			continue
		}
		for _, l := range g {
			notes = append(notes, unseen(l.grid))
		}
	}
	p.groups = ours
	for _, g := range p.groups {
		if g[0].hasOrders() && p.orders == nil {
			p.orders = g[0]
		}
	}
	for _, g := range p.groups {
		l := g[0]
		if p.orders != nil && l != p.orders && !l.hasOrders() && (len(l.with(roleSpot)) > 0 || l.one(roleReading) != nil) && l.tucked() {
			p.names[l] = "tucked set"
		}
	}
	return notes
}

// nameGroups gives the groups names that no two share, in the order of the files,
// and puts all tables in that order.
func (p *proposer) nameGroups() {
	slices.SortStableFunc(p.all, func(a, b []*look) int { return strings.Compare(a[0].exact, b[0].exact) })
	seen := map[string]int{}
	for _, g := range p.all {
		id := g[0].id
		for _, l := range g {
			id = min(id, l.id)
		}
		if seen[id]++; seen[id] > 1 {
			id = fmt.Sprintf("%s (%d)", id, seen[id])
		}
		for _, l := range g {
			l.id = id
		}
	}
}

// tucked reports whether the table's name says that its numbers were taken
// over the trousers.
func (l *look) tucked() bool {
	if told := l.told("clothing"); told != "" {
		return told == form.Tucked.String()
	}
	name := l.grid.Tab
	if name == "" {
		name = strings.TrimSuffix(filepath.Base(l.file.Path), filepath.Ext(l.file.Path))
	}
	s, _ := wording.ReadPlace(strings.NewReplacer("(", " ", ")", " ", "_", " ").Replace(name))
	return s.Clothing == "tucked"
}

func alike(a, b *look) bool {
	same := 0
	for _, c := range b.columns {
		if slices.ContainsFunc(a.columns, func(d *column) bool { return sheets.Fold(c.path) == sheets.Fold(d.path) }) {
			same++
		}
	}
	sameKind := (a.grid.Tab == "") == (b.grid.Tab == "")
	return sameKind && a.levels == b.levels && float64(same) >= 0.8*float64(max(len(a.columns), len(b.columns)))
}

// ask adds a question; it stands in the mapping as a comment too.
func (p *proposer) ask(format string, args ...any) {
	q := fmt.Sprintf(format, args...)
	if !slices.Contains(p.questions, q) {
		p.questions = append(p.questions, q)
	}
	for line := range strings.Lines(q) {
		fmt.Fprintf(&p.out, "%s# ? %s\n", p.prefix, strings.TrimRight(line, "\n"))
	}
}

// seen writes a line that rests on evidence, which stands behind it and in the
// report.
func (p *proposer) seen(l *look, setting, format string, args ...any) {
	why := fmt.Sprintf(format, args...)
	p.line("%s   # %s", setting, why)
	p.evidence = append(p.evidence, fmt.Sprintf("%s: %s, since %s.", l.grid.Where(), setting, why))
}

func (p *proposer) line(format string, args ...any) {
	fmt.Fprintf(&p.out, p.prefix+format+"\n", args...)
}

// text writes a text as YAML takes it for a text.
func text(s string) string {
	if s != "" && strings.Trim(strings.ToLower(s), "abcdefghijklmnopqrstuvwxyz0123456789. äöüß_éèñí") == "" && s == strings.TrimSpace(s) && strings.Trim(s, "0123456789.") != "" {
		switch strings.ToLower(s) {
		case "y", "n", "yes", "no", "true", "false", "on", "off", "null":
		default:
			return s
		}
	}
	return strconv.Quote(s)
}

func (c *column) ref() string {
	if c.again > 0 && c.path == c.name {
		return fmt.Sprintf("%s [%d]", c.name, c.again)
	}
	if c.again > 0 {
		return c.path
	}
	return c.name
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
	hidden := 0
	for _, o := range g {
		hidden += o.hidden
	}
	switch what := "skip"; {
	case hidden == 0:
	case p.ofTable(l, "hidden rows", form.CountOf(hidden, "row is", "rows are")+" hidden", what, true, option("read", "they count"), option(what, "they are left out")) == "read":
		p.line("hidden_rows: read")
	case l.told("hidden rows") == "":
		p.line("# hidden_rows: read")
		p.ask("%s: %s hidden. Do they count? Then take the # off the line above.", l.grid.Where(), form.CountOf(hidden, "row is", "rows are"))
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

func list(texts []string) string {
	if len(texts) == 1 {
		return text(texts[0])
	}
	var out []string
	for _, t := range texts {
		out = append(out, text(t))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// fileNames are the patterns of a group's files, with as many folders as tell
// them apart. For a page they fit files to come: figures may be others, and where
// all files are of all tables any file is meant, and there is no pattern.
func (p *proposer) fileNames(g []*look) (names []string) {
	if p.paged && p.sameFiles() {
		return nil
	}
	for _, l := range g {
		name := l.file.Table.Name
		if p.paged {
			name = p.pattern(name, g)
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names
}

// sameFiles reports whether every table stands in every file.
func (p *proposer) sameFiles() bool {
	files := map[string]bool{}
	for _, g := range p.all {
		for _, l := range g {
			files[l.file.Table.Name] = true
		}
	}
	return !slices.ContainsFunc(p.groups, func(g []*look) bool {
		here := map[string]bool{}
		for _, l := range g {
			here[l.file.Table.Name] = true
		}
		return len(here) < len(files)
	})
}

// pattern is the widest pattern for a group's file that fits none of the others.
func (p *proposer) pattern(name string, g []*look) string {
	base := path.Base(name)
	for _, pattern := range []string{figures.ReplaceAllString(base, "*"), base, figures.ReplaceAllString(name, "*")} {
		other := slices.ContainsFunc(p.all, func(o []*look) bool {
			return o[0] != g[0] && slices.ContainsFunc(o, func(l *look) bool {
				segments := strings.Split(l.file.Table.Name, "/")
				tail := strings.Join(segments[max(0, len(segments)-1-strings.Count(pattern, "/")):], "/")
				ok, err := path.Match(strings.ToLower(pattern), strings.ToLower(tail))
				return err != nil || ok && l.file.Table.Name != name
			})
		})
		if !other {
			return pattern
		}
	}
	return name
}

var yearTab = regexp.MustCompile(`^20[0-9][0-9]$`)

// nameOf is the name of a table where its files don't name it.
func (p *proposer) nameOf(l *look) string {
	if name := p.names[l]; name != "" {
		return name
	}
	return l.id
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
