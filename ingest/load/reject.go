package load

import (
	"context"
	_ "embed"
	"fmt"
	"slices"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/reject.sql
var rejectSQL string

// rejectConflicts gathers in rejected_<sheet> the rows that are not taken for what
// stands on other rows, with the reasons, and in duplicate_<sheet> those that repeat
// another row of the load to the letter. What is left is the view accepted_<sheet>.
// Many keys are grouped by one thread, here and where the caller compares them with
// the book; it calls allThreads.
func (l *loader) rejectConflicts(ctx context.Context, s *sheets.Sheet) error {
	if s.Name == "measurements" {
		return l.rejectMeasurements(ctx, s)
	}
	if err := l.groupCarefully(ctx, l.rowsOf(s)); err != nil {
		return err
	}
	if err := l.runSteps(ctx, s, engine.Section(rejectSQL, "start")); err != nil {
		return err
	}
	for _, column := range []string{"order_id", "form_id"} {
		if other, ok := s.Refs[column]; ok {
			if err := l.rejectOrphans(ctx, s, "valid_{s}", column, other); err != nil {
				return err
			}
		}
	}
	text, conflicts := "", "keys"
	if _, ok := s.Column("outcome_id"); ok {
		text = engine.Section(rejectSQL, "numbered rows")
	}
	if s.Set {
		conflicts = "rows"
	}
	if err := l.runSteps(ctx, s, text+engine.Section(rejectSQL, "repeated "+conflicts)); err != nil {
		return err
	}
	repeated, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM repeated")
	if err != nil {
		return err
	}
	if repeated > 0 {
		if err := l.runSteps(ctx, s, engine.Section(rejectSQL, conflicts)); err != nil {
			return err
		}
	}
	return l.makeAccepted(ctx, s)
}

// rejectMeasurements does the same for the measurements by way of their forms: what
// the numbers of each form amount to shows which forms need a closer look.
func (l *loader) rejectMeasurements(ctx context.Context, s *sheets.Sheet) error {
	if err := l.summarizeForms(ctx, l.rowsOf(s)); err != nil {
		return err
	}
	if err := l.runSteps(ctx, s, engine.Section(rejectSQL, "start")); err != nil {
		return err
	}
	twice, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM summaries WHERE duplicates")
	if err != nil {
		return err
	}
	if twice > 0 {
		if err := l.runSteps(ctx, s, engine.Section(rejectSQL, "places")); err != nil {
			return err
		}
		if err := l.makeAccepted(ctx, s); err != nil {
			return err
		}
		again := bookfile.FormNumbers("(SELECT *, " + bookfile.RowHash + " AS row_hash FROM accepted_measurements WHERE form_id IN (SELECT form_id FROM key_counts))")
		if err := l.runSteps(ctx, s, engine.Section(rejectSQL, "closer look", "{summaries}", again)); err != nil {
			return err
		}
	}
	if err := l.rejectOrphans(ctx, s, "summaries", "form_id", "forms"); err != nil {
		return err
	}
	return l.makeAccepted(ctx, s)
}

// rejectOrphans rejects rows that name a key which neither the load nor the book holds.
// A row of the load that is itself rejected counts as there: mending it is enough.
// from is where the keys of the load stand.
func (l *loader) rejectOrphans(ctx context.Context, s *sheets.Sheet, from, column, other string) error {
	staged := ""
	if len(l.fresh(other)) > 0 && !slices.Contains(l.dropped, other) {
		staged = fmt.Sprintf(" UNION ALL SELECT %[1]s FROM stage_%[2]s WHERE %[1]s IS NOT NULL", column, other)
	}
	if err := l.runSteps(ctx, s, engine.Section(rejectSQL, "orphans", "{column}", column, "{from}", from, "{other}", other, "{staged}", staged)); err != nil {
		return err
	}
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM orphans")
	if n == 0 || err != nil {
		return err
	}
	text := engine.Section(rejectSQL, "rows of orphans", "{column}", column, "{other}", other)
	if s.Name == "measurements" {
		text += engine.Section(rejectSQL, "without orphans")
	}
	return l.runSteps(ctx, s, text)
}

// makeAccepted makes the view accepted_<sheet> of the valid rows that are taken. Rows
// are looked up among those left out only where some were left out for another reason
// than their own cells.
func (l *loader) makeAccepted(ctx context.Context, s *sheets.Sheet) error {
	var rejected, duplicate bool
	if err := l.conn.QueryRowContext(ctx, l.fill(s, engine.Section(rejectSQL, "others"))).Scan(&rejected, &duplicate); err != nil {
		return err
	}
	but := ""
	if rejected {
		but += " AND ord NOT IN (SELECT ord FROM rejected_{s})"
	}
	if duplicate {
		but += " AND ord NOT IN (SELECT ord FROM duplicate_{s})"
	}
	views := engine.Section(rejectSQL, "accepted", "{but}", but)
	if s.Name == "measurements" {
		views += engine.Section(rejectSQL, "accepted numbers", "{but}", but)
	}
	return l.runSteps(ctx, s, views)
}
