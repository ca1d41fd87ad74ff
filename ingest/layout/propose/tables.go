package propose

import (
	"context"
	"fmt"
	"maps"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

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
		column, code, meaning := cells[0], cells[1], cells[2]
		if column != "" {
			header = sheets.Fold(column)
		}
		if header != "" && code != "" && meaning != "" {
			if found[header] == nil {
				found[header] = map[string]string{}
			}
			found[header][code] = meaning
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

func unseen(g *grid.Grid) string {
	return g.Where() + ": no table of orders, numbers or reports was seen in it"
}

var figures = regexp.MustCompile(`[0-9]+`)
