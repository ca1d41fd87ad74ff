package orderbook

import (
	"context"
	"fmt"
	"strings"

	"lastroom/ingest/sheets"
)

// content are the book's columns of a sheet, which a row of it fills.
func content(s *sheets.Sheet) (names []string) {
	for _, c := range s.Columns {
		if !c.IsUnit() {
			names = append(names, bookColumns(c)...)
		}
	}
	return names
}

// keepOut gathers in kept_<sheet> the rows that are not taken, with the
// reasons, and in twice_<sheet> those that repeat another row of the load to
// the letter. What is left is the view ok_<sheet>.
func (l *loader) keepOut(ctx context.Context, s *sheets.Sheet) error {
	text := "CREATE OR REPLACE TEMP TABLE twice_{s} (ord BIGINT);\n"
	for _, column := range []string{"order_id", "form_id"} {
		if other, ok := s.Refs[column]; ok && s.Name != "measurements" {
			text += l.orphans(s, "good_{s}", column, other)
		}
	}
	switch {
	case s.Name == "measurements":
		return l.keepOutMeasurements(ctx, s)
	case s.Set:
		text += section(checksSQL, "rows")
	default:
		text += section(checksSQL, "keys")
	}
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	return l.makeOK(ctx, s)
}

// section is the part of an SQL file under a line `-- part: name`.
func section(text, name string) string {
	_, body, _ := strings.Cut(text, "-- part: "+name+"\n")
	body, _, _ = strings.Cut(body, "-- part: ")
	return body
}

// makeOK makes the view ok_<sheet> of the good rows that are taken. Rows are
// looked up among those left out only where some were left out for another
// reason than their own cells.
func (l *loader) makeOK(ctx context.Context, s *sheets.Sheet) error {
	out := ""
	for _, table := range []string{"kept_{s}", "twice_{s}"} {
		others, err := l.number(ctx, l.fill(s, "SELECT count(*) FROM good_{s} SEMI JOIN "+table+" USING (ord) WHERE why IS NULL"))
		if err != nil {
			return err
		}
		if others > 0 {
			out += " AND ord NOT IN (SELECT ord FROM " + table + ")"
		}
	}
	views := "CREATE OR REPLACE TEMP VIEW ok_{s} AS SELECT * EXCLUDE (why) FROM good_{s} WHERE why IS NULL" + out + ";\n"
	if s.Name == "measurements" { // the same rows, without the joins to their words
		views += "CREATE OR REPLACE TEMP VIEW ok_coded AS SELECT ord, form_id FROM coded WHERE NOT bad" + out + ";\n"
	}
	return l.runSteps(ctx, s, views)
}

// keepOutMeasurements does the same for the measurements by way of their
// forms: what the numbers of each form amount to (seen) shows which forms need
// a closer look.
func (l *loader) keepOutMeasurements(ctx context.Context, s *sheets.Sheet) error {
	last, err := l.number(ctx, "SELECT coalesce(max(ord), 0) FROM coded")
	if err != nil {
		return err
	}
	text := "CREATE OR REPLACE TEMP TABLE twice_{s} (ord BIGINT);\n" + seeForms(last) + section(checksSQL, "places")
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	if err := l.makeOK(ctx, s); err != nil {
		return err
	}
	text = "DELETE FROM seen WHERE twins;\n" +
		"INSERT INTO seen " + numbersOf("(SELECT *, "+rowHash+" AS row_hash FROM ok_measurements WHERE form_id IN (SELECT form_id FROM many))") + ";\n" +
		l.orphans(s, "seen", "form_id", "forms") +
		"DELETE FROM seen WHERE form_id IN (SELECT form_id FROM lost);\n"
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	return l.makeOK(ctx, s)
}

// atATime is how many measurements are summed up at a time: few enough that
// their places fit in memory by far. With three million the engine went to disk
// for them under loadMemory, and crashed doing so (DuckDB 1.4.1, combining the
// partitions of an aggregate). A variable so that a test can cut through forms.
var atATime int64 = 1_000_000

// seeForms makes the table seen from the measurements up to place last. The
// rows of a form mostly stand together, so they are taken by place; a form that
// a border cuts through is summed up again as a whole.
func seeForms(last int64) string {
	between := func(at int64) string {
		return numbersOf(fmt.Sprintf("(FROM coded_numbers WHERE ord >= %d AND ord < %d)", at, at+atATime)) + ";\n"
	}
	text := "CREATE OR REPLACE TEMP TABLE seen AS " + between(0)
	if last < atATime {
		return text
	}
	for at := atATime; at <= last; at += atATime {
		text += "INSERT INTO seen " + between(at)
	}
	return text + "CREATE OR REPLACE TEMP TABLE cut_through AS SELECT form_id FROM seen GROUP BY form_id HAVING count(*) > 1;\n" +
		"DELETE FROM seen WHERE form_id IN (FROM cut_through);\n" +
		"INSERT INTO seen " + numbersOf("(FROM coded_numbers WHERE form_id IN (FROM cut_through))") + ";\n"
}

// rowHash is the hash of what a row of measurements says of its form. What was
// written hangs on few words, so that their hashes can be had beforehand.
const rowHash = `hash(side, clothing, point, CASE WHEN height_mm IS NOT NULL THEN hash(height_mm, height_written) END,
	hash(value_mm, value_written, unit))`

// numbersOf is the query of what the numbers of each form amount to, for
// measurements with their ord and row_hash.
func numbersOf(rows string) string { return strings.ReplaceAll(formNumbersSQL, "{rows}", rows) }

// orphans keeps out rows that name a key which neither the load nor the book
// holds. A row of the load that is itself kept out counts as there: mending it
// is enough. from is where the keys of the load stand.
func (l *loader) orphans(s *sheets.Sheet, from, column, other string) string {
	known := fmt.Sprintf("SELECT %s FROM %s", column, other)
	if len(l.fresh(other)) > 0 {
		known += fmt.Sprintf(" UNION ALL SELECT %s FROM stage_%s WHERE %s IS NOT NULL", column, other, column)
	}
	return fmt.Sprintf(`CREATE OR REPLACE TEMP TABLE lost AS SELECT %[1]s FROM %[2]s WHERE %[1]s IS NOT NULL EXCEPT (%[3]s);
INSERT INTO kept_{s} SELECT ord, %[4]s || chr(31) || 'is on no row of the sheet %[5]s, in this load or in the book'
	FROM good_{s} WHERE why IS NULL AND %[1]s IN (SELECT %[1]s FROM lost) AND ord NOT IN (SELECT ord FROM kept_{s});
`, column, from, known, quote(column), other)
}
