package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/engine"
)

// A Cell is one value of a row, as text; Known is false where it is empty.
type Cell struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	Known bool   `json:"known"`
}

// A Row is a row of a sheet as the book holds it. Load brought it; Until is
// the load that ended it, 0 while it holds.
type Row struct {
	Sheet string `json:"sheet"`
	Load  int64  `json:"load"`
	Until int64  `json:"until"`
	Cells []Cell `json:"cells"`
}

// Get is the value of a column, "" where it is empty or not there.
func (r Row) Get(name string) string {
	for _, c := range r.Cells {
		if c.Name == name {
			return c.Value
		}
	}
	return ""
}

// An Order is all that the book knows of one order by the as-of day.
type Order struct {
	Order     Row        `json:"order"`
	LeftOut   string     `json:"left_out"` // why it is not in the cohort; "" where it is
	Forms     []FormSeen `json:"forms"`
	Outcomes  []Row      `json:"outcomes"`
	CallBacks []Row      `json:"call_backs"`
	// History are the rows of the order, its forms, outcomes and call-backs
	// that a later load ended, newest first.
	History []Row `json:"history"`
}

// A FormSeen is a form with its facts (the columns of the view form) and its
// faults, in the order of the catalogue.
type FormSeen struct {
	ID     string       `json:"form_id"`
	Order  string       `json:"order_id"`
	No     int          `json:"form_no"`
	Facts  Row          `json:"facts"`
	Faults []form.State `json:"faults"`
}

// rows runs a query whose answer is put into Rows; the columns load_id and
// until_load, where there, become Load and Until.
func (r *Reader) rows(ctx context.Context, sheet, query string, args ...any) (out []Row, err error) {
	err = r.each(ctx, "SELECT COLUMNS(*)::VARCHAR FROM ("+query+")", args, func(rows *sql.Rows) error {
		names, err := rows.Columns()
		if err != nil {
			return err
		}
		values := make([]sql.NullString, len(names))
		into := make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		row := Row{Sheet: sheet}
		for i, name := range names {
			switch name {
			case "load_id":
				_, err = fmt.Sscan(values[i].String, &row.Load)
			case "until_load":
				_, err = fmt.Sscan(values[i].String, &row.Until)
			default:
				row.Cells = append(row.Cells, Cell{Name: name, Value: values[i].String, Known: values[i].Valid})
			}
			if err != nil {
				return err
			}
		}
		out = append(out, row)
		return nil
	})
	return out, err
}

// Order looks one order up. It answers false where the book does not know it
// by the as-of day.
func (r *Reader) Order(ctx context.Context, id string) (o Order, found bool, err error) {
	rows, err := r.rows(ctx, "orders", "SELECT o.* FROM orders o SEMI JOIN known_order USING (order_id) WHERE o.order_id = ?", id)
	if err != nil || len(rows) == 0 {
		return o, false, err
	}
	o.Order = rows[0]
	why, err := r.rows(ctx, "", "SELECT reason FROM left_out WHERE order_id = ?", id)
	if err != nil {
		return o, false, err
	}
	if len(why) > 0 {
		o.LeftOut = why[0].Get("reason")
	}
	if o.Forms, err = r.forms(ctx, "*", "order_id = ?", id); err != nil {
		return o, false, err
	}
	o.Outcomes, err = r.rows(ctx, "outcomes", engine.Section(questionsSQL, "outcomes"), id)
	if err != nil {
		return o, false, err
	}
	o.CallBacks, err = r.rows(ctx, "callbacks", "SELECT * FROM call_back WHERE order_id = ? ORDER BY form_no, called_on, fault", id)
	if err != nil {
		return o, false, err
	}
	o.History, err = r.history(ctx, id)
	return o, err == nil, err
}

// history gathers the ended rows that belong to an order. The rows of one call
// stand newest first.
func (r *Reader) history(ctx context.Context, order string) (out []Row, err error) {
	const ofForms = "form_id IN (SELECT form_id FROM forms WHERE order_id = $1 UNION SELECT form_id FROM forms_history WHERE order_id = $1)"
	for _, part := range [][2]string{
		{"orders", "order_id = $1"}, {"forms", "order_id = $1"}, {"outcomes", "order_id = $1"}, {"callbacks", ofForms},
	} {
		rows, err := r.rows(ctx, part[0], "SELECT * FROM "+part[0]+"_history WHERE "+part[1]+" ORDER BY ALL DESC", order)
		if err != nil {
			return nil, err
		}
		out = append(out, rows...)
	}
	return out, nil
}

