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
	orphans := ""
	for _, column := range []string{"order_id", "form_id"} {
		if other, ok := s.Refs[column]; ok {
			orphans += l.orphans(s, column, other)
		}
	}
	parts := strings.Split(checksSQL, "-- part: ")
	text := parts[0] + orphans
	for _, part := range parts[1:] {
		name, body, _ := strings.Cut(part, "\n")
		if name == twins(s) {
			text += body
		}
	}
	return l.runSteps(ctx, s, text+parts[len(parts)-1][len("rest\n"):])
}

// twins names the part of load_checks.sql that deals with rows of one place.
func twins(s *sheets.Sheet) string {
	switch {
	case s.Name == "measurements":
		return "places"
	case s.Set:
		return "rows"
	}
	return "keys"
}

// orphans keeps out rows that name a key which neither the load nor the book
// holds. A row of the load that is itself kept out counts as there: mending it
// is enough.
func (l *loader) orphans(s *sheets.Sheet, column, other string) string {
	known := fmt.Sprintf("SELECT %s FROM %s", column, other)
	if len(l.fresh(other)) > 0 {
		known += fmt.Sprintf(" UNION ALL SELECT %s FROM stage_%s WHERE %s IS NOT NULL", column, other, column)
	}
	return fmt.Sprintf(`INSERT INTO kept_{s} SELECT ord, %s || chr(31) || 'is on no row of the sheet %s, in this load or in the book'
		FROM good_{s} WHERE why IS NULL AND %s IN (
			SELECT DISTINCT %s FROM good_{s} EXCEPT (%s));
`, quote(column), other, column, column, known)
}
