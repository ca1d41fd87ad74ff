package orderbook

import (
	"context"
	"fmt"
	"strings"

	"lastroom/ingest/sheets"
)

// Separators inside the text of why a row is kept out: between its problems,
// and between the column and the reason of one.
const (
	nextProblem = "\x1e"
	thenReason  = "\x1f"
)

// fewTexts is up to how many different texts a column is translated in place
// instead of by a join.
const fewTexts = 12

// A reading is how the cells of one column are read in SQL.
type reading struct {
	join  string // a join to words, if needed
	why   string // why a cell can't be read, or empty
	value map[string]string
}

// good makes good_<sheet>: the staged rows with their cells read, by the
// book's column names, with ord (the row's place in the staging table) and why
// (the problems of the row; NULL when there is none). Rows with nothing in them
// are left out. It is a table, but for the measurements a view: reading them
// again costs less than keeping them.
func (l *loader) good(ctx context.Context, s *sheets.Sheet, books map[string]*wordbook) error {
	var cols, joins, whys, texts []string
	values := []string{}
	for _, c := range s.Columns {
		if c.IsUnit() {
			continue
		}
		r := read(c, books[bookOf(c)])
		for _, name := range bookColumns(c) {
			cols = append(cols, stored(s, name, r.value[name])+" AS "+name)
		}
		values = append(values, "{"+c.Name+"}", r.value[c.Name])
		texts = append(texts, "s."+quoteName(c.Name))
		if r.join != "" {
			joins = append(joins, r.join)
		}
		whys = append(whys, problem(c, s, r)...)
	}
	whys = append(whys, rowRules[s.Name]...)
	// Rows added in the same transaction are numbered from a high number on.
	first, err := l.number(ctx, "SELECT coalesce(min(rowid), 0) FROM stage_"+s.Name)
	if err != nil {
		return err
	}
	kind := "TABLE"
	if s.Name == "measurements" {
		kind = "VIEW"
	}
	query := fmt.Sprintf("CREATE OR REPLACE TEMP %s good_%s AS SELECT s.rowid - %d AS ord, %s, %s AS why FROM stage_%s s %s WHERE coalesce(%s) IS NOT NULL",
		kind, s.Name, first, strings.Join(cols, ", "), strings.NewReplacer(values...).Replace(allWhys(whys)), s.Name,
		strings.Join(joins, " "), strings.Join(texts, ", "))
	return l.exec(ctx, query)
}

// allWhys joins the problems of a row; NULL when there is none. Most rows have
// none, which is seen before any text is made.
func allWhys(whys []string) string {
	return "CASE WHEN coalesce(" + strings.Join(whys, ", ") + ") IS NOT NULL THEN concat_ws(chr(30), " + strings.Join(whys, ", ") + ") END"
}

// stored gives a value the type of the book's column, and a number without
// clothing the bare leg.
func stored(s *sheets.Sheet, column, value string) string {
	if s.Name != "measurements" && s.Name != "repeats" {
		return value
	}
	switch column {
	case "clothing":
		return "coalesce(" + value + ", 'bare')::clothing_t"
	case "side", "point", "unit":
		return "(" + value + ")::" + column + "_t"
	}
	return value
}

// bookColumns are the columns of the book's table that a sheet's column fills.
func bookColumns(c sheets.Column) []string {
	if c.Kind != sheets.Length {
		return []string{c.Name}
	}
	names := []string{c.Name + "_mm", c.Written()}
	if c.Name == "value" {
		names = append(names, "unit")
	}
	return names
}

// read says how a column is read, given the texts it holds.
func read(c sheets.Column, b *wordbook) reading {
	cell := "s." + quoteName(c.Name)
	if b == nil {
		return reading{value: map[string]string{c.Name: cell}}
	}
	from := map[string]string{"": "day"}
	switch c.Kind {
	case sheets.YesNo:
		from[""] = "yes"
	case sheets.Whole:
		from[""] = "number"
	case sheets.Money, sheets.Length:
		from[""] = "number"
	case sheets.Word, sheets.Open:
		from[""] = "word"
	}
	if c.Kind == sheets.Length {
		return joined(c, b, map[string]string{c.Name + "_mm": "number", c.Written(): "", "unit": "unit"})
	}
	if len(b.entries) <= fewTexts && (c.Kind == sheets.YesNo || c.Kind == sheets.Word || c.Kind == sheets.Open) {
		return inPlace(c, b)
	}
	return joined(c, b, map[string]string{c.Name: from[""]})
}

