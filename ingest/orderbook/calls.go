package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	"math"
	"sort"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/rules"
)

// CallBacks are the call-backs on forms of the cohort's orders known by the
// as-of day, by row, form number, day and fault. c must come from this reader.
func (r *Reader) CallBacks(ctx context.Context, c *cohort.Cohort) (calls []rules.Call, err error) {
	const q = `SELECT o.shipped_on, b.order_id, coalesce(b.fault, ''), b.called_on, b.resolved, b.resolved_on
		FROM call_back b JOIN known_order o USING (order_id) WHERE o.shipped_on IS NOT NULL
		ORDER BY o.shipped_on, b.order_id, b.form_no, b.called_on, b.fault, b.resolved_on`
	err = r.each(ctx, q, nil, func(rows *sql.Rows) error {
		var shipped, called, resolvedOn sql.NullTime
		var id, fault string
		var resolved sql.NullBool
		if err := rows.Scan(&shipped, &id, &fault, &called, &resolved, &resolvedOn); err != nil {
			return err
		}
		row, ok := rowOf(c, dayOf(shipped), id)
		if !ok {
			return nil
		}
		calls = append(calls, rules.Call{Row: row, Fault: fault, CalledOn: dayOf(called), Resolved: stateOf(resolved), ResolvedOn: dayOf(resolvedOn)})
		return nil
	})
	return calls, err
}

// rowOf finds an order in the cohort, whose rows are sorted by shipping day
// and order id.
func rowOf(c *cohort.Cohort, shipped cohort.Day, id string) (int, bool) {
	return sort.Find(c.Len(), func(i int) int {
		return cmp.Or(cmp.Compare(shipped, c.Shipped[i]), strings.Compare(id, c.OrderID[i]))
	})
}

func stateOf(b sql.NullBool) form.State {
	switch {
	case !b.Valid:
		return form.Unknown
	case b.Bool:
		return form.With
	}
	return form.Without
}

// Repeats are the numbers of training sessions measured by the as-of day, or
// on a day that was not written.
func (r *Reader) Repeats(ctx context.Context) (out []measurers.Repeat, err error) {
	const q = `SELECT session_id, coalesce(subject_id, ''), coalesce(measurer_id, ''), coalesce(trial, 0), coalesce(reference, false),
		side::VARCHAR, point::VARCHAR, height_mm, value_mm FROM repeats
		WHERE (measured_on IS NULL OR measured_on <= CAST(getvariable('as_of') AS DATE))
			AND side IS NOT NULL AND point IS NOT NULL AND value_mm IS NOT NULL
		ORDER BY session_id, subject_id, point, height_mm, side, measurer_id, trial, value_mm`
	err = r.each(ctx, q, nil, func(rows *sql.Rows) error {
		var p measurers.Repeat
		var height sql.NullFloat64
		if err := rows.Scan(&p.Session, &p.Subject, &p.Measurer, &p.Trial, &p.Reference, &p.Side, &p.Point, &height, &p.ValueMM); err != nil {
			return err
		}
		p.HeightMM = orNaN(height)
		out = append(out, p)
		return nil
	})
	return out, err
}

// Costs are the shop's costs as its costs sheet gives them; nil where it does
// not.
func (r *Reader) Costs(ctx context.Context) (c rules.Costs, err error) {
	items := map[string]**float64{"remake": &c.Remake, "adjustment": &c.Adjustment, "callback": &c.Callback, "day_of_delay": &c.DayOfDelay}
	const q = "SELECT lower(item), value FROM costs WHERE value IS NOT NULL ORDER BY load_id, item, value"
	err = r.each(ctx, q, nil, func(rows *sql.Rows) error {
		var item string
		var value float64
		if err := rows.Scan(&item, &value); err != nil {
			return err
		}
		if at, ok := items[item]; ok && !math.IsNaN(value) && !math.IsInf(value, 0) {
			*at = &value
		}
		return nil
	})
	return c, err
}
