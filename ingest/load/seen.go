package load

import (
	"context"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/engine"
)

//go:embed sql/form_numbers.sql
var formNumbersSQL string

// numbersOf is the query of what the numbers of each form amount to, for
// measurements with their ord and row_hash.
func numbersOf(rows string) string {
	d := form.DefaultScheme
	return strings.NewReplacer("{rows}", rows, "{heights}", fmt.Sprint(form.MostHeights), "{first}", fmt.Sprint(d.FirstMM),
		"{step}", fmt.Sprint(d.StepMM), "{within}", fmt.Sprint(d.ToleranceMM)).Replace(formNumbersSQL)
}

// atATime is how many measurements are summed up at a time: few enough that what
// is kept of their forms' places fits in memory by far. Where three million places
// went to disk under WriteMemory the engine crashed (DuckDB 1.4.1, combining the
// partitions of an aggregate). A variable so that a test can cut through forms.
var atATime int64 = 1_000_000

// seeForms makes the table seen of what the staged numbers of each form amount
// to. The rows of a form stand together, or are put so, and are taken by place; a
// form that a border cuts through is summed up again as a whole.
func (l *loader) seeForms(ctx context.Context, rows int64) error {
	forms, err := l.seeByPlace(ctx, rows)
	if err != nil {
		return err
	}
	if forms > manyKeys {
		if err := l.exec(ctx, engine.OneThread); err != nil {
			return err
		}
	}
	cut, err := l.cutThrough(ctx)
	if err != nil || cut == 0 {
		return err
	}
	if cut > atATime { // the forms that were looked at were not like the others
		if err := l.putTogether(ctx); err != nil {
			return err
		}
		if _, err = l.seeByPlace(ctx, rows); err != nil {
			return err
		}
		if cut, err = l.cutThrough(ctx); err != nil || cut == 0 {
			return err
		}
	}
	if err := l.exec(ctx, "DELETE FROM seen WHERE form_id IN (SELECT form_id FROM cut_through)"); err != nil {
		return err
	}
	return l.inParts(ctx, cut, "(FROM coded_numbers WHERE form_id IN (SELECT form_id FROM cut_through))")
}

// seeByPlace sums up the rows between two places at a time, and says of how many
// forms.
func (l *loader) seeByPlace(ctx context.Context, rows int64) (forms int64, err error) {
	first, err := engine.Number(ctx, l.conn, "SELECT coalesce(min(nth), 0) FROM staged")
	if err != nil {
		return 0, err
	}
	into, lo := "CREATE OR REPLACE TEMP TABLE seen AS ", int64(0)
	for {
		hi, err := l.border(ctx, first, lo+atATime, rows)
		if err != nil {
			return 0, err
		}
		if err := l.exec(ctx, into+numbersOf(fmt.Sprintf("(FROM coded_numbers WHERE nth >= %d AND nth < %d)", first+lo, first+hi))); err != nil {
			return 0, err
		}
		if hi >= rows {
			break
		}
		into, lo = "INSERT INTO seen ", hi
	}
	return engine.Number(ctx, l.conn, "SELECT count(*) FROM seen")
}

// border is where the rows end that are taken with those before row at: there,
// or a little further where a form ends.
func (l *loader) border(ctx context.Context, first, at, rows int64) (int64, error) {
	const aLittle = 200
	if at >= rows {
		return rows, nil
	}
	return engine.Number(ctx, l.conn, fmt.Sprintf(`SELECT coalesce(min(place) FILTER (form_id IS DISTINCT FROM before), %[1]d) FROM (
	SELECT nth - %[2]d AS place, form_id, lag(form_id) OVER (ORDER BY nth) AS before
	FROM staged WHERE nth >= %[2]d + %[1]d - 1 AND nth < %[2]d + %[1]d + %[3]d) WHERE place >= %[1]d`, at, first, aLittle))
}

// cutThrough makes the table cut_through of the forms whose rows were not summed
// up together, and counts the rows.
func (l *loader) cutThrough(ctx context.Context) (rows int64, err error) {
	if err := l.exec(ctx, "CREATE OR REPLACE TEMP TABLE cut_through AS SELECT form_id, sum(numbers)::BIGINT AS rows FROM seen GROUP BY form_id HAVING count(*) > 1"); err != nil {
		return 0, err
	}
	return engine.Number(ctx, l.conn, "SELECT coalesce(sum(rows), 0)::BIGINT FROM cut_through")
}

// inParts adds to seen what the numbers of each form amount to, of n rows from
// anywhere, a part of the forms at a time.
func (l *loader) inParts(ctx context.Context, n int64, rows string) error {
	parts := 1 + n/atATime
	for k := range parts {
		part := fmt.Sprintf("(SELECT * FROM %s WHERE hash(form_id) %% %d = %d)", rows, parts, k)
		if err := l.exec(ctx, "INSERT INTO seen "+numbersOf(part)); err != nil {
			return err
		}
	}
	return nil
}
