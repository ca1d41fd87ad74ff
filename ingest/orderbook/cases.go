package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
)

//go:embed sql/cases.sql
var casesSQL string

// Cases are the orders that have a form, as they are seen on the day of cutting,
// by their ids: those whose year is not over and that are not remade, or all.
func (r *Reader) Cases(ctx context.Context, all bool) (out []risk.Order, err error) {
	return r.cases(ctx, strings.NewReplacer("{all}", strings.ToUpper(strconv.FormatBool(all)), "{horizon}", strconv.Itoa(remakes.Horizon)).Replace(casesSQL))
}

func (r *Reader) cases(ctx context.Context, query string, args ...any) (out []risk.Order, err error) {
	err = r.each(ctx, query, args, func(rows *sql.Rows) error {
		var o risk.Order
		var came sql.NullTime
		var cut, first int64
		var words string
		if err := rows.Scan(&o.ID, &o.FormID, &o.Stage, &came, &cut, &first, &o.Alarm, &o.ShaftMM, &words, &o.Done, &o.History); err != nil {
			return fmt.Errorf("reading the orders' forms: %w", err)
		}
		// As in the cohort: to the hundredth, and up to 600.
		o.Alarm = math.Round(100*math.Min(600, o.Alarm)) / 100
		o.Received = dayOf(came)
		for k := range form.Faults {
			o.Cut, o.First = append(o.Cut, form.State(cut>>(2*k)&3)), append(o.First, form.State(first>>(2*k)&3))
		}
		parts := strings.Split(words, "\x1f")
		for k, into := range []*string{&o.Closure, &o.Channel, &o.Sock, &o.Sex, &o.Tucked, &o.Orthotic, &o.Measurer} {
			if k < len(parts) {
				*into = parts[k]
			}
		}
		out = append(out, o)
		return nil
	})
	return out, err
}
