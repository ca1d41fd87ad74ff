package load

import (
	"context"
	"fmt"
	"slices"

	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
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
		text += engine.Section(checksSQL, "rows")
	default:
		text += engine.Section(checksSQL, "keys")
	}
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	return l.makeOK(ctx, s)
}

// makeOK makes the view ok_<sheet> of the good rows that are taken. Rows are
// looked up among those left out only where some were left out for another
// reason than their own cells.
func (l *loader) makeOK(ctx context.Context, s *sheets.Sheet) error {
	out := ""
	for _, table := range []string{"kept_{s}", "twice_{s}"} {
		others, err := engine.Number(ctx, l.conn, l.fill(s, "SELECT count(*) FROM good_{s} SEMI JOIN "+table+" USING (ord) WHERE why IS NULL"))
		if err != nil {
			return err
		}
		if others > 0 {
			out += " AND ord NOT IN (SELECT ord FROM " + table + ")"
		}
	}
	views := "CREATE OR REPLACE TEMP VIEW ok_{s} AS SELECT * EXCLUDE (why) FROM good_{s} WHERE why IS NULL" + out + ";\n"
	if s.Name == "measurements" { // the same rows as the book keeps them
		views += "CREATE OR REPLACE TEMP VIEW ok_coded AS SELECT ord, form_id, place_id, reading_id FROM coded WHERE NOT bad" + out + ";\n"
	}
	return l.runSteps(ctx, s, views)
}

// keepOutMeasurements does the same for the measurements by way of their
// forms: what the numbers of each form amount to (seen) shows which forms need
// a closer look.
func (l *loader) keepOutMeasurements(ctx context.Context, s *sheets.Sheet) error {
	if err := l.seeForms(ctx, l.rowsOf(s)); err != nil {
		return err
	}
	text := "CREATE OR REPLACE TEMP TABLE twice_{s} (ord BIGINT);\n" + engine.Section(checksSQL, "places")
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	if err := l.makeOK(ctx, s); err != nil {
		return err
	}
	text = "DELETE FROM seen WHERE twins;\n" +
		"INSERT INTO seen " + numbersOf("(SELECT *, "+orderbook.RowHash+" AS row_hash FROM ok_measurements WHERE form_id IN (SELECT form_id FROM many))") + ";\n" +
		l.orphans(s, "seen", "form_id", "forms") +
		"DELETE FROM seen WHERE form_id IN (SELECT form_id FROM lost);\n"
	if err := l.runSteps(ctx, s, text); err != nil {
		return err
	}
	return l.makeOK(ctx, s)
}

// orphans keeps out rows that name a key which neither the load nor the book
// holds. A row of the load that is itself kept out counts as there: mending it
// is enough. from is where the keys of the load stand.
func (l *loader) orphans(s *sheets.Sheet, from, column, other string) string {
	known := fmt.Sprintf("SELECT %s FROM %s", column, other)
	if len(l.fresh(other)) > 0 && !slices.Contains(l.dropped, other) {
		known += fmt.Sprintf(" UNION ALL SELECT %s FROM stage_%s WHERE %s IS NOT NULL", column, other, column)
	}
	return fmt.Sprintf(`CREATE OR REPLACE TEMP TABLE lost AS SELECT %[1]s FROM %[2]s WHERE %[1]s IS NOT NULL EXCEPT (%[3]s);
INSERT INTO kept_{s} SELECT ord, %[4]s || chr(31) || 'is on no row of the sheet %[5]s, in this load or in the book'
	FROM good_{s} WHERE why IS NULL AND %[1]s IN (SELECT %[1]s FROM lost) AND ord NOT IN (SELECT ord FROM kept_{s});
`, column, from, known, engine.Quote(column), other)
}
