package propose

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/lengths"
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
	Parts     []layout.Part `json:"-"`
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
	legends   map[string]map[string]string // by header and code, what a code means
}

// Propose looks at files and proposes a mapping for what they hold. dir is a
// folder for working copies.
func Propose(ctx context.Context, files []layout.File, dir string) (*Proposal, error) {
	p := &proposer{drop: map[string]bool{}, names: map[*look]string{}, legends: map[string]map[string]string{}}
	out := &Proposal{}
	for _, f := range files {
		grids, err := f.Table.Grids()
		if err != nil {
			out.Notes = append(out.Notes, err.Error())
			continue
		}
		tabs := 0
		for _, g := range grids {
			if !g.Hidden {
				tabs++
			}
		}
		for _, g := range grids {
			if g.Hidden {
				out.Notes = append(out.Notes, fmt.Sprintf("the tab %s of %s is hidden and was not looked at", g.Tab, g.File))
				continue
			}
			if err := p.readLegend(ctx, g); err != nil {
				return nil, err
			}
			l, err := lookAt(ctx, f, g, tabs)
			if err != nil {
				return nil, err
			}
			if l != nil && len(l.rows) > 0 {
				p.looks = append(p.looks, l)
			} else {
				out.Notes = append(out.Notes, unseen(g))
			}
		}
	}
	out.Notes = append(out.Notes, p.group()...)
	if len(p.groups) == 0 {
		return out, &grid.FileError{File: "layout", Reason: "no table of orders, numbers or reports was seen in these files; a table needs a row of column names above it"}
	}
	// What turns out to be unreadable is left out, and the rest looked at again.
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
		if !p.dropUnread(views) {
			break
		}
	}
	return out, nil
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
		for h, codes := range found {
			p.legends[h] = codes
		}
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
			if len(spots) > 0 && !slices.ContainsFunc(spots, func(s *column) bool { return s.spot.Point != "" }) {
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
	var ours [][]*look
	for _, g := range p.groups {
		for _, other := range g[1:] {
			for _, d := range other.columns {
				if i := slices.IndexFunc(g[0].columns, func(c *column) bool { return sheets.Fold(c.path) == sheets.Fold(d.path) && c.again == d.again }); i >= 0 {
					g[0].columns[i].merge(d)
				}
			}
		}
		if g[0].understand() {
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

// tucked reports whether the table's name says that its numbers were taken
// over the trousers.
func (l *look) tucked() bool {
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
	p.questions, p.evidence, p.prefix = nil, nil, ""
	p.line("# Proposed by looking at the files. Lines that begin with '# ?' are questions: answer them by mending the")
	p.line("# lines beside them, then load with --map and this file. Text behind a # is not read.")
	p.line("tables:")
	for _, g := range p.groups {
		p.table(g)
	}
}

func (p *proposer) table(g []*look) {
	l := g[0]
	p.prefix = "  "
	fmt.Fprintf(&p.out, "- file: %s\n", list(fileNames(g, p.looks)))
	if l.grid.Tab != "" {
		var tabs []string
		for _, o := range g {
			if !slices.Contains(tabs, o.grid.Tab) {
				tabs = append(tabs, o.grid.Tab)
			}
		}
		sort.Strings(tabs)
		p.line("tab: %s", list(tabs))
	}
	if name := p.names[l]; name != "" {
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
	if hidden > 0 {
		p.line("# hidden_rows: read")
		p.ask("%s: %s hidden. Do they count? Then take the # off the line above.", l.grid.Where(), sheets.Counted(hidden, "row is", "rows are"))
	}
	p.keyRows(g)
	unit := p.unit(g)
	p.days(g)
	p.decimal(g)
	if l.hasOrders() {
		p.ordersSheet(l)
	}
	if len(l.with(roleSpot)) > 0 || l.one(roleReading) != nil {
		p.measurements(l, unit)
	}
	if l.hasReports() {
		p.outcomes(l)
	}
	p.unused(l)
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

// fileNames are the names of a group's files, with as many folders as tell them
// apart.
func fileNames(g, all []*look) (names []string) {
	for _, l := range g {
		name := l.file.Table.Name
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names
}

// keyRows says which rows are of the table, by the order's number.
func (p *proposer) keyRows(g []*look) {
	l := g[0]
	empty, rows, sharing := 0, 0, 0
	shapes := map[string]int{}
	files := map[string]map[string]bool{}
	odd := map[string]bool{}
	for _, o := range g {
		at := slices.IndexFunc(o.columns, func(c *column) bool { return sheets.Fold(c.name) == sheets.Fold(l.key.name) })
		if at < 0 {
			continue
		}
		col := o.columns[at].at
		seen := map[string]bool{}
		files[o.grid.Where()] = seen
		for _, row := range o.rows {
			some := 0
			for i, t := range row {
				if t != "" && i < len(o.head.Names) && o.head.Names[i] != "" {
					some++
				}
			}
			if some == 0 {
				continue
			}
			key := ""
			if col < len(row) {
				key = row[col]
			}
			rows++
			switch {
			case key == "" && some >= 2:
				empty++
			case key == "":
			case totalWords.MatchString(wording.Plain(key)) || some <= 2 && len(l.columns) > 5:
				odd[key] = true
			case sheets.Fold(key) != sheets.Fold(l.key.name):
				shapes[shape(key)]++
				seen[key] = true
			}
		}
	}
	for a, keys := range files {
		for b, other := range files {
			if a < b && l.hasOrders() && l.file.Path != "" {
				for k := range keys {
					if other[k] {
						sharing++
					}
				}
			}
		}
	}
	if float64(empty) > 0.2*float64(rows) {
		fill := []string{l.key.ref()}
		if c := l.one(roleSide); c != nil && c.some < rows*9/10 && l.one(roleReading) != nil {
			fill = append(fill, c.ref())
		}
		p.seen(l, "fill_down: "+list(fill), "%d of %d rows leave %s empty", empty, rows, l.key.name)
	} else if empty > 0 {
		p.ask("%s: %s no %s. They are refused when loaded; write fill_down: [%s] if they belong to the row above.", l.grid.Where(), sheets.Counted(empty, "row has", "rows have"), l.key.name, l.key.name)
	}
	numeric := true
	for s := range shapes {
		numeric = numeric && s == "9"
	}
	var oddTexts []string
	for t := range odd {
		oddTexts = append(oddTexts, t)
	}
	sort.Strings(oddTexts)
	switch {
	case len(odd) > 0 && numeric && len(shapes) > 0:
		p.line("skip: {column: %s, not: [number, empty]}%s", text(l.key.ref()), p.comment(oddTexts))
	case len(odd) > 0:
		var patterns []string
		for _, t := range oddTexts {
			if i := strings.IndexAny(t, "0123456789:"); i > 2 {
				t = strings.TrimRight(t[:i], " :") + "*"
			}
			t = strings.NewReplacer("[", "?", "]", "?", "\\", "?").Replace(t)
			if !slices.Contains(patterns, t) {
				patterns = append(patterns, t)
			}
		}
		p.line("skip: {column: %s, is: %s}%s", text(l.key.ref()), list(patterns), p.comment(oddTexts))
	}
	if sharing > 0 {
		p.line("overlap: last file")
		p.ask("%s in more than one file. The file that comes last by its name is taken as right; write overlap: refuse to be told of each difference instead.", sheets.Counted(sharing, "order is", "orders are"))
	}
}

// comment is a comment with some texts of a table.
func (p *proposer) comment(texts []string) string {
	if len(texts) > 4 {
		texts = append(texts[:4:4], "…")
	}
	return "   # such as " + strings.ReplaceAll(strings.Join(texts, "; "), "\n", " ")
}

// shape is a text with its figures as 9 and its letters as A, runs as one.
func shape(text string) string {
	var b strings.Builder
	var last rune
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9':
			r = '9'
		case r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 127:
			r = 'A'
		}
		if r != last || r != '9' && r != 'A' {
			b.WriteRune(r)
		}
		last = r
	}
	return b.String()
}

// suffix is what is put behind an order's number when it is made again: numbers
// that stand alone too, with the same letters behind them.
func (l *look) suffix() string {
	found := map[string]int{}
	for t := range l.key.texts {
		for i := len(t) - 1; i > 0 && i > len(t)-5; i-- {
			if tail := t[i:]; l.key.texts[t[:i]] > 0 && strings.Trim(tail, "0123456789") == tail && strings.ContainsAny(tail, "abcdefghijklmnopqrstuvwxyz*") {
				found[tail]++
			}
		}
	}
	best := ""
	for tail, n := range found {
		if n > found[best] || n == found[best] && len(tail) > len(best) {
			best = tail
		}
	}
	return best
}

// unit says the unit of lengths that name none, by the headers and by what a
// human foot is.
func (p *proposer) unit(g []*look) form.Unit {
	var own, head = map[form.Unit]int{}, map[form.Unit]int{}
	var balls, insteps []float64
	for _, l := range g {
		for _, c := range l.columns {
			if c.role != roleSpot && c.role != roleReading && c.role != "orders.shaft_height" && c.role != roleHeight {
				continue
			}
			for u, n := range c.units {
				own[u] += n
			}
			if u := headerUnit(c.name); u != form.NoUnit {
				head[u]++
			}
			if c.role == roleSpot && c.spot.Height == "" && c.spot.Point != "length" && c.spot.Point != "breadth" && c.spot.Point != "" {
				balls = append(balls, c.values...)
			} else if c.role != "orders.shaft_height" && c.role != roleHeight {
				insteps = append(insteps, c.values...)
			}
		}
	}
	if len(balls) == 0 {
		balls = insteps
	}
	if len(balls) == 0 {
		if u := mostOf(own); u != form.NoUnit {
			p.line("unit: %s", u)
			return u
		}
		return form.NoUnit
	}
	// Girths of feet and legs lie between 150 and 560 mm (ANSUR II, 2012: ball,
	// heel-ankle and calf circumferences), which keeps the three units apart.
	fits := map[form.Unit]int{}
	for _, v := range balls {
		for _, u := range form.Units {
			if mm := v * u.MM(); mm >= 150 && mm <= 560 {
				fits[u]++
			}
		}
	}
	best := form.NoUnit
	for _, u := range form.Units {
		if fits[u] > fits[best] {
			best = u
		}
	}
	if float64(fits[best]) < 0.8*float64(len(balls)) {
		p.ask("%s: in which unit are the numbers? Write unit: in, cm or mm.", g[0].grid.Where())
		if best == form.NoUnit {
			best = form.Inch
		}
	}
	p.seen(g[0], "unit: "+best.String(), "%d of %d numbers without a unit can be girths of feet or legs in it", fits[best], len(balls))
	return best
}

func mostOf(counts map[form.Unit]int) (best form.Unit) {
	for _, u := range form.Units {
		if counts[u] > 0 && counts[u] > counts[best] {
			best = u
		}
	}
	return best
}

// headerUnit is the unit that stands in a header's brackets.
func headerUnit(name string) form.Unit {
	i, j := strings.LastIndexByte(name, '('), strings.LastIndexByte(name, ')')
	if i >= 0 && j > i {
		if u, ok := lengths.ParseUnit(name[i+1 : j]); ok {
			return u
		}
	}
	return form.NoUnit
}

// days says the order of day and month, with its evidence.
func (p *proposer) days(g []*look) {
	first, second, both := 0, 0, 0
	example := ""
	for _, l := range g {
		for _, c := range l.columns {
			if c.role == "orders.received_on" || c.role == "orders.cut_on" || c.role == "orders.shipped_on" || c.role == "outcomes.reported_on" || c.role == roleRemade {
				first, second, both = first+c.firstOver, second+c.secondOver, both+c.both
				if c.both > 0 && example == "" {
					for _, t := range c.few() {
						a, err := wording.ReadDay(t, wording.DayFirst)
						b, err2 := wording.ReadDay(t, wording.MonthFirst)
						if err == nil && err2 == nil && !a.Equal(b) {
							example = fmt.Sprintf("%s is %s or %s", t, a.Format("2 January 2006"), b.Format("2 January 2006"))
						}
					}
				}
			}
		}
	}
	switch {
	case first > 0 && second == 0:
		p.seen(g[0], "days: day first", "%s a first number over 12", sheets.Counted(first, "day has", "days have"))
	case second > 0 && first == 0:
		p.seen(g[0], "days: month first", "%s a second number over 12", sheets.Counted(second, "day has", "days have"))
	case first > 0 && second > 0:
		more, order := first, wording.DayFirst
		if second > first {
			more, order = second, wording.MonthFirst
		}
		p.seen(g[0], "days: "+order.String(), "%d of %d days show it", more, first+second)
		p.ask("%s: %d days are day first and %d month first. Those that go against the line above are refused.", g[0].grid.Where(), first, second)
	case both > 0:
		p.line("# days: month first")
		p.ask("%s: day or month first? %s. Without an answer these days are refused.", g[0].grid.Where(), example)
	}
}

// decimal says what commas in numbers are.
func (p *proposer) decimal(g []*look) {
	commas, points := 0, 0
	for _, l := range g {
		for _, c := range l.columns {
			if c.role == roleSpot || c.role == roleReading {
				commas, points = commas+c.commas, points+c.points
			}
		}
	}
	switch {
	case commas > 0 && points == 0:
		p.seen(g[0], "decimal: comma", "%s a comma, none a point", sheets.Counted(commas, "number has", "numbers have"))
	case commas > 0:
		p.seen(g[0], "decimal: either", "%s a comma, %d a point", sheets.Counted(commas, "number has", "numbers have"), points)
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
