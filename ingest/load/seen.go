package load

import (
	"context"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/ingest/engine"
)

//go:embed sql/form_numbers.sql
var formNumbersSQL string

// sumUp is the query, or statement, in a part of form_numbers.sql.
func sumUp(part string, with ...string) string {
	with = append(with, "{scheme}", engine.Section(formNumbersSQL, "scheme"), "{bits}", engine.Section(formNumbersSQL, "bits"))
	return strings.NewReplacer(with...).Replace(engine.Section(formNumbersSQL, part))
}

// numbersOf is the query of what the numbers of each form amount to, for
// measurements with their ord and row_hash.
func numbersOf(rows string) string { return sumUp("rows", "{rows}", rows) }

// How many measurements are summed up at a time: few enough that what is kept of
// them fits in memory by far, a form's bits or, where they are grouped by place
// first, its places. Where three million places went to disk under orderbook.WriteMemory the
// engine crashed (DuckDB 1.4.1, combining the partitions of an aggregate).
// Variables so that a test can cut through forms.
var (
	formsAtATime  int64 = 4_000_000
	placesAtATime int64 = 1_000_000
)

// firstAtATime is how many are summed up first, which may all be of different
// forms; after that about as many forms at a time.
const firstAtATime = 250_000

// fewSpots is up to how many different places of a form, sides apart, are kept
// as bits of a form.
var fewSpots int64 = 512

// seeForms makes the table seen of what the staged numbers of each form amount
// to. The rows of a form mostly stand together, so they are taken by place; a
// form that a border cuts through is summed up again as a whole.
func (l *loader) seeForms(ctx context.Context, rows int64) error {
	first, err := l.firstRow(ctx, "stage_measurements")
	if err != nil {
		return err
	}
	between, most, err := l.summingUp(ctx, first)
	if err != nil {
		return err
	}
	into, atATime, forms := "CREATE OR REPLACE TEMP TABLE seen AS ", min(most, firstAtATime), int64(0)
	for lo, more := int64(0), true; more; {
		hi, err := l.border(ctx, first, lo+atATime, rows)
		if err != nil {
			return err
		}
		if err := l.exec(ctx, into+between(lo, hi)); err != nil {
			return err
		}
		if forms, err = engine.Number(ctx, l.conn, "SELECT count(*) FROM seen"); err != nil {
			return err
		}
		into, lo, more = "INSERT INTO seen ", hi, hi < rows
		atATime = min(most, max(firstAtATime/4, hi/max(forms, 1)*firstAtATime))
	}
	if forms > manyKeys {
		if err := l.exec(ctx, engine.OneThread); err != nil {
			return err
		}
	}
	return l.seeWhole(ctx)
}

// summingUp gives the query that sums up the staged rows between two places, and
// for how many rows it is good at a time.
func (l *loader) summingUp(ctx context.Context, first int64) (between func(lo, hi int64) string, most int64, err error) {
	if err := l.exec(ctx, sumUp("spots")); err != nil {
		return nil, 0, err
	}
	spots, err := engine.Number(ctx, l.conn, "SELECT coalesce(max(spot), 1) FROM spots")
	if err != nil {
		return nil, 0, err
	}
	if spots > fewSpots {
		return func(lo, hi int64) string {
			return numbersOf(fmt.Sprintf("(FROM coded_numbers WHERE ord >= %d AND ord < %d)", lo, hi))
		}, placesAtATime, nil
	}
	words, pairsSet, spotsSet := spotWords(spots)
	return func(lo, hi int64) string {
		return sumUp("staged", "{first}", fmt.Sprint(first), "{pairs set}", pairsSet, "{spots set}", spotsSet,
			"{lo}", fmt.Sprint(first+lo), "{hi}", fmt.Sprint(first+hi))
	}, formsAtATime, l.exec(ctx, sumUp("words", "{words}", words))
}

// spotWords are the columns of spot_words for places numbered from 1 to spots,
// and how many bits of each kind are set over some rows.
func spotWords(spots int64) (columns, pairsSet, spotsSet string) {
	const bits = 62
	set := map[string][]string{}
	var all []string
	for _, kind := range []string{"pair", "spot"} {
		for w := range spots/bits + 1 {
			name := fmt.Sprintf("%s_%d", kind, w)
			all = append(all, fmt.Sprintf("CASE WHEN %[1]s // %[2]d = %[3]d THEN 1::BIGINT << (%[1]s %% %[2]d) ELSE 0 END AS %[4]s", kind, bits, w, name))
			set[kind] = append(set[kind], "bit_count(bit_or("+name+"))")
		}
	}
	return strings.Join(all, ", "), strings.Join(set["pair"], " + "), strings.Join(set["spot"], " + ")
}

// border is where the rows end that are taken with those before row at: there,
// or a little further where a form ends.
func (l *loader) border(ctx context.Context, first, at, rows int64) (int64, error) {
	const aLittle = 200
	if at >= rows {
		return rows, nil
	}
	return engine.Number(ctx, l.conn, fmt.Sprintf(`SELECT coalesce(min(place) FILTER (form_id IS DISTINCT FROM before), %[1]d) FROM (
	SELECT rowid - %[2]d AS place, form_id, lag(form_id) OVER (ORDER BY rowid) AS before
	FROM stage_measurements WHERE rowid >= %[2]d + %[1]d - 1 AND rowid < %[2]d + %[1]d + %[3]d) WHERE place >= %[1]d`, at, first, aLittle))
}

// seeWhole sums the forms up again whose rows did not stand together, a part of
// them at a time.
func (l *loader) seeWhole(ctx context.Context) error {
	const split = "CREATE OR REPLACE TEMP TABLE cut_through AS SELECT form_id, sum(numbers)::BIGINT AS rows FROM seen GROUP BY form_id HAVING count(*) > 1"
	if err := l.exec(ctx, split); err != nil {
		return err
	}
	n, err := engine.Number(ctx, l.conn, "SELECT coalesce(sum(rows), 0)::BIGINT FROM cut_through")
	if n == 0 || err != nil {
		return err
	}
	if err := l.exec(ctx, "DELETE FROM seen WHERE form_id IN (SELECT form_id FROM cut_through)"); err != nil {
		return err
	}
	return l.inParts(ctx, n, "(FROM coded_numbers WHERE form_id IN (SELECT form_id FROM cut_through))")
}

// inParts adds to seen what the numbers of each form amount to, of n rows from
// anywhere, a part of the forms at a time.
func (l *loader) inParts(ctx context.Context, n int64, rows string) error {
	parts := 1 + n/placesAtATime
	for k := range parts {
		part := fmt.Sprintf("(SELECT * FROM %s WHERE hash(form_id) %% %d = %d)", rows, parts, k)
		if err := l.exec(ctx, "INSERT INTO seen "+numbersOf(part)); err != nil {
			return err
		}
	}
	return nil
}
