package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	_ "embed"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/ingest/engine"
)

// A DeskForm is all that the form desk needs of one form.
type DeskForm struct {
	ID, Order    string
	No           int
	Received     cohort.Day // NoDay: not written
	Customer     string
	EarlierOrder string
	Sex, Channel string
	ShaftMM      float64 // NaN: not known
	// As the orders sheet says; "": not known, and of Measurer also at home.
	Closure, Sock, Tucked, Orthotic, Measurer string
	Faults                                    []form.State
	Numbers                                   []form.Number
	Missing                                   []form.Place
}

//go:embed sql/desk_forms.sql
var deskFormsSQL string

// DeskForms are the forms received by the as-of day with their numbers and
// what is missing, by day, order and form number; where is a condition on the
// view form f, as "form_id = ?", "" for all.
func (r *Reader) DeskForms(ctx context.Context, where string, args ...any) ([]DeskForm, error) {
	if where == "" {
		where = "TRUE"
	}
	var out []DeskForm
	at := map[string]int{}
	err := r.each(ctx, engine.Section(deskFormsSQL, "forms", "{where}", where), args, func(rows *sql.Rows) error {
		var f DeskForm
		var day sql.NullTime
		var states uint64
		err := rows.Scan(&f.ID, &f.Order, &f.No, &day, &f.Customer, &f.EarlierOrder, &f.Sex, &f.Channel, &f.ShaftMM, &states,
			&f.Closure, &f.Sock, &f.Tucked, &f.Orthotic, &f.Measurer)
		f.Received = dayOf(day)
		f.Faults = faultStates(states)
		at[f.ID] = len(out)
		out = append(out, f)
		return err
	})
	if err != nil || len(out) == 0 {
		return nil, err
	}
	which, args := theseForms(out, where, args)
	if err := r.deskNumbers(ctx, which, args, func(id string, n form.Number) {
		f := &out[at[id]]
		f.Numbers = append(f.Numbers, n)
	}); err != nil {
		return nil, err
	}
	return out, r.deskMissing(ctx, which, args, func(id string, p form.Place) {
		f := &out[at[id]]
		f.Missing = append(f.Missing, p)
	})
}

// theseForms is a condition on form_id that holds for the forms found: few are
// named, so that nothing is worked out for the others; many are asked for again.
func theseForms(found []DeskForm, where string, args []any) (string, []any) {
	if len(found) > fewForms {
		return "form_id IN (SELECT form_id FROM form f WHERE " + where + ")", args
	}
	return oneOf(found), nil
}

// fewForms are few enough to be named in a query.
const fewForms = 100

// oneOf is the condition that form_id is that of one of these forms.
func oneOf(forms []DeskForm) string {
	var ids []string
	for _, f := range forms {
		ids = append(ids, engine.Quote(f.ID))
	}
	return "form_id IN (" + strings.Join(ids, ", ") + ")"
}

func (r *Reader) deskNumbers(ctx context.Context, which string, args []any, add func(formID string, n form.Number)) error {
	return r.each(ctx, engine.Section(deskFormsSQL, "numbers", "{numbers}", "measurements", "{which}", which), args, func(rows *sql.Rows) error {
		id, n, err := scanNumber(rows)
		add(id, n)
		return err
	})
}

func (r *Reader) deskMissing(ctx context.Context, which string, args []any, add func(formID string, p form.Place)) error {
	return r.each(ctx, engine.Section(deskFormsSQL, "missing", "{which}", which), args, func(rows *sql.Rows) error {
		var id, side, clothing, point string
		var height sql.NullFloat64
		err := rows.Scan(&id, &side, &clothing, &point, &height)
		add(id, placeOf(side, clothing, point, height))
		return err
	})
}

// EarlierCutForms are the forms that earlier orders were cut from, of the
// given customers and the given orders, received by the as-of day, with their
// numbers, newest first. Orders with a remake are left out: what their form
// said may have been the reason.
func (r *Reader) EarlierCutForms(ctx context.Context, customers, orders []string) ([]DeskForm, error) {
	forms, err := r.DeskForms(ctx, engine.Section(deskFormsSQL, "cut before"), strings.Join(customers, "\x1f"), strings.Join(orders, "\x1f"))
	for i, j := 0, len(forms)-1; i < j; i, j = i+1, j-1 {
		forms[i], forms[j] = forms[j], forms[i]
	}
	return forms, err
}

// perChannel is how many of the newest forms of a channel tell a shop's own
// way of measuring. More would move nothing that the prior leaves open.
const perChannel = 1000

// GoodForms are the newest forms that mature orders without a remake, a
// complaint or a call-back were cut from: what a shop's own offsets and
// spreads are estimated from. matureDays is how many days after shipping an
// order is mature.
func (r *Reader) GoodForms(ctx context.Context, matureDays int) ([]DeskForm, error) {
	return r.DeskForms(ctx, engine.Section(deskFormsSQL, "good"), matureDays, perChannel)
}

// WaitingForms are the forms of the orders of which no leather is cut yet and a form came
// since a day.
func (r *Reader) WaitingForms(ctx context.Context, since cohort.Day) ([]DeskForm, error) {
	return r.DeskForms(ctx, engine.Section(deskFormsSQL, "waiting"), since.Time())
}

// AskedOn are the days on which customers were last asked about forms, where the answer
// is not in; NoDay where the day is not written.
func (r *Reader) AskedOn(ctx context.Context, forms []string) (map[string]cohort.Day, error) {
	return r.days(ctx, engine.Section(deskFormsSQL, "asked"), strings.Join(forms, "\x1f"))
}

// HoldForms says of each rule which of these forms, of this reader, it holds, by
// their ids; where they are many, of all forms. The days between which a rule was
// in force are not looked at. Conditions are checked first; an error names the rule.
func (r *Reader) HoldForms(ctx context.Context, list []rules.Rule, forms []DeskForm) ([]map[string]bool, error) {
	if err := r.checkRules(ctx, list); err != nil || len(list) == 0 || len(forms) == 0 {
		return nil, err
	}
	out := make([]map[string]bool, len(list))
	for i := range out {
		out[i] = map[string]bool{}
	}
	words := make([]int64, heldCount(list))
	var id string
	into := []any{&id}
	for i := range words {
		into = append(into, &words[i])
	}
	query := "SELECT form_id" + heldWords(list) + " FROM form"
	if len(forms) <= fewForms {
		query += " WHERE " + oneOf(forms)
	}
	err := r.each(ctx, query, nil, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		for i := range list {
			if form.State(words[i/rulesAWord]>>(2*(i%rulesAWord))&3) == form.With {
				out[i][id] = true
			}
		}
		return nil
	})
	if err != nil && ctx.Err() == nil {
		err = cmp.Or(r.brokenRule(ctx, list), err)
	}
	return out, err
}
