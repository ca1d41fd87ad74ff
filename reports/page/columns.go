package page

import (
	"strings"
	"unicode/utf8"
)

// Shown says how much of the table is there, where it is not all of it.
func (t Table) Shown() string {
	if t.Total <= len(t.Rows) {
		return ""
	}
	return "showing " + Thousands(len(t.Rows)) + " of " + Thousands(t.Total)
}

// Head is a column's title with its unit.
func (c Column) Head() string {
	if c.Unit == "" {
		return c.Title
	}
	return c.Title + " (" + c.Unit + ")"
}

func (p *texter) table(t *Table) {
	if t.Caption != "" {
		p.para("", t.Caption)
	}
	if len(t.Rows) == 0 {
		p.line(p.o.Say("(no rows)"))
	} else {
		p.grid(t)
	}
	if s := t.Shown(); s != "" {
		p.line(p.o.Say(s))
	}
	for _, n := range t.Notes {
		p.para("  ", n)
	}
}

// grid prints the rows as columns where they fit, else one row after the other
// as a short list, so that a narrow terminal stays readable.
func (p *texter) grid(t *Table) {
	width, fits := t.widths(p.o.Width)
	if !fits {
		p.records(t)
		return
	}
	head := make([]string, len(t.Columns))
	rule := make([]string, len(t.Columns))
	for j, c := range t.Columns {
		head[j] = c.Head()
		rule[j] = strings.Repeat("-", width[j])
	}
	p.row(t.Columns, head, width)
	p.row(t.Columns, rule, width)
	for _, row := range t.Rows {
		p.row(t.Columns, texts(row, t.Columns), width)
	}
}

func texts(row []Cell, columns []Column) []string {
	cells := make([]string, len(columns))
	for j := range cells {
		if j < len(row) {
			cells[j] = clean(row[j].Text)
			if columns[j].Numeric {
				cells[j] = minus(cells[j])
			}
		}
	}
	return cells
}

// records prints each row under its first cell as "title value" pairs.
func (p *texter) records(t *Table) {
	for _, row := range t.Rows {
		cells := texts(row, t.Columns)
		var pairs []string
		for j := 1; j < len(cells); j++ {
			if cells[j] != "" {
				pairs = append(pairs, clean(t.Columns[j].Head())+" "+cells[j])
			}
		}
		p.para("", cells[0])
		for _, l := range gather(pairs, "; ", p.o.Width-2) {
			p.line("  " + l)
		}
	}
}

// row prints one row, on as many lines as its longest cell needs.
func (p *texter) row(cols []Column, cells []string, width []int) {
	lines := make([][]string, len(cells))
	deep := 1
	for j, s := range cells {
		lines[j] = []string{s}
		if p.o.Width > 0 && utf8.RuneCountInString(s) > width[j] {
			lines[j] = gather(units(s, cols[j].Numeric), " ", width[j])
		}
		deep = max(deep, len(lines[j]))
	}
	for k := range deep {
		var b strings.Builder
		for j := range cells {
			s := ""
			if k < len(lines[j]) {
				s = lines[j][k]
			}
			pad := strings.Repeat(" ", max(0, width[j]-utf8.RuneCountInString(s)))
			if j > 0 {
				b.WriteString("  ")
			}
			if cols[j].Numeric {
				b.WriteString(pad + s)
			} else {
				b.WriteString(s + pad)
			}
		}
		p.line(b.String())
	}
}

// units are the pieces a cell may be broken into: words, but a number and its
// interval stay whole.
func units(s string, numeric bool) []string {
	if numeric && s == TooFew {
		return []string{s}
	}
	if at := strings.Index(s, " ("); numeric && at > 0 && strings.HasSuffix(s, ")") && strings.Contains(s[at:], " to ") {
		return []string{s[:at], s[at+1:]}
	}
	return strings.Fields(s)
}

// gather joins pieces into lines of at most width runes; a longer piece stands
// alone.
func gather(pieces []string, sep string, width int) []string {
	var lines []string
	cur := ""
	width -= utf8.RuneCountInString(strings.TrimRight(sep, " ")) // what ends a line that goes on
	for _, s := range pieces {
		if cur != "" && utf8.RuneCountInString(cur)+utf8.RuneCountInString(sep)+utf8.RuneCountInString(s) > width {
			lines = append(lines, strings.TrimRight(cur+sep, " "))
			cur = ""
		}
		if cur != "" {
			cur += sep
		}
		cur += s
	}
	return append(lines, cur)
}

// widths chooses the column widths: as wide as the widest entry where there is
// room, else the widest columns give way, none below its longest unit. It
// reports whether the columns fit the room.
func (t *Table) widths(room int) (want []int, fits bool) {
	want = make([]int, len(t.Columns))
	least := make([]int, len(t.Columns))
	for j, c := range t.Columns {
		for _, s := range units(clean(c.Head()), false) {
			least[j] = max(least[j], utf8.RuneCountInString(s))
		}
		if room <= 0 { // on a terminal a head is wrapped over its column
			want[j] = utf8.RuneCountInString(c.Head())
		}
	}
	for _, row := range t.Rows {
		for j, s := range texts(row, t.Columns) {
			want[j] = max(want[j], utf8.RuneCountInString(s))
			for _, u := range units(s, t.Columns[j].Numeric) {
				least[j] = max(least[j], utf8.RuneCountInString(u))
			}
		}
	}
	sum := 2 * (len(want) - 1)
	for j := range want {
		want[j] = max(want[j], least[j])
		sum += want[j]
	}
	for room > 0 && sum > room {
		k := widestAbove(want, least)
		if k < 0 {
			return want, false
		}
		want[k]--
		sum--
	}
	t.flattenHead(want, room-sum)
	return want, true
}

// flattenHead spends room that is left on the columns with the tallest heads, until
// none stands on more than two lines.
func (t *Table) flattenHead(width []int, left int) {
	for ; left > 0; left-- {
		tallest, lines := -1, 2
		for j, c := range t.Columns {
			if n := len(gather(units(clean(c.Head()), false), " ", width[j])); n > lines {
				tallest, lines = j, n
			}
		}
		if tallest < 0 {
			return
		}
		width[tallest]++
	}
}

// widestAbove is the widest column that can still give way, or -1.
func widestAbove(want, least []int) int {
	k := -1
	for j := range want {
		if want[j] > least[j] && (k < 0 || want[j] > want[k]) {
			k = j
		}
	}
	return k
}
