package load

import (
	"context"
	_ "embed"
	"fmt"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
)

//go:embed sql/summarize.sql
var summarizeSQL string

// summarizeForms makes the table summaries of what the staged numbers of each form amount
// to. The rows of a form stand together, or are put so, and are taken by place; a
// form that a border cuts through is summed up again as a whole.
func (l *loader) summarizeForms(ctx context.Context, rows int64) error {
	forms, err := l.summarizeByPlace(ctx, rows)
	if err != nil {
		return err
	}
	if err := l.groupCarefully(ctx, forms); err != nil {
		return err
	}
	cut, err := l.findSplitForms(ctx)
	if err != nil || cut == 0 {
		return err
	}
	if cut > l.opt.limits.summedRows { // the forms that were looked at were not like the others
		if err := l.sortByForm(ctx); err != nil {
			return err
		}
		if _, err = l.summarizeByPlace(ctx, rows); err != nil {
			return err
		}
		if cut, err = l.findSplitForms(ctx); err != nil || cut == 0 {
			return err
		}
	}
	if err := l.exec(ctx, "DELETE FROM summaries WHERE form_id IN (SELECT form_id FROM split_forms)"); err != nil {
		return err
	}
	return l.summarizeInParts(ctx, cut, "(FROM valid_numbers WHERE form_id IN (SELECT form_id FROM split_forms))")
}

// summarizeByPlace sums up the rows between two places at a time, and says of how many
// forms.
func (l *loader) summarizeByPlace(ctx context.Context, rows int64) (forms int64, err error) {
	first, err := engine.Number(ctx, l.conn, "SELECT coalesce(min(nth), 0) FROM staged")
	if err != nil {
		return 0, err
	}
	into, lo := "CREATE OR REPLACE TEMP TABLE summaries AS ", int64(0)
	for {
		hi, err := l.border(ctx, first, lo+l.opt.limits.summedRows, rows)
		if err != nil {
			return 0, err
		}
		if err := l.exec(ctx, into+bookfile.FormNumbers(fmt.Sprintf("(FROM valid_numbers WHERE nth >= %d AND nth < %d)", first+lo, first+hi))); err != nil {
			return 0, err
		}
		if hi >= rows {
			break
		}
		into, lo = "INSERT INTO summaries ", hi
	}
	return engine.Number(ctx, l.conn, "SELECT count(*) FROM summaries")
}

// border is where the rows end that are taken with those before row at: there,
// or a little further where a form ends.
func (l *loader) border(ctx context.Context, first, at, rows int64) (int64, error) {
	const aLittle = 200
	if at >= rows {
		return rows, nil
	}
	return engine.Number(ctx, l.conn, engine.Section(summarizeSQL, "border", "{at}", fmt.Sprint(at), "{first}", fmt.Sprint(first), "{little}", fmt.Sprint(aLittle)))
}

// findSplitForms makes the table split_forms of the forms whose rows were not summed
// up together, and counts the rows.
func (l *loader) findSplitForms(ctx context.Context) (rows int64, err error) {
	if err := l.exec(ctx, engine.Section(summarizeSQL, "split")); err != nil {
		return 0, err
	}
	return engine.Number(ctx, l.conn, "SELECT coalesce(sum(rows), 0)::BIGINT FROM split_forms")
}

// summarizeInParts adds to summaries what the numbers of each form amount to, of n rows from
// anywhere, a part of the forms at a time.
func (l *loader) summarizeInParts(ctx context.Context, n int64, rows string) error {
	parts := 1 + n/l.opt.limits.summedRows
	for k := range parts {
		part := fmt.Sprintf("(SELECT * FROM %s WHERE hash(form_id) %% %d = %d)", rows, parts, k)
		if err := l.exec(ctx, "INSERT INTO summaries "+bookfile.FormNumbers(part)); err != nil {
			return err
		}
	}
	return nil
}