// OrderOfForm is the order that a form belongs to; false where the book does not
// know the form by the as-of day.
func (r *Reader) OrderOfForm(ctx context.Context, id string) (order string, found bool, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "order of a form"), []any{id}, func(rows *sql.Rows) error {
		found = true
		return rows.Scan(&order)
	})
	return order, found, err
}

// A FirstForm is what was known of an order when the first form for it had come.
type FirstForm struct {
	Order   Row
	Form    FormSeen // the facts that a clerk keyed alone
	Numbers []form.Number
}

// FirstForms looks orders up by their ids. Those whose first form has no numbers
// are left out.
func (r *Reader) FirstForms(ctx context.Context, orders []string) ([]FirstForm, error) {
	const asked = " IN (SELECT unnest(string_split(?, chr(31))))"
	ids := strings.Join(orders, "\x1f")
	forms, err := r.forms(ctx, "form_id, order_id, form_no, received_on, keyed, irregularities, fault_states", "order_id"+asked, ids)
	if err != nil {
		return nil, err
	}
	rows, err := r.rows(ctx, "orders", "SELECT * FROM orders WHERE order_id"+asked, ids)
	if err != nil {
		return nil, err
	}
	of := map[string]Row{}
	for _, row := range rows {
		of[row.Get("order_id")] = row
	}
	var out []FirstForm
	var names []string
	at := map[string]int{}
	for _, f := range forms { // those of an order stand in their order
		row, first := of[f.Order]
		delete(of, f.Order)
		if first && f.Facts.Get("keyed") == "true" {
			at[f.ID] = len(out)
			names = append(names, f.ID)
			out = append(out, FirstForm{Order: row, Form: f})
		}
	}
	numbers := engine.Section(deskFormsSQL, "numbers", "{numbers}", "measurements", "{which}", "n.form_id"+asked)
	err = r.each(ctx, numbers, []any{strings.Join(names, "\x1f")}, func(rows *sql.Rows) error {
		id, n, err := scanNumber(rows)
		out[at[id]].Numbers = append(out[at[id]].Numbers, n)
		return err
	})
	return out, err
}

func (r *Reader) forms(ctx context.Context, columns, where, id string) (out []FormSeen, err error) {
	rows, err := r.rows(ctx, "forms", "SELECT "+columns+" FROM form WHERE "+where+" ORDER BY form_no, received_on, form_id", id)
	for _, row := range rows {
		f := FormSeen{ID: row.Get("form_id"), Order: row.Get("order_id"), Facts: row}
		var states uint64
		if _, err := fmt.Sscan(row.Get("fault_states"), &states); err != nil {
			return nil, err
		}
		f.Faults = faultStates(states)
		if no := row.Get("form_no"); no != "" {
			if _, err := fmt.Sscan(no, &f.No); err != nil {
				return nil, err
			}
		}
		out = append(out, f)
	}
	return out, err
}

// Numbers are the measurements of a form: bare first, foot before leg, low
// before high, left before right.
func (r *Reader) Numbers(ctx context.Context, formID string) (out []form.Number, err error) {
	err = r.each(ctx, engine.Section(deskFormsSQL, "numbers", "{numbers}", "number", "{which}", "form_id = ?"), []any{formID}, func(rows *sql.Rows) error {
		_, n, err := scanNumber(rows)
		out = append(out, n)
		return err
	})
	return out, err
}

// scanNumber reads a row of the part numbers.
func scanNumber(rows *sql.Rows) (formID string, n form.Number, err error) {
	var side, clothing, point, unit string
	var height sql.NullFloat64
	if err = rows.Scan(&formID, &side, &clothing, &point, &height, &n.ValueMM, &n.HeightWritten, &n.Written, &unit); err != nil {
		return "", n, err
	}
	n.Place = placeOf(side, clothing, point, height)
	n.Unit, _ = form.ParseUnit(unit)
	return formID, n, nil
}

// placeOf reads the words of the book's enums, which hold no others.
func placeOf(side, clothing, point string, height sql.NullFloat64) (p form.Place) {
	p.Side, _ = form.ParseSide(side)
	p.Clothing, _ = form.ParseClothing(clothing)
	p.Point, _ = form.ParsePoint(point)
	p.HeightMM = form.Height(height.Float64)
	return p
}

// OrdersOfCustomer lists the orders of the customer of an order, that one
// included, oldest first.
func (r *Reader) OrdersOfCustomer(ctx context.Context, order string) (ids []string, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "customer's orders"), []any{order}, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	return ids, err
}

