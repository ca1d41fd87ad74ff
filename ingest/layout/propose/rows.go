package propose

import (
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// keyed is what the column of the order's number holds in the tables of one
// layout.
type keyed struct {
	rows    int                        // that hold anything
	empty   int                        // of them, without a number
	shapes  map[string]int             // what numbers look like
	odd     []string                   // texts that are no number: totals, rows with little else
	numbers map[string]map[string]bool // by file and tab
}

func readKeys(g []*look) keyed {
	l := g[0]
	k := keyed{shapes: map[string]int{}, numbers: map[string]map[string]bool{}}
	odd := map[string]bool{}
	for _, o := range g {
		at := slices.IndexFunc(o.columns, func(c *column) bool { return sheets.Fold(c.name) == sheets.Fold(l.key.name) })
		if at < 0 {
			continue
		}
		col := o.columns[at].at
		seen := map[string]bool{}
		k.numbers[o.grid.Where()] = seen
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
			k.rows++
			switch {
			case key == "" && some >= 2:
				k.empty++
			case key == "":
			case totalWords.MatchString(wording.Plain(key)) || some <= 2 && len(l.columns) > 5:
				odd[key] = true
			case sheets.Fold(key) != sheets.Fold(l.key.name):
				k.shapes[shape(key)]++
				seen[key] = true
			}
		}
	}
	k.odd = slices.Sorted(maps.Keys(odd))
	return k
}

// keyRows says which rows are of the table, by the order's number.
func (p *proposer) keyRows(g []*look) {
	l, k := g[0], readKeys(g)
	belong := p.withoutNumber(l, k)
	p.skipRows(l, k, belong == "skip" && k.empty > 0)
	if l.hasOrders() && l.file.Path != "" {
		p.overlap(l, k)
	}
}

// withoutNumber says what rows without a number are: of the order above, no orders,
// or refused.
func (p *proposer) withoutNumber(l *look, k keyed) string {
	if k.empty == 0 {
		return "refused"
	}
	guess, open := "refused", true
	if float64(k.empty) > 0.2*float64(k.rows) {
		guess, open = "above", false
	}
	have := form.CountOf(k.empty, "row has", "rows have")
	belong := p.ofTable(l, "no number", have+" no "+l.key.name, guess, open,
		option("above", "they belong to the order above"), option("skip", "they are no orders"), option("refused", "they are kept out, and told"))
	switch {
	case belong == "above":
		fill := []string{l.key.ref()}
		if c := l.one(roleSide); c != nil && c.some < k.rows*9/10 && l.one(roleReading) != nil {
			fill = append(fill, c.ref())
		}
		p.seen(l, "fill_down: "+list(fill), "%d of %d rows leave %s empty", k.empty, k.rows, l.key.name)
	case open && l.told("no number") == "":
		p.ask("%s: %s no %s. They are refused when loaded; write fill_down: [%s] if they belong to the row above.", l.grid.Where(), have, l.key.name, l.key.name)
	}
	return belong
}

// skipRows writes which rows are passed over: those whose number is none, and, where
// a person says so, those without one.
func (p *proposer) skipRows(l *look, k keyed, emptyToo bool) {
	odd := k.odd
	if len(odd) > 0 && p.ofTable(l, "no orders", "rows such as "+strings.Join(some(odd, 3), "; "), "skip", false, option("skip", "are no orders: left out"), option("read", "are read like the others")) == "read" {
		odd = nil
	}
	column := text(l.key.ref())
	if len(odd) == 0 {
		if emptyToo {
			p.line("skip: {column: %s, is: empty}", column)
		}
		return
	}
	such := "   # such as " + strings.ReplaceAll(strings.Join(some(odd, 4), "; "), "\n", " ")
	if _, figures := k.shapes["9"]; figures && len(k.shapes) == 1 {
		not := "[number, empty]"
		if emptyToo { // passed over with the texts, since they are no number either
			not = "number"
		}
		p.line("skip: {column: %s, not: %s}%s", column, not, such)
		return
	}
	var patterns []string
	for _, t := range odd {
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
	p.line("skip: {column: %s, is: %s}%s", column, list(patterns), such)
}

// overlap says which row counts where an order stands in several files.
func (p *proposer) overlap(l *look, k keyed) {
	sharing := 0
	for a, here := range k.numbers {
		for b, there := range k.numbers {
			if a >= b {
				continue
			}
			for number := range here {
				if there[number] {
					sharing++
				}
			}
		}
	}
	if sharing == 0 {
		return
	}
	stand := form.CountOf(sharing, "order is", "orders are") + " in more than one file"
	if p.ofTable(l, "overlap", stand, "last file", true, option("last file", "the last file's row counts"), option("refuse", "differences are refused, and told")) == "refuse" {
		p.line("overlap: refuse")
		return
	}
	p.line("overlap: last file")
	if l.told("overlap") == "" {
		p.ask("%s. The file that comes last by its name is taken as right; write overlap: refuse to be told of each difference instead.", stand)
	}
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
