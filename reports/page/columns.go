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
		p.line("(no rows)")
	} else {
		p.grid(t)
	}
	if s := t.Shown(); s != "" {
		p.line(s)
	}
	for _, n := range t.Notes {
		p.para("  ", n)
	}
}

func (p *texter) grid(t *Table) {
	width := t.widths(p.o.Width)
	head := make([]string, len(t.Columns))
	rule := make([]string, len(t.Columns))
	for j, c := range t.Columns {
		head[j] = c.Head()
		rule[j] = strings.Repeat("-", width[j])
	}
	p.row(t.Columns, head, width)
	p.row(t.Columns, rule, width)
	for _, row := range t.Rows {
		cells := make([]string, len(t.Columns))
		for j := range cells {
			if j < len(row) {
				cells[j] = clean(row[j].Text)
			}
		}
		p.row(t.Columns, cells, width)
	}
}

// row prints one row, on as many lines as its longest cell needs.
func (p *texter) row(cols []Column, cells []string, width []int) {
	lines := make([][]string, len(cells))
	deep := 1
	for j, s := range cells {
		lines[j] = []string{s}
		if p.o.Width > 0 {
			lines[j] = wrap(s, width[j])
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

// widths chooses the column widths: as wide as the widest entry where there is
// room, else the widest columns give way, none below its longest word.
func (t *Table) widths(room int) []int {
	want := make([]int, len(t.Columns))
	least := make([]int, len(t.Columns))
	note := func(j int, s string, whole bool) {
		for _, word := range strings.Fields(s) {
			least[j] = max(least[j], utf8.RuneCountInString(word))
		}
		if whole {
			want[j] = max(want[j], utf8.RuneCountInString(s))
		}
	}
	for j, c := range t.Columns {
		note(j, c.Head(), room <= 0) // on a terminal a head is wrapped over its column
	}
	for _, row := range t.Rows {
		for j := 0; j < len(row) && j < len(want); j++ {
			note(j, clean(row[j].Text), true)
		}
	}
	sum := 2 * (len(want) - 1)
	for j := range want {
		want[j] = max(want[j], least[j])
		sum += want[j]
	}
	for room > 0 && sum > room {
		k := -1
		for j := range want {
			if want[j] > least[j] && (k < 0 || want[j] > want[k]) {
				k = j
			}
		}
		if k < 0 {
			break
		}
		want[k]--
		sum--
	}
	return want
}
