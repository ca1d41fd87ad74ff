package orderpages

import (
	"context"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/orderbook"
	"lastroom/reports/page"
)

// mostListed is how many orders one list shows; the rest is counted.
const mostListed = 500

// Table lists orders of the book with what became of them.
func Table(ctx context.Context, r *orderbook.Reader, ids []string) (page.Table, error) {
	t := page.Table{ID: "orders", Caption: "Orders", Total: len(ids), Columns: []page.Column{
		{Key: "order_id", Title: "order"}, {Key: "shipped_on", Title: "shipped"}, {Key: "shaft", Title: "shaft height, as written"},
		{Key: "channel", Title: "measured by"}, {Key: "faults", Title: "faults of the form cut from"}, {Key: "reports", Title: "reports of fit"}}}
	lines, err := r.OrderLines(ctx, ids[:min(len(ids), mostListed)])
	if err != nil {
		return t, err
	}
	for _, l := range lines {
		if !l.Known {
			t.Rows = append(t.Rows, []page.Cell{page.AsIs(l.ID), page.Text("not in the book any more"), {}, {}, {}, {}})
			continue
		}
		faults := "no form is known as the one cut from"
		if l.Cut {
			faults = faultNames(l.Faults, form.With)
		}
		if l.Reports == "" {
			l.Reports = "none"
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: l.ID, Value: l.ID, Ref: page.Ref{Kind: "order", IDs: []string{l.ID}}, AsIs: true},
			page.Date(l.Shipped), page.Text(shaft(l.Shaft, l.ShaftMM)), page.Text(l.Channel), page.Text(faults), page.Text(l.Reports)})
	}
	return t, nil
}

// Forms lists forms of the book with their orders.
func Forms(ctx context.Context, r *orderbook.Reader, ids []string) (page.Table, error) {
	t := page.Table{ID: "forms", Caption: "Forms", Total: len(ids), Columns: []page.Column{
		{Key: "form_id", Title: "form"}, {Key: "order_id", Title: "order"}, {Key: "received_on", Title: "received"}, {Key: "measurer", Title: "measurer"}}}
	lines, err := r.FormLines(ctx, ids[:min(len(ids), mostListed)])
	if err != nil {
		return t, err
	}
	for _, l := range lines {
		if l.Order == "" {
			t.Rows = append(t.Rows, []page.Cell{page.AsIs(l.ID), page.Text("not in the book any more"), {}, {}})
			continue
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: l.ID, Value: l.ID, Ref: page.Ref{Kind: "form", IDs: []string{l.ID}}, AsIs: true},
			{Text: l.Order, Value: l.Order, Ref: page.Ref{Kind: "order", IDs: []string{l.Order}}, AsIs: true}, page.Date(l.Received), page.AsIs(l.Measurer)})
	}
	return t, nil
}

func faultNames(faults []form.State, s form.State) string {
	var names []string
	for k, have := range faults {
		if have == s {
			names = append(names, form.Faults[k].Title)
		}
	}
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}
