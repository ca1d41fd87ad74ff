package propose

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/wording"
)

// pageLists begins the lists of all tables anew: whether it is used, where its
// names stand, what its columns are.
func (p *proposer) pageLists() {
	for _, g := range p.all {
		l := g[0]
		l.lists, l.takers = nil, nil
		used := slices.ContainsFunc(p.groups, func(ours []*look) bool { return ours[0] == l })
		if l.grid.Hidden {
			p.choose(&l.lists, sketch.List{Name: l.exact + "|hidden", Label: "this tab", Options: []sketch.Option{option("no", "left alone"), option("yes", "looked at too")}}, "no")
		}
		if len(l.columns) > 0 {
			is := "yes"
			if !used {
				is = notUsed
			}
			p.ofTable(l, "use", "the table", is, false, option("yes", "used"), option(notUsed, "not used"))
		}
		if len(g) == 1 && len(l.top) > 0 && l.told("use") != notUsed {
			var rows []sketch.Option
			for _, r := range l.top {
				rows = append(rows, option(fmt.Sprint(r.No), fmt.Sprintf("row %d: %s", r.No, begin(r.Cells))))
			}
			at := ""
			if l.head.Row > 0 {
				at = fmt.Sprint(l.head.Row)
			}
			p.choose(&l.lists, sketch.List{Name: l.exact + "|header", Label: "names of the columns", Options: rows}, at)
			if l.levels > 0 && l.above {
				p.choose(&l.lists, sketch.List{Name: l.exact + "|levels", Label: "rows of names", Options: []sketch.Option{option("1", "one"), option("2", "two: the upper row holds for all to its right")}}, fmt.Sprint(l.levels))
			}
		}
		if used && l.twice() {
			p.ofTable(l, "twice", "the names of the places stand twice", "left", true, option("left", "the first is the left foot"), option("right", "the first is the right foot"))
		}
		if used && len(l.with(roleSpot)) == 0 && l.one(roleReading) == nil {
			is := "orders"
			if l.isReports() {
				is = "remakes"
			}
			p.ofTable(l, "rows", "each row is", is, false, option("orders", "an order, or what its columns say"), option("remakes", "an order made again"))
		}
		for _, c := range l.columns {
			c.lists = nil
			p.columnLists(l, c)
			for i := range c.lists {
				c.lists[i].Open = c.lists[i].Open && used // nobody is asked about what is not used
			}
		}
	}
}

// begin is how a row begins, for a list.
func begin(cells []string) string {
	var out []string
	for _, c := range cells {
		if c != "" && len(out) < 4 {
			if r := []rune(c); len(r) > 20 {
				c = string(r[:20]) + "…"
			}
			out = append(out, c)
		}
	}
	return strings.Join(out, " · ")
}

// sketchOf is what a page shows of all that was seen.
func (p *proposer) sketchOf(views []layout.View, mapping string, notes []string) *sketch.Sketch {
	out := &sketch.Sketch{Mapping: mapping, Notes: notes}
	for _, g := range p.all {
		l := g[0]
		t := sketch.Table{Where: whereAll(g), Used: slices.ContainsFunc(p.groups, func(ours []*look) bool { return ours[0] == l }), Lists: l.lists, Top: l.top}
		t.Says = l.says(g, t.Used)
		for _, c := range l.columns {
			if l.told("use") != notUsed {
				t.Columns = append(t.Columns, c.shown(g, views, t.Used))
			}
		}
		out.Tables = append(out.Tables, t)
	}
	return out
}

// whereAll names the files and tabs of a group.
func whereAll(g []*look) string {
	tabs := map[string][]string{}
	for _, l := range g {
		tabs[l.grid.File] = append(tabs[l.grid.File], l.grid.Tab)
	}
	var out []string
	for _, file := range slices.Sorted(maps.Keys(tabs)) {
		switch list := tabs[file]; {
		case list[0] == "":
			out = append(out, file)
		case len(list) == 1:
			out = append(out, file+", tab "+list[0])
		default:
			slices.Sort(list)
			out = append(out, file+", tabs "+strings.Join(list, ", "))
		}
	}
	return strings.Join(out, "; ")
}

