package orderpages

import (
	"lastroom/analysis/form"
	"lastroom/ingest/orderbook"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Exercise is the first form of an order and nothing that came later: no
// fault that the tool found, no outcome, no id.
func Exercise(card orderbook.FirstForm) *page.Document {
	f := card.Form
	order := page.Table{ID: "boot", Caption: "The boot that was ordered", Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "is", Title: "is"}}}
	if height := shaftOf(card.Order); height != "" {
		order.Rows = append(order.Rows, []page.Cell{page.Text("shaft height, as written"), page.Text(height)})
	}
	for _, name := range [][2]string{{"closure", "closure"}, {"worn_tucked", "trousers worn inside"}, {"sock", "sock"},
		{"orthotic", "orthotic"}, {"channel", "who measured"}, {"sex", "sex"}} {
		if v := card.Order.Get(name[0]); v != "" {
			order.Rows = append(order.Rows, []page.Cell{page.Text(name[1]), keyed(name[0], v)})
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
		keyed.Rows = append(keyed.Rows, []page.Cell{page.Text("irregularities"), page.AsIs(v)})
	}
	keyed.Total = len(keyed.Rows)
	t := numberTable("numbers", card.Numbers, nil)
	t.Caption = "The numbers, as written and in mm"
	return &page.Document{Title: "The form", Sections: []page.Section{{Blocks: []page.Block{order, t, keyed}}}, Cautions: []string{review.LicensedCare}}
}
