package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/ingest/engine"
)

//go:embed sql/cases.sql
var casesSQL string

// Cases are the orders that have a form, as they are seen on the day of cutting,
// by their ids: those whose year is not over and that are not remade, or all.
func (r *Reader) Cases(ctx context.Context, all bool) ([]risk.Order, error) {
	r.overAll.Lock()
	defer r.overAll.Unlock()
	return r.cases(ctx, strings.ToUpper(strconv.FormatBool(all)), "TRUE")
}

// CaseOf is one order; none where it has no form.
func (r *Reader) CaseOf(ctx context.Context, order string) ([]risk.Order, error) {
	return r.cases(ctx, "TRUE", "f.order_id = ?", order)
}

// An EarlierPair is a pair that a customer had before.
type EarlierPair struct {
	Order           string
	Shipped, Remade cohort.Day
}

// EarlierPairs are the pairs shipped to each of some customers.
func (r *Reader) EarlierPairs(ctx context.Context, customers []string) (map[string][]EarlierPair, error) {
	out := map[string][]EarlierPair{}
	err := r.each(ctx, engine.Section(casesSQL, "earlier pairs"), []any{strings.Join(customers, "\x1f")}, func(rows *sql.Rows) error {
		var who string
		var p EarlierPair
		var shipped, remade sql.NullTime
		if err := rows.Scan(&who, &p.Order, &shipped, &remade); err != nil {
			return err
		}
		p.Shipped, p.Remade = dayOf(shipped), dayOf(remade)
		out[who] = append(out[who], p)
		return nil
	})
	return out, err
}

func (r *Reader) cases(ctx context.Context, all, only string, args ...any) (out []risk.Order, err error) {
	query := engine.Section(casesSQL, "cases", "{all}", all, "{only}", only, "{horizon}", strconv.Itoa(remakes.Horizon))
	err = r.each(ctx, query, args, func(rows *sql.Rows) error {
		var o risk.Order
		var came sql.NullTime
		var cut, first uint64
		var words string
		if err := rows.Scan(&o.ID, &o.FormID, &o.Stage, &came, &cut, &first, &o.Alarm, &o.ShaftMM, &words, &o.Done, &o.History); err != nil {
			return fmt.Errorf("reading the orders' forms: %w", err)
		}
		// As in the cohort: to the hundredth, and up to 600.
		o.Alarm = math.Round(100*math.Min(600, o.Alarm)) / 100
		o.Received = dayOf(came)
		o.Cut, o.First = faultStates(cut), faultStates(first)
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