// joined reads a column by a join to its wordbook. An empty source is the text
// of the cell itself.
func joined(c sheets.Column, b *wordbook, from map[string]string) reading {
	w, cell := quoteName("w_"+c.Name), "s."+quoteName(c.Name)
	r := reading{value: map[string]string{}, why: w + ".why"}
	r.join = fmt.Sprintf("LEFT JOIN words %s ON %s.book = %d AND %s.t = %s", w, w, b.number, w, cell)
	if c.Kind == sheets.Length {
		r.join += fmt.Sprintf(" AND %s.u = s.%s", w, quoteName(c.Name+"_u"))
	}
	for name, source := range from {
		r.value[name] = w + "." + source
		if source == "" {
			r.value[name] = cell
		}
	}
	if c.Kind == sheets.Whole {
		r.value[c.Name] += "::INTEGER"
	}
	if !b.refuses() {
		r.why = ""
	}
	return r
}

// refuses reports whether any text of the book can't be read.
func (b *wordbook) refuses() bool {
	for _, e := range b.entries {
		if e.why != "" {
			return true
		}
	}
	return false
}

// inPlace reads a column of few different texts by a CASE; words that stand in
// the sheet as they stand in the book are taken as they are.
func inPlace(c sheets.Column, b *wordbook) reading {
	cell := "s." + quoteName(c.Name)
	var values, whys []string
	plain := true
	for _, e := range b.entries {
		is := "WHEN " + quote(e.text) + " THEN "
		switch {
		case e.why != "":
			whys = append(whys, is+quote(e.why))
			plain = false
		case c.Kind == sheets.YesNo:
			plain = false
			if e.value.Known {
				values = append(values, is+fmt.Sprint(e.value.Yes))
			}
		default:
			plain = plain && e.value.Text == e.text
			values = append(values, is+quote(e.value.Text))
		}
	}
	r := reading{value: map[string]string{c.Name: cell}}
	if !plain {
		r.value[c.Name] = caseOf(cell, values)
	}
	if c.Kind == sheets.YesNo {
		r.value[c.Name] = "(" + caseOf(cell, values) + ")::BOOLEAN"
	}
	if len(whys) > 0 {
		r.why = caseOf(cell, whys)
	}
	return r
}

func caseOf(cell string, whens []string) string {
	if len(whens) == 0 {
		return "NULL"
	}
	return "CASE " + cell + " " + strings.Join(whens, " ") + " END"
}

// problem are the expressions of what can be wrong with a cell.
func problem(c sheets.Column, s *sheets.Sheet, r reading) (whys []string) {
	if r.why != "" {
		whys = append(whys, quote(c.Name+thenReason)+" || "+r.why)
	}
	if c.Must || c.Kind == sheets.ID {
		whys = append(whys, fmt.Sprintf("CASE WHEN s.%s IS NULL THEN %s END", quoteName(c.Name),
			quote(c.Name+thenReason+"is empty, but a row needs it")))
	}
	return whys
}

// rowRules are problems of a row that no single cell shows.
var rowRules = map[string][]string{
	"measurements": append(tapeRules(), rule("clothing", "the foot is measured bare; tucked numbers are of the leg",
		"{clothing} = 'tucked' AND {point} IN ('length', 'breadth', 'ball', 'instep', 'heel')")),
	"repeats": tapeRules(),
}

func tapeRules() []string {
	return []string{
		rule("height", "is empty, but a leg girth needs the height of the tape above the floor", "{point} = 'leg' AND s.height IS NULL"),
		rule("height", "is given, but only the point leg has a height", "s.height IS NOT NULL AND {point} <> 'leg' AND trim(s.height) <> ''"),
	}
}

func rule(column, reason, when string) string {
	return fmt.Sprintf("CASE WHEN %s THEN %s END", when, quote(column+thenReason+reason))
}