// says is what a table is read as.
func (l *look) says(g []*look, used bool) string {
	rows := 0
	for _, o := range g {
		rows += len(o.rows)
	}
	at := fmt.Sprintf("%s under the names in row %d", form.CountOf(rows, "row", "rows"), l.head.Row)
	var as []string
	for _, sheet := range []struct {
		is   bool
		name string
	}{{l.hasOrders(), "orders and their forms"}, {len(l.with(roleSpot)) > 0 || l.one(roleReading) != nil, "numbers of the tape"}, {l.hasReports(), "how boots turned out"}} {
		if sheet.is {
			as = append(as, sheet.name)
		}
	}
	switch {
	case len(l.columns) == 0 && l.grid.Hidden:
		return "A hidden tab. It was not looked at."
	case len(l.columns) == 0:
		return "No row of column names was found in it. If there is one, say which."
	case l.told("use") == notUsed:
		return at + ". Not used, as you say."
	case l.key == nil:
		return at + ". No column looks like the order's number; without it nothing of the table can be used."
	case !used:
		return at + ". Nothing in it looks like orders, numbers of the tape or how boots turned out."
	}
	return at + ", read as " + strings.Join(as, "; ") + "."
}

// mostShown is how many cells of a column a page shows.
const mostShown = 5

// shown is a column as a page shows it.
func (c *column) shown(g []*look, views []layout.View, used bool) sketch.Column {
	out := sketch.Column{Letter: grid.ColumnName(c.at), Header: c.path, Lists: c.lists, Cells: c.some, Used: used && c.role != ""}
	if c.role != roleSpot || c.path == c.name { // a name above others is of the numbers
		out.Header = c.ref()
	}
	type said struct{ column, text string }
	reads := map[string][]said{}
	refused := map[string]string{}
	var order []string
	for _, v := range views {
		if v.Header != c.path || v.Letter != out.Letter || !slices.ContainsFunc(g, func(l *look) bool { return l.grid.Where() == v.Where }) {
			continue
		}
		out.Refused = max(out.Refused, v.Refused)
		for _, r := range v.Readings {
			if _, ok := reads[r.Written]; !ok {
				order, reads[r.Written] = append(order, r.Written), nil
			}
			if r.Refused != "" {
				refused[r.Written] = r.Refused
			}
			if r.Read != "" && !slices.ContainsFunc(reads[r.Written], func(o said) bool { return o.text == r.Read }) {
				reads[r.Written] = append(reads[r.Written], said{strings.ReplaceAll(v.Column, "_", " "), r.Read})
			}
		}
	}
	if float64(out.Refused) > mostRefused*float64(c.some) && !c.told && !g[0].asksDays(c) {
		out.Lists = slices.Clone(out.Lists)
		out.Lists[0].Open = true // is it that at all?
	}
	for _, t := range order[:min(len(order), mostShown)] {
		read := ""
		for i, s := range reads[t] {
			switch {
			case len(reads[t]) == 1:
				read = s.text
			case i > 0:
				read += ", "
				fallthrough
			default: // one cell fills several columns
				read += s.column + " " + s.text
			}
		}
		out.Readings = append(out.Readings, sketch.Reading{Written: t, Read: read, Refused: refused[t]})
	}
	if len(order) == 0 {
		for _, t := range some(c.few(), mostShown) {
			if t != "…" {
				out.Readings = append(out.Readings, sketch.Reading{Written: c.written[t], Read: c.means(t)})
			}
		}
	}
	return out
}

// asksDays reports whether a column's days wait for the answer which number of
// theirs is the month.
func (l *look) asksDays(c *column) bool {
	return c.both > 0 && slices.ContainsFunc(l.lists, func(one sketch.List) bool { return one.Open && one.Name == l.id+"|days" })
}

// means is what a cell says that is read with others of its row, or for several
// columns of a sheet at once.
func (c *column) means(t string) string {
	switch c.role {
	case roleSide:
		return wording.Sides[t]
	case rolePlace:
		place, _ := wording.ReadPlace(t)
		return strings.Join(strings.Fields(strings.Join([]string{place.Side, place.Clothing, place.Point, place.Height}, " ")), " ")
	case roleReason:
		found, _ := wording.ReadFit(t, nil)
		var out []string
		for _, column := range []string{"zone", "direction", "side", "cause"} {
			if found[column] != "" {
				out = append(out, column+" "+found[column])
			}
		}
		return strings.Join(out, ", ")
	}
	return c.written[t]
}
