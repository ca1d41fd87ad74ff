package load

import (
	"context"
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/validate.sql
var validateSQL string

// validate makes valid_<sheet>: the staged rows with their cells read, by the book's
// column names, with ord and why; and rejected_<sheet>, those that are not taken for
// what is in them.
func (l *loader) validate(ctx context.Context, s *sheets.Sheet, dictionaries map[string]*dictionary) error {
	if s.Name == "measurements" {
		return l.validateMeasurements(ctx, s, dictionaries)
	}
	stage := "stage_" + s.Name
	first, err := l.firstRow(ctx, stage)
	if err != nil {
		return err
	}
	q := newStagedQuery(s, dictionaries, stage, staged(s)).withRules()
	return l.runSteps(ctx, s, engine.Section(validateSQL, "sheet", "{rows}", q.rows(fmt.Sprintf("s.rowid - %d", first))))
}

// validateMeasurements makes valid_measurements, the rows with their cells read, of
// their numbers and what these mean. The texts that say why a row is kept out
// are made for the rows in question only.
func (l *loader) validateMeasurements(ctx context.Context, s *sheets.Sheet, dictionaries map[string]*dictionary) error {
	if err := l.clusterForms(ctx, l.rowsOf(s)); err != nil {
		return err
	}
	meaning := engine.Section(validateSQL, "measurements", "{place}", newStagedQuery(s, dictionaries, placeTexts.name, placeTexts.columns).withRules().meaning(),
		"{value}", newStagedQuery(s, dictionaries, valueTexts.name, valueTexts.columns).meaning())
	if err := engine.Script(ctx, l.conn, meaning); err != nil {
		return err
	}
	bad, err := engine.Number(ctx, l.conn, engine.Section(validateSQL, "any"))
	if err != nil || bad == 0 {
		return err
	}
	why := newStagedQuery(s, dictionaries, "stage_bad", staged(s)).withRules().rows("s.ord")
	return engine.Script(ctx, l.conn, engine.Section(validateSQL, "bad", "{why}", why))
}

// clusterForms makes the view staged of the staged measurements, and puts the rows of
// each form together where they are not, as in a sheet sorted by point: a hundred
// forms tell.
func (l *loader) clusterForms(ctx context.Context, rows int64) error {
	first, err := l.firstRow(ctx, "stage_measurements")
	if err != nil {
		return err
	}
	if err := engine.Script(ctx, l.conn, engine.Section(validateSQL, "as read", "{first}", fmt.Sprint(first))); err != nil {
		return err
	}
	var n, spread int64
	q := engine.Section(validateSQL, "scattered", "{step}", fmt.Sprint(1+rows/100))
	if err := l.conn.QueryRowContext(ctx, q).Scan(&n, &spread); err != nil || spread <= 2*n {
		return err
	}
	return l.sortByForm(ctx)
}

// sortByForm puts the staged rows of each form together.
func (l *loader) sortByForm(ctx context.Context) error {
	if err := engine.Script(ctx, l.conn, engine.Section(validateSQL, "together")); err != nil {
		return err
	}
	return l.commit(ctx)
}

// fewTexts is up to how many different texts a column is translated in place
// instead of by a join.
const fewTexts = 12

// A reading is how the cells of one column are read in SQL.
type reading struct {
	join  string // a join to the dictionary, if needed
	why   string // why a cell can't be read, or empty
	value map[string]string
}

// A stagedQuery reads staged texts of a sheet, in parts: the book's columns,
// the joins to the dictionary, and what can be wrong with a row.
type stagedQuery struct {
	sheet    *sheets.Sheet
	table    string // where the texts stand
	readings map[string]reading
	cols     []string
	joins    []string
	problems []cells.Problem
	texts    []string
}

// newStagedQuery reads the named columns of a sheet from a table that holds
// them as staged texts.
func newStagedQuery(s *sheets.Sheet, dictionaries map[string]*dictionary, table string, columns []string) *stagedQuery {
	q := &stagedQuery{sheet: s, table: table, readings: map[string]reading{}}
	for _, c := range s.Columns {
		if c.IsUnit() || !slices.Contains(columns, c.Name) {
			continue
		}
		r := read(c, dictionaries[dictionaryName(c)])
		q.readings[c.Name] = r
		for _, name := range cells.Columns(c) {
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
	q.problems = append(q.problems, cells.RowRules[q.sheet.Name]...)
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
		whens = append(whens, "coalesce("+p.When+", false)")
	}
	return q.named("(" + strings.Join(whens, " OR ") + ")")
}

// why is the text of all that is wrong with a row; NULL when nothing is, which
// is seen before any text is made.
func (q *stagedQuery) why() string {
	var texts []string
	for _, p := range q.problems {
		texts = append(texts, "CASE WHEN "+p.When+" THEN "+p.Text+" END")
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

// read says how a column is read, given the texts it holds.
func read(c sheets.Column, d *dictionary) reading {
	if d == nil {
		return reading{value: map[string]string{c.Name: "s." + engine.QuoteName(c.Name)}}
	}
	words := c.Kind == sheets.YesNo || c.Kind == sheets.Word || c.Kind == sheets.Open
	switch {
	case words && len(d.cells) <= fewTexts:
		return inPlace(c, d)
	case c.Kind == sheets.Length:
		return joined(c, d, map[string]string{c.Name + "_mm": "number", c.Written(): "", "unit": "unit"})
	case c.Kind == sheets.YesNo:
		return joined(c, d, map[string]string{c.Name: "yes"})
	case words:
		return joined(c, d, map[string]string{c.Name: "word"})
	case c.Kind == sheets.Day:
		return joined(c, d, map[string]string{c.Name: "day"})
	}
	return joined(c, d, map[string]string{c.Name: "number"})
}

// joined reads a column by a join to its dictionary. An empty source is the text
// of the cell itself.
func joined(c sheets.Column, d *dictionary, from map[string]string) reading {
	w, cell := engine.QuoteName("w_"+c.Name), "s."+engine.QuoteName(c.Name)
	r := reading{value: map[string]string{}, why: w + ".why"}
	r.join = fmt.Sprintf("LEFT JOIN dictionary %s ON %s.kind = %d AND %s.t = %s", w, w, d.number, w, cell)
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
	if !d.refuses() {
		r.why = ""
	}
	return r
}

// refuses reports whether any text of the dictionary can't be read.
func (d *dictionary) refuses() bool {
	for _, e := range d.cells {
		if e.Why != "" {
			return true
		}
	}
	return false
}

// inPlace reads a column of few different texts by a CASE; words that stand in
// the sheet as they stand in the book are taken as they are.
func inPlace(c sheets.Column, d *dictionary) reading {
	cell := "s." + engine.QuoteName(c.Name)
	var values, whys []string
	plain := true
	for _, e := range d.cells {
		is := "WHEN " + engine.Quote(e.Text) + " THEN "
		switch {
		case e.Why != "":
			whys = append(whys, is+engine.Quote(e.Why))
			plain = false
		case c.Kind == sheets.YesNo:
			plain = false
			if e.Value.Known {
				values = append(values, is+fmt.Sprint(e.Value.Yes))
			}
		default:
			plain = plain && e.Value.Text == e.Text
			values = append(values, is+engine.Quote(e.Value.Text))
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
		return "NULL::VARCHAR" // a bare NULL would be a number
	}
	return "CASE " + cell + " " + strings.Join(whens, " ") + " END"
}

// problems are what can be wrong with a cell.
func problems(c sheets.Column, r reading) (out []cells.Problem) {
	if r.why != "" {
		out = append(out, cells.Problem{When: r.why + " IS NOT NULL", Text: engine.Quote(c.Name+cells.ThenReason) + " || " + r.why})
	}
	if c.Must || c.Kind == sheets.ID {
		out = append(out, cells.Rule(c.Name, "is empty, but a row needs it", "s."+engine.QuoteName(c.Name)+" IS NULL"))
	}
	return out
}
