package propose

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

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
	guess, open := "refused", empty > 0
	if float64(empty) > 0.2*float64(rows) {
		guess, open = "above", false
	}
	belong := guess
	if empty > 0 {
		belong = p.ofTable(l, "no number", form.CountOf(empty, "row has", "rows have")+" no "+l.key.name, guess, open,
			option("above", "they belong to the order above"), option("skip", "they are no orders"), option("refused", "they are kept out, and told"))
	}
	switch {
	case belong == "above" && empty > 0:
		fill := []string{l.key.ref()}
		if c := l.one(roleSide); c != nil && c.some < rows*9/10 && l.one(roleReading) != nil {
			fill = append(fill, c.ref())
		}
		p.seen(l, "fill_down: "+list(fill), "%d of %d rows leave %s empty", empty, rows, l.key.name)
	case open && l.told("no number") == "":
		p.ask("%s: %s no %s. They are refused when loaded; write fill_down: [%s] if they belong to the row above.", l.grid.Where(), form.CountOf(empty, "row has", "rows have"), l.key.name, l.key.name)
	}
	emptyToo := belong == "skip" && empty > 0
	numeric := true
	for s := range shapes {
		numeric = numeric && s == "9"
	}
	var oddTexts []string
	for t := range odd {
		oddTexts = append(oddTexts, t)
	}
	sort.Strings(oddTexts)
	if len(odd) > 0 && p.ofTable(l, "no orders", "rows such as "+strings.Join(some(oddTexts, 3), "; "), "skip", false, option("skip", "are no orders: left out"), option("read", "are read like the others")) == "read" {
		odd = nil
	}
	switch {
	case len(odd) > 0 && numeric && len(shapes) > 0 && emptyToo:
		p.line("skip: {column: %s, not: number}%s", text(l.key.ref()), p.comment(oddTexts))
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
		if emptyToo {
			patterns = append(patterns, "empty")
		}
		p.line("skip: {column: %s, is: %s}%s", text(l.key.ref()), list(patterns), p.comment(oddTexts))
	case emptyToo:
		p.line("skip: {column: %s, is: empty}", text(l.key.ref()))
	}
	if sharing == 0 {
		return
	}
	if p.ofTable(l, "overlap", form.CountOf(sharing, "order is", "orders are")+" in more than one file", "last file", true, option("last file", "the last file's row counts"), option("refuse", "differences are refused, and told")) == "refuse" {
		p.line("overlap: refuse")
		return
	}
	p.line("overlap: last file")
	if l.told("overlap") == "" {
		p.ask("%s in more than one file. The file that comes last by its name is taken as right; write overlap: refuse to be told of each difference instead.", form.CountOf(sharing, "order is", "orders are"))
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
	if l.told("tail") == notUsed {
		return ""
	}
	return l.tail()
}

// tail is the end of such numbers, whatever it means.
func (l *look) tail() string {
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
	units := worded(form.Texts(form.Units), "not known")
	tellUnit := func(guess form.Unit, open bool) (u form.Unit, told bool) {
		is := notUsed
		if guess != form.NoUnit {
			is = guess.String()
		}
		is = p.ofTable(g[0], "unit", "unit of numbers that name none", is, open, units...)
		if told = g[0].told("unit") == is; !told {
			return guess, false
		}
		u, _ = lengths.ParseUnit(given(is))
		if u != form.NoUnit {
			p.line("unit: %s", u)
		}
		return u, true
	}
	if len(balls) == 0 {
		guess := mostOf(own)
		if len(own)+len(head) == 0 {
			return form.NoUnit
		}
		if u, told := tellUnit(guess, false); told {
			return u
		}
		if guess != form.NoUnit {
			p.line("unit: %s", guess)
		}
		return guess
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
	enough := 0.8 * float64(len(balls))
	unsure := float64(fits[best]) < enough
	for _, u := range form.Units { // few numbers may be girths in two units
		if u == best || float64(fits[u]) < enough {
			continue
		}
		switch p.lastUnit {
		case best:
		case u:
			best = u
		default:
			unsure = true
		}
	}
	if u, told := tellUnit(best, unsure); told {
		return u
	}
	if unsure {
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
	guess, why := "", ""
	switch {
	case first > second:
		guess, why = wording.DayFirst.String(), fmt.Sprintf(" (%s a first number over 12, %d a second one)", form.CountOf(first, "day has", "days have"), second)
	case second > 0:
		guess, why = wording.MonthFirst.String(), fmt.Sprintf(" (%s a second number over 12, %d a first one)", form.CountOf(second, "day has", "days have"), first)
	case both > 0:
		why = " (" + example + ")"
	default:
		return
	}
	open := guess == "" || first > 0 && second > 0
	if order := p.ofTable(g[0], "days", "days in figures are"+why, guess, open, option("day first", "day first"), option("month first", "month first")); g[0].told("days") == order && order != "" {
		p.line("days: %s", order)
		return
	}
	switch {
	case first > 0 && second == 0:
		p.seen(g[0], "days: day first", "%s a first number over 12", form.CountOf(first, "day has", "days have"))
	case second > 0 && first == 0:
		p.seen(g[0], "days: month first", "%s a second number over 12", form.CountOf(second, "day has", "days have"))
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
	if commas == 0 {
		return
	}
	guess := "either"
	if points == 0 {
		guess = "comma"
	}
	sign := p.ofTable(g[0], "decimal", fmt.Sprintf("decimal sign of numbers in words (%d with a comma, %d with a point)", commas, points), guess, false,
		option("comma", "comma: 22,9"), option("point", "point: 22.9"), option("either", "both are in use"))
	if g[0].told("decimal") == sign {
		p.line("decimal: %s", sign)
		return
	}
	switch {
	case commas > 0 && points == 0:
		p.seen(g[0], "decimal: comma", "%s a comma, none a point", form.CountOf(commas, "number has", "numbers have"))
	case commas > 0:
		p.seen(g[0], "decimal: either", "%s a comma, %d a point", form.CountOf(commas, "number has", "numbers have"), points)
	}
}
