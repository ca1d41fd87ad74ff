package workshop

import (
	"context"
	"crypto/rand"
	"errors"
	"math/big"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/ingest/orderbook"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// exercise picks a mature order by chance, every other one remade, and shows
// its first form as it came in.
func exercise(ctx context.Context, r *orderbook.Reader) (string, *page.Document, error) {
	c, err := r.Cohort(ctx)
	if err != nil {
		return "", nil, err
	}
	m := remakes.MatureAfter(c, 0)
	var of [2][]string // kept, remade
	for i, id := range c.OrderID {
		if int(c.AsOf-c.Shipped[i]) < m.Days {
			continue
		}
		k := 0
		if remakes.Event(c, i) {
			k = 1
		}
		of[k] = append(of[k], id)
	}
	list := of[draw(2)]
	if len(list) == 0 {
		list = slices.Concat(of[:]...)
	}
	for range 20 { // some orders have no form with numbers
		if len(list) == 0 {
			break
		}
		id := list[draw(len(list))]
		o, found, err := r.Order(ctx, id)
		if err != nil {
			return "", nil, err
		}
		if found && len(o.Forms) > 0 && o.Forms[0].Facts.Get("keyed") == "true" {
			doc, err := exercisePage(ctx, r, o)
			return id, doc, err
		}
	}
	return "", nil, errors.New("the book has no mature order with a keyed form to practise on yet")
}

func draw(n int) int {
	k, err := rand.Int(rand.Reader, big.NewInt(int64(n)))
	if err != nil {
		return 0 // never: the system's source does not fail
	}
	return int(k.Int64())
}

// exercisePage is the first form of an order and nothing that came later: no
// fault that the tool found, no outcome, no id.
func exercisePage(ctx context.Context, r *orderbook.Reader, o orderbook.Order) (*page.Document, error) {
	f := o.Forms[0]
	numbers, err := r.Numbers(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	order := page.Table{ID: "boot", Caption: "The boot that was ordered", Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "is", Title: "is"}}}
	for _, name := range [][2]string{{"shaft_written", "shaft height, as written"}, {"closure", "closure"}, {"worn_tucked", "trousers worn inside"}, {"sock", "sock"},
		{"orthotic", "orthotic"}, {"channel", "who measured"}, {"sex", "sex"}} {
		if v := o.Order.Get(name[0]); v != "" {
			order.Rows = append(order.Rows, []page.Cell{page.Text(name[1]), page.Text(plainWord(v))})
		}
	}
	order.Total = len(order.Rows)
	keyed := page.Table{ID: "tracing", Caption: "What was noted of the tracing and the tape", Columns: order.Columns}
	for k, fault := range form.Faults {
		if fault.Kind == form.Noted && f.Faults[k] != form.NotAtRisk {
			is := map[form.State]string{form.With: "yes", form.Without: "no", form.Unknown: "not noted"}[f.Faults[k]]
			keyed.Rows = append(keyed.Rows, []page.Cell{page.Text(fault.Title), page.Text(is)})
		}
	}
	if v := f.Facts.Get("irregularities"); v != "" {
		keyed.Rows = append(keyed.Rows, []page.Cell{page.Text("irregularities"), page.Text(v)})
	}
	keyed.Total = len(keyed.Rows)
	t := numberTable("numbers", numbers)
	t.Caption = "The numbers, as written and in mm"
	return &page.Document{Title: "The form", Sections: []page.Section{{Blocks: []page.Block{order, t, keyed}}}, Cautions: review.Cautions[:1]}, nil
}
