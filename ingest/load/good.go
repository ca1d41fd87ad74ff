package load

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"lastroom/ingest/engine"
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

// A stagedQuery reads staged texts of a sheet, in parts: the book's columns,
// the joins to words, and what can be wrong with a row.
type stagedQuery struct {
	sheet    *sheets.Sheet
	table    string // where the texts stand
	readings map[string]reading
	cols     []string
	joins    []string
	problems []problem
	texts    []string
}

// A problem is something that can be wrong with a row: when, and the text of
// which cell and why.
type problem struct{ when, text string }

// newStagedQuery reads the named columns of a sheet from a table that holds
// them as staged texts.
func newStagedQuery(s *sheets.Sheet, books map[string]*wordbook, table string, columns []string) *stagedQuery {
	q := &stagedQuery{sheet: s, table: table, readings: map[string]reading{}}
	for _, c := range s.Columns {
		if c.IsUnit() || !slices.Contains(columns, c.Name) {
			continue
		}
		r := read(c, books[bookOf(c)])
		q.readings[c.Name] = r
		for _, name := range bookColumns(c) {
			q.cols = append(q.cols, stored(s, name, r.value[name])+" AS "+name)
		}
		q.texts = append(q.texts, "s."+engine.QuoteName(c.Name))
		if r.join != "" {
			q.joins = append(q.joins, r.join)
		}
		q.problems = append(q.problems, problems(c, r)...)
	}
	return q
}

// withRules adds what no single cell shows.
func (q *stagedQuery) withRules() *stagedQuery {
	q.problems = append(q.problems, rowRules[q.sheet.Name]...)
	return q
}

// firstRow is the rowid of the first staged row: rows added in the same
// transaction are numbered from a high number on.
func (l *loader) firstRow(ctx context.Context, stage string) (int64, error) {
	return engine.Number(ctx, l.conn, "SELECT coalesce(min(rowid), 0) FROM "+stage)
}

func (q *stagedQuery) from() string {
	return " FROM " + q.table + " s " + strings.Join(q.joins, " ")
}

// blank is whether there is nothing in a row.
func (q *stagedQuery) blank() string { return "coalesce(" + strings.Join(q.texts, ", ") + ") IS NULL" }

// bad is whether anything is wrong with a row.
func (q *stagedQuery) bad() string {
	var whens []string
	for _, p := range q.problems {
		whens = append(whens, "coalesce("+p.when+", false)")
	}
	return q.named("(" + strings.Join(whens, " OR ") + ")")
}

// why is the text of all that is wrong with a row; NULL when nothing is, which
// is seen before any text is made.
func (q *stagedQuery) why() string {
	var texts []string
	for _, p := range q.problems {
		texts = append(texts, "CASE WHEN "+p.when+" THEN "+p.text+" END")
	}
	return "CASE WHEN " + q.bad() + " THEN " + q.named("concat_ws(chr(30), "+strings.Join(texts, ", ")+")") + " END"
}

// named puts the values of columns for their names in braces.
func (q *stagedQuery) named(text string) string {
	var pairs []string
	for name, r := range q.readings {
		pairs = append(pairs, "{"+name+"}", r.value[name])
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// rows is the whole query, of rows with anything in them: ord (the place in the
// staging table), the book's columns, and why.
func (q *stagedQuery) rows(ord string) string {
	return fmt.Sprintf("SELECT %s AS ord, %s, %s AS why%s WHERE NOT (%s)", ord, strings.Join(q.cols, ", "), q.why(), q.from(), q.blank())
}

// meaning is the query of what numbered texts mean: no, the book's columns, bad
// and blank.
func (q *stagedQuery) meaning() string {
	return fmt.Sprintf("SELECT s.no, %s, %s AS bad, %s AS blank%s", strings.Join(q.cols, ", "), q.bad(), q.blank(), q.from())
}

// good makes good_<sheet>: the staged rows with their cells read, by the book's
// column names, with ord and why; and kept_<sheet>, those that are not taken for
// what is in them.
func (l *loader) good(ctx context.Context, s *sheets.Sheet, books map[string]*wordbook) error {
	if s.Name == "measurements" {
		return l.goodMeasurements(ctx, s, books)
	}
	stage := "stage_" + s.Name
	first, err := l.firstRow(ctx, stage)
	if err != nil {
		return err
	}
	q := newStagedQuery(s, books, stage, staged(s)).withRules()
	return l.runSteps(ctx, s, "CREATE OR REPLACE TEMP TABLE good_{s} AS "+q.rows(fmt.Sprintf("s.rowid - %d", first))+";\n"+
		"CREATE OR REPLACE TEMP TABLE kept_{s} AS SELECT ord, why FROM good_{s} WHERE why IS NOT NULL;\n")
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
	cell := "s." + engine.QuoteName(c.Name)
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
	w, cell := engine.QuoteName("w_"+c.Name), "s."+engine.QuoteName(c.Name)
	r := reading{value: map[string]string{}, why: w + ".why"}
	r.join = fmt.Sprintf("LEFT JOIN words %s ON %s.book = %d AND %s.t = %s", w, w, b.number, w, cell)
	if c.Kind == sheets.Length {
		r.join += fmt.Sprintf(" AND %s.u = s.%s", w, engine.QuoteName(c.Name+"_u"))
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
	cell := "s." + engine.QuoteName(c.Name)
	var values, whys []string
	plain := true
	for _, e := range b.entries {
		is := "WHEN " + engine.Quote(e.text) + " THEN "
		switch {
		case e.why != "":
			whys = append(whys, is+engine.Quote(e.why))
			plain = false
		case c.Kind == sheets.YesNo:
			plain = false
			if e.value.Known {
				values = append(values, is+fmt.Sprint(e.value.Yes))
			}
		default:
			plain = plain && e.value.Text == e.text
			values = append(values, is+engine.Quote(e.value.Text))
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

// problems are what can be wrong with a cell.
func problems(c sheets.Column, r reading) (out []problem) {
	if r.why != "" {
		out = append(out, problem{r.why + " IS NOT NULL", engine.Quote(c.Name+thenReason) + " || " + r.why})
	}
	if c.Must || c.Kind == sheets.ID {
		out = append(out, rule(c.Name, "is empty, but a row needs it", "s."+engine.QuoteName(c.Name)+" IS NULL"))
	}
	return out
}

// rowRules are problems of a row that no single cell shows.
var rowRules = map[string][]problem{
	"measurements": append(tapeRules(), rule("clothing", "the foot is measured bare; tucked numbers are of the leg",
		"{clothing} = 'tucked' AND {point} IN ('length', 'breadth', 'ball', 'instep', 'heel')")),
	"repeats": tapeRules(),
}

func tapeRules() []problem {
	return []problem{
		rule("height", "is empty, but a leg girth needs the height of the tape above the floor", "{point} = 'leg' AND s.height IS NULL"),
		rule("height", "is given, but only the point leg has a height", "s.height IS NOT NULL AND {point} <> 'leg' AND trim(s.height) <> ''"),
	}
}

func rule(column, reason, when string) problem {
	return problem{when, engine.Quote(column + thenReason + reason)}
}
