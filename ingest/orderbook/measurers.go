package orderbook

import (
	"context"
	"database/sql"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/instructions"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/signs"
	"lastroom/ingest/engine"
)

// newestForms is how many forms of a measurer tell what he or she does now. More
// would say more of the past.
const newestForms = 300

// Trained are the days on which measurers were trained, by the as-of day; the
// last of them where a measurer has several rows.
func (r *Reader) Trained(ctx context.Context) (map[string]cohort.Day, error) {
	return r.days(ctx, engine.Section(questionsSQL, "trained"))
}

const (
	// keptDays is how many days after shipping a pair counts as kept (judgement), and
	// keptCustomers from how many customers the spread of kept pairs is read at most.
	keptDays      = 120
	keptCustomers = 2000
)

// KeptTwice are the numbers that several pairs of one customer were cut from, all of
// which were kept without complaint; the customer is the subject.
func (r *Reader) KeptTwice(ctx context.Context) (out []repeatability.Repeat, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "kept twice"), []any{keptDays, keptCustomers}, func(rows *sql.Rows) error {
		var p repeatability.Repeat
		var height sql.NullFloat64
		err := rows.Scan(&p.Subject, &p.Side, &p.Point, &height, &p.ValueMM, &p.Trial)
		p.HeightMM = orNaN(height)
		out = append(out, p)
		return err
	})
	return out, err
}

// FormsOfMeasurers are the newest keyed forms of each measurer who has enough of
// them, with their numbers, oldest first.
func (r *Reader) FormsOfMeasurers(ctx context.Context) (out []signs.Form, err error) {
	which := engine.Section(questionsSQL, "newest forms", "{least}", strconv.Itoa(signs.LeastForms), "{newest}", strconv.Itoa(newestForms))
	at := map[string]int{}
	err = r.each(ctx, which, nil, func(rows *sql.Rows) error {
		var f signs.Form
		var sex string
		err := rows.Scan(&f.ID, &f.Measurer, &sex)
		f.Sex = form.ParseSex(sex)
		at[f.ID] = len(out)
		out = append(out, f)
		return err
	})
	if err != nil || len(out) == 0 {
		return nil, err
	}
	ids := "form_id IN (SELECT form_id FROM (" + strings.TrimSpace(which) + "))"
	return out, r.deskNumbers(ctx, ids, nil, func(id string, n form.Number) {
		f := &out[at[id]]
		f.Numbers = append(f.Numbers, n)
	})
}

// Instructions are the forms by the letter of their instructions and channel.
func (r *Reader) Instructions(ctx context.Context) (out []instructions.Cell, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "instructions"), nil, func(rows *sql.Rows) error {
		var c instructions.Cell
		var ids string
		err := rows.Scan(&c.Version, &c.Channel, &c.Forms, &c.Sum, &c.Square, &ids)
		c.FormIDs = splitList(ids)
		out = append(out, c)
		return err
	})
	return out, err
}
