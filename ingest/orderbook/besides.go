package orderbook

import (
	"cmp"
	"context"
	"database/sql"
	_ "embed"
	"math"
	"sort"
	"strconv"
	"strings"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/ingest/engine"
)

// CallBacks are the call-backs on forms of the cohort's orders known by the
// as-of day, by row, form number, day and fault. c must come from this reader.
func (r *Reader) CallBacks(ctx context.Context, c *cohort.Cohort) (calls []rules.Call, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "call backs"), nil, func(rows *sql.Rows) error {
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
func (r *Reader) Repeats(ctx context.Context) (out []repeatability.Repeat, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "repeats"), nil, func(rows *sql.Rows) error {
		var p repeatability.Repeat
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

// Reports are the reports of fit, by order, of the orders shipped from one day to
// another.
func (r *Reader) Reports(ctx context.Context, from, to cohort.Day) (out []shop.Report, err error) {
	err = r.each(ctx, engine.Section(questionsSQL, "reports"), []any{from.String(), to.String()}, func(rows *sql.Rows) error {
		var p shop.Report
		var on sql.NullTime
		var cost sql.NullFloat64
		if err := rows.Scan(&p.Order, &on, &p.Result, &cost); err != nil {
			return err
		}
		p.On, p.Cost = dayOf(on), orNaN(cost)
		out = append(out, p)
		return nil
	})
	return out, err
}

// Costs are the shop's costs as its costs sheet gives them; nil where it does
// not, with the currency of its settings.
func (r *Reader) Costs(ctx context.Context) (c rules.Costs, err error) {
	items := map[string]**float64{"remake": &c.Remake, "adjustment": &c.Adjustment, "callback": &c.Callback, "day_of_delay": &c.DayOfDelay}
	err = r.each(ctx, engine.Section(questionsSQL, "costs"), nil, func(rows *sql.Rows) error {
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
	if err != nil {
		return c, err
	}
	settings, err := r.Settings(ctx)
	c.Currency = settings["currency"]
	return c, err
}

//go:embed sql/questions.sql
var questionsSQL string

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
	err = r.each(ctx, engine.Section(questionsSQL, "range months"), nil, func(rows *sql.Rows) error {
		var m human.RangeMonth
		var first sql.NullTime
		var outside, judged string
		if err := rows.Scan(&first, &m.Judged, &m.Out, &outside, &judged); err != nil {
			return err
		}
		m.Month, m.Forms = cohort.DayOf(first.Time).Month(), splitList(outside)
		if m.Judged <= remakes.MostBehind {
			m.JudgedForms = splitList(judged)
		}
		out = append(out, m)
		return nil
	})
	return out, err
}
