package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

//go:embed sql/order_lines.sql
var orderLinesSQL string

// An OrderLine is one order in a list: what it was and what became of it.
type OrderLine struct {
	ID      string
	Known   bool // false: the book has no such order by the as-of day
	Shipped cohort.Day
	Shaft   string // as written
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
		if err := rows.Scan(&l.ID, &l.Known, &shipped, &l.Shaft, &l.Channel, &states, &l.Reports); err != nil {
			return fmt.Errorf("listing orders: %w", err)
		}
		l.Shipped, l.Cut = dayOf(shipped), states.Valid
		for k := range form.Faults {
			l.Faults = append(l.Faults, form.State(states.Int64>>(2*k)&3))
		}
		out = append(out, l)
		return nil
	})
	return out, err
}