// OrdersOf lists the orders of a customer, oldest first.
func (r *Reader) OrdersOf(ctx context.Context, customer string) (ids []string, err error) {
	err = r.each(ctx, "SELECT order_id FROM known_order WHERE customer_id = ? ORDER BY received_on, order_id", []any{customer}, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		ids = append(ids, id)
		return err
	})
	return ids, err
}

// Newest are the ids of the order and of the form that came into the book last, by
// day and load, of the order of that form, and the unit that most numbers of the last
// twenty forms are written in; "" where there is none.
type Newest struct{ Order, Form, FormOrder, Unit string }

// Newest is what came into the book last.
func (r *Reader) Newest(ctx context.Context) (n Newest, err error) {
	const lastForms = "FROM forms ORDER BY received_on DESC NULLS LAST, load_id DESC, form_id DESC LIMIT "
	for _, ask := range []struct {
		query string
		into  []any
	}{
		{"SELECT order_id FROM orders ORDER BY received_on DESC NULLS LAST, load_id DESC, order_id DESC LIMIT 1", []any{&n.Order}},
		{"SELECT form_id, coalesce(order_id, '') " + lastForms + "1", []any{&n.Form, &n.FormOrder}},
		{"SELECT unit::VARCHAR FROM measurements WHERE form_id IN (SELECT form_id " + lastForms + "20) GROUP BY unit ORDER BY count(*) DESC, unit LIMIT 1", []any{&n.Unit}},
	} {
		if err := r.each(ctx, ask.query, nil, func(rows *sql.Rows) error { return rows.Scan(ask.into...) }); err != nil {
			return n, err
		}
	}
	return n, nil
}

//go:embed sql/cut_days.sql
var cutDaysSQL string

// CutDays are the days on which orders were cut, or shipped where the day of cutting
// is not known; orders that are neither are not in it.
func (r *Reader) CutDays(ctx context.Context, ids []string) (map[string]cohort.Day, error) {
	return r.days(ctx, cutDaysSQL, strings.Join(ids, "\x1f"))
}

// splitList takes apart what array_to_string joined with the unit separator.
func splitList(joined string) []string {
	if joined == "" {
		return nil
	}
	return strings.Split(joined, "\x1f")
}

//go:embed sql/order_lines.sql
var orderLinesSQL string

// An OrderLine is one order in a list: what it was and what became of it.
type OrderLine struct {
	ID      string
	Known   bool // false: the book has no such order by the as-of day
	Shipped cohort.Day
	Shaft   string  // as written
	ShaftMM float64 // NaN: not known
	Channel string
	Cut     bool         // a form is known as the one cut from
	Faults  []form.State // of that form, in the order of the catalogue
	Reports string       // the results reported, in order, each once
}

// OrderLines looks up many orders at once, in the order of ids.
func (r *Reader) OrderLines(ctx context.Context, ids []string) ([]OrderLine, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	out := make([]OrderLine, 0, len(ids))
	err := r.each(ctx, orderLinesSQL, []any{strings.Join(ids, "\x1f")}, func(rows *sql.Rows) error {
		var l OrderLine
		var shipped sql.NullTime
		var states sql.NullInt64
		if err := rows.Scan(&l.ID, &l.Known, &shipped, &l.Shaft, &l.ShaftMM, &l.Channel, &states, &l.Reports); err != nil {
			return fmt.Errorf("listing orders: %w", err)
		}
		l.Shipped, l.Cut = dayOf(shipped), states.Valid
		l.Faults = faultStates(uint64(states.Int64))
		out = append(out, l)
		return nil
	})
	return out, err
}

//go:embed sql/form_lines.sql
var formLinesSQL string

// A FormLine is one form in a list.
type FormLine struct {
	ID, Order string // Order is "" where the book has no such form by the as-of day
	Received  cohort.Day
	Measurer  string
}

// FormLines looks up many forms at once, in the order of ids.
func (r *Reader) FormLines(ctx context.Context, ids []string) (out []FormLine, err error) {
	if len(ids) == 0 {
		return nil, nil
	}
	err = r.each(ctx, formLinesSQL, []any{strings.Join(ids, "\x1f")}, func(rows *sql.Rows) error {
		var l FormLine
		var order sql.NullString
		var received sql.NullTime
		if err := rows.Scan(&l.ID, &order, &received, &l.Measurer); err != nil {
			return fmt.Errorf("listing forms: %w", err)
		}
		l.Order, l.Received = order.String, dayOf(received)
		out = append(out, l)
		return nil
	})
	return out, err
}
