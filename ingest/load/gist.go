package load

import (
	"context"
	"fmt"
	"regexp"
	"sort"

	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// A Gist is what a load amounts to in orders: what a person checks before
// trusting it.
type Gist struct {
	Orders       int64  `json:"orders"` // of which the load brought anything
	WithForms    int64  `json:"with_forms"`
	WithNumbers  int64  `json:"with_numbers"`
	WithReports  int64  `json:"with_reports"`
	Numbers      int64  `json:"numbers"`
	Tucked       int64  `json:"tucked_numbers"`
	FirstDay     string `json:"first_day"` // received
	LastDay      string `json:"last_day"`
	Shipped      int64  `json:"shipped"`
	Remade       int64  `json:"remade"`
	RemadeNoDay  int64  `json:"remade_without_day"` // of them, with no day of any remake
	FormsNoOrder int64  `json:"forms_without_order"`
	// Extremes are the readings that lie farthest from the middle of their
	// place, as a ratio.
	Extremes []Extreme `json:"extremes"`
	Reasons  []Refusal `json:"reasons"` // the most frequent ones for rows kept out
}

// An Extreme is a reading of a form and the middle of that place's readings.
type Extreme struct {
	Form     string  `json:"form_id"`
	Place    string  `json:"place"`
	Written  string  `json:"written"`
	MM       float64 `json:"mm"`
	MiddleMM float64 `json:"middle_mm"`
}

// A Refusal is a reason for rows kept out, how many, and one of them.
type Refusal struct {
	Reason  string        `json:"reason"`
	Rows    int           `json:"rows"`
	Example sheets.Reject `json:"example"`
}

const (
	mostExtremes = 10
	mostReasons  = 5
)

// gist works out what the load amounts to, out of the working copy.
func (l *loader) gist(ctx context.Context) (*Gist, error) {
	g := &Gist{Extremes: []Extreme{}, Reasons: refusals(l.report.KeptOut)}
	if err := l.exec(ctx, fmt.Sprintf(`CREATE OR REPLACE TEMP TABLE brought AS
	SELECT order_id FROM orders WHERE load_id = %[1]d UNION SELECT order_id FROM outcomes WHERE load_id = %[1]d
	UNION SELECT order_id FROM forms WHERE load_id = %[1]d UNION SELECT order_id FROM forms SEMI JOIN touched USING (form_id)`, l.loadID)); err != nil {
		return nil, err
	}
	err := l.conn.QueryRowContext(ctx, `WITH f AS (SELECT DISTINCT order_id, form_id FROM forms SEMI JOIN brought USING (order_id)),
	n AS (SELECT order_id, sum(numbers) AS numbers, sum(tucked) AS tucked FROM f JOIN form_numbers USING (form_id) GROUP BY order_id),
	r AS (SELECT order_id, bool_or(result = 'remade') AS remade, bool_or(result = 'remade' AND reported_on IS NOT NULL) AS dated
		FROM outcomes SEMI JOIN brought USING (order_id) GROUP BY order_id)
SELECT (SELECT count(*) FROM brought), (SELECT count(DISTINCT order_id) FROM f), (SELECT count(*) FROM n), (SELECT count(*) FROM r),
	(SELECT coalesce(sum(numbers), 0)::BIGINT FROM n), (SELECT coalesce(sum(tucked), 0)::BIGINT FROM n),
	(SELECT coalesce(min(received_on)::VARCHAR, '') FROM orders SEMI JOIN brought USING (order_id)),
	(SELECT coalesce(max(received_on)::VARCHAR, '') FROM orders SEMI JOIN brought USING (order_id)),
	(SELECT count(shipped_on) FROM orders SEMI JOIN brought USING (order_id)),
	(SELECT count(*) FROM r WHERE remade), (SELECT count(*) FROM r WHERE remade AND NOT dated),
	(SELECT count(*) FROM forms ANTI JOIN orders USING (order_id))`).Scan(&g.Orders, &g.WithForms, &g.WithNumbers, &g.WithReports, &g.Numbers, &g.Tucked,
		&g.FirstDay, &g.LastDay, &g.Shipped, &g.Remade, &g.RemadeNoDay, &g.FormsNoOrder)
	if err != nil {
		return nil, err
	}
	if g.FormsNoOrder > 0 {
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%d %s of an order that is not in the book, as when its row was kept out; they count once the order is there",
			g.FormsNoOrder, plural(int(g.FormsNoOrder), "form is", "forms are")))
	}
	if g.RemadeNoDay > 0 {
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%d of %d remade orders have no day of the remake: what needs the day can't count them until it is written in",
			g.RemadeNoDay, g.Remade))
	}
	return g, l.extremes(ctx, g)
}

// extremes looks at the different readings of each place; there are few, however
// many numbers were loaded.
func (l *loader) extremes(ctx context.Context, g *Gist) error {
	rows, err := engine.Texts(ctx, l.conn, fmt.Sprintf(`WITH few AS (
	SELECT place_id, reading_id, count(*) AS n, min(form_id) AS form_id FROM measured WHERE load_id = %d GROUP BY ALL),
v AS (SELECT form_id, n, side, clothing, point, height_mm, value_mm, value_written, unit FROM few JOIN places USING (place_id) JOIN readings USING (reading_id)),
m AS (SELECT clothing, point, height_mm, quantile_cont(value_mm, 0.5) AS middle, sum(n) AS total FROM v GROUP BY ALL)
SELECT form_id, concat_ws(' ', v.side, CASE WHEN v.clothing = 'tucked' THEN 'tucked' END, v.point, CASE WHEN v.height_mm IS NOT NULL THEN round(v.height_mm)::INT || ' mm' END) AS place,
	CASE WHEN value_written SIMILAR TO '.*[0-9]' THEN value_written || ' ' || unit ELSE value_written END AS written, value_mm::VARCHAR AS mm, middle::VARCHAR AS middle
FROM v JOIN m ON m.clothing = v.clothing AND m.point = v.point AND m.height_mm IS NOT DISTINCT FROM v.height_mm
WHERE total >= 10 ORDER BY abs(ln(value_mm / middle)) DESC, form_id, place LIMIT %d`, l.loadID, mostExtremes))
	for _, r := range rows {
		e := Extreme{Form: r[0], Place: r[1], Written: r[2]}
		if _, err := fmt.Sscan(r[3]+" "+r[4], &e.MM, &e.MiddleMM); err != nil {
			return err
		}
		g.Extremes = append(g.Extremes, e)
	}
	return err
}

var figures = regexp.MustCompile(`\d+`)

// refusals counts the reasons for rows kept out, the most frequent first;
// figures in them don't make another reason.
func refusals(rows []sheets.Reject) []Refusal {
	at, out := map[string]int{}, []Refusal{}
	for _, r := range rows {
		key := r.Column + " " + figures.ReplaceAllString(r.Reason, "#")
		i, ok := at[key]
		if !ok {
			i = len(out)
			at[key], out = i, append(out, Refusal{Reason: reason(r), Example: r})
		}
		out[i].Rows++
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Rows > out[j].Rows })
	return out[:min(len(out), mostReasons)]
}
