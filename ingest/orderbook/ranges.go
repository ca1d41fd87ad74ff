package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"strconv"
	"strings"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

//go:embed sql/spreads.sql
var spreadsSQL string

// Spreads gives the distribution of the shop's own foot numbers and of their
// main ratios, by sex, over the newest forms that were cut from. The counting
// is done in SQL; no number of a form is handed over.
func (r *Reader) Spreads(ctx context.Context) (out []human.Spread, err error) {
	at := 0
	query := strings.ReplaceAll(spreadsSQL, "{forms}", strconv.Itoa(human.SpreadForms))
	err = r.each(ctx, query, nil, func(rows *sql.Rows) error {
		var name, sex string
		var n int
		var q float64
		if err := rows.Scan(&name, &sex, &n, &q); err != nil {
			return err
		}
		if at == 0 {
			out = append(out, human.Spread{Name: name, Sex: form.ParseSex(sex), N: n})
		}
		s := &out[len(out)-1]
		*[]*float64{&s.P1, &s.P5, &s.P25, &s.P50, &s.P75, &s.P95, &s.P99}[at] = q
		at = (at + 1) % 7
		return nil
	})
	return out, err
}

// RangeMonths counts, by the month in which they came, the forms whose numbers
// were judged against the published ranges and those outside the limits. A
// form without a day is left out.
func (r *Reader) RangeMonths(ctx context.Context) (out []human.RangeMonth, err error) {
	const q = `SELECT date_trunc('month', f.received_on)::DATE AS month, f.form_id, e.out_of_range
		FROM forms f JOIN known_order o USING (order_id) JOIN form_evidence e USING (form_id)
		WHERE f.received_on <= CAST(getvariable('as_of') AS DATE) AND e.out_of_range IS NOT NULL`
	const counts = `SELECT month, count(*), count(*) FILTER (out_of_range),
		coalesce(array_to_string(list_sort(list(form_id) FILTER (out_of_range)), chr(31)), '')
		FROM (` + q + `) GROUP BY month ORDER BY month`
	err = r.each(ctx, counts, nil, func(rows *sql.Rows) error {
		var m human.RangeMonth
		var first sql.NullTime
		var forms string
		if err := rows.Scan(&first, &m.Judged, &m.Out, &forms); err != nil {
			return err
		}
		m.Month, m.Forms = cohort.DayOf(first.Time).Month(), splitList(forms)
		out = append(out, m)
		return nil
	})
	return out, err
}
