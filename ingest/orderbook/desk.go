package orderbook

import (
	"context"
	"database/sql"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
)

// Missing are the numbers that the ordered boot needs and a form has not, as
// the view missing_number has them: foot before leg, low before high, left
// before right.
func (r *Reader) Missing(ctx context.Context, form string) (out []desk.Place, err error) {
	const q = `SELECT side, clothing, point, height_mm FROM missing_number WHERE form_id = ?
		ORDER BY height_mm NULLS FIRST, point::point_t, side`
	err = r.each(ctx, q, []any{form}, func(rows *sql.Rows) error {
		var p desk.Place
		var height sql.NullFloat64
		if err := rows.Scan(&p.Side, &p.Clothing, &p.Point, &height); err != nil {
			return err
		}
		if height.Valid {
			p.HeightMM = &height.Float64
		}
		out = append(out, p)
		return nil
	})
	return out, err
}

// FormIDs are all forms received by the as-of day, by day, order and form
// number.
func (r *Reader) FormIDs(ctx context.Context) (ids []string, err error) {
	err = r.each(ctx, "SELECT form_id FROM form ORDER BY received_on, order_id, form_no, form_id", nil, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	return ids, err
}

// An EarlierForm is a form that an earlier order of the same customer was cut
// from.
type EarlierForm struct {
	ID       string
	Received cohort.Day
}

// EarlierForms are the forms that orders of a customer were cut from, received
// before a day, newest first.
func (r *Reader) EarlierForms(ctx context.Context, customer string, before cohort.Day) (out []EarlierForm, err error) {
	const q = `SELECT f.form_id, f.received_on FROM forms f JOIN known_order o USING (order_id) ANTI JOIN contested_cut USING (order_id)
		WHERE o.customer_id = ? AND f.cut_from AND f.received_on < ? AND f.received_on <= CAST(getvariable('as_of') AS DATE)
		ORDER BY f.received_on DESC, f.form_id`
	if !r.asOf.Known() { // an empty book
		return nil, nil
	}
	if !before.Known() {
		before = r.asOf + 1
	}
	err = r.each(ctx, q, []any{customer, before.Time()}, func(rows *sql.Rows) error {
		var f EarlierForm
		var day sql.NullTime
		err := rows.Scan(&f.ID, &day)
		f.Received = dayOf(day)
		out = append(out, f)
		return err
	})
	return out, err
}
