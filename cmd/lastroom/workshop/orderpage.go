package workshop

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// mostListed is how many orders one list shows; the rest is counted.
const mostListed = 500

// orderTable lists orders of the book with what became of them.
func orderTable(ctx context.Context, r *orderbook.Reader, ids []string) (page.Table, error) {
	t := page.Table{ID: "orders", Caption: "Orders", Total: len(ids), Columns: []page.Column{
		{Key: "order_id", Title: "order"}, {Key: "shipped_on", Title: "shipped"}, {Key: "shaft", Title: "shaft height, as written"},
		{Key: "channel", Title: "measured by"}, {Key: "faults", Title: "faults of the form cut from"}, {Key: "reports", Title: "reports of fit"}}}
	lines, err := r.OrderLines(ctx, ids[:min(len(ids), mostListed)])
	if err != nil {
		return t, err
	}
	for _, l := range lines {
		if !l.Known {
			t.Rows = append(t.Rows, []page.Cell{page.Text(l.ID), page.Text("not in the book any more"), {}, {}, {}, {}})
			continue
		}
		faults := "no form is known as the one cut from"
		if l.Cut {
			faults = faultNames(l.Faults, form.With)
		}
		if l.Reports == "" {
			l.Reports = "none"
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: l.ID, Value: l.ID, Ref: page.Ref{Kind: "order", IDs: []string{l.ID}}},
			page.Date(l.Shipped), page.Text(l.Shaft), page.Text(l.Channel), page.Text(faults), page.Text(l.Reports)})
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

// orderPage shows one order: facts, forms with numbers and faults, reports,
// call-backs, what was corrected, and the customer's other orders.
func orderPage(ctx context.Context, d *Desk, id string) (*page.Document, error) {
	r := d.book
	o, found, err := r.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, service.ErrUnknown
	}
	doc := review.FactsPage("Order "+id, orderLead(o), factsOf(o.Order, "order_id", "customer_id", "shaft_height_mm"))
	if o.LeftOut != "" {
		doc.Sections[0].Blocks = append(doc.Sections[0].Blocks, page.Prose{"Not among the orders that findings stand on: " + o.LeftOut + "."})
	}
	add := func(id, title string, blocks ...page.Block) {
		doc.Sections = append(doc.Sections, page.Section{ID: id, Title: title, Blocks: blocks})
	}
	if of, err := d.riskOfOrder(ctx, id); err != nil {
		return nil, err
	} else if of != nil {
		add("risk", "Remake risk, as seen on the day of cutting", review.RiskOf(id, *of)...)
	}
	add("outcomes", "Reports of fit", rowsTable("outcomes-table", "Reports of fit", o.Outcomes, "order_id"))
	for _, f := range o.Forms {
		blocks, err := formBlocks(ctx, d, f)
		if err != nil {
			return nil, err
		}
		add(service.FormAnchor(f.ID), fmt.Sprintf("Form %d", f.No), blocks...)
	}
	if len(o.CallBacks) > 0 {
		add("call-backs", "Call-backs", rowsTable("call-backs-table", "Call-backs", o.CallBacks, "order_id"))
	}
	if len(o.History) > 0 {
		add("history", "What was corrected", historyTable(o.History))
	}
	others, err := r.OrdersOfCustomer(ctx, id)
	if err != nil {
		return nil, err
	}
	if len(others) > 1 {
		t, err := orderTable(ctx, r, others)
		if err != nil {
			return nil, err
		}
		t.ID, t.Caption = "same-customer", "Orders of the same customer, oldest first"
		add("others", "The same customer", t)
	}
	doc.Cautions = review.Cautions
	doc.Provenance = page.Provenance{AsOf: r.AsOf(), BookHash: r.ContentHash(), Version: Version()}
	return doc, nil
}

func orderLead(o orderbook.Order) string {
	shipped := o.Order.Get("shipped_on")
	if shipped == "" {
		return "Not shipped yet."
	}
	if len(o.Outcomes) == 0 {
		return "Shipped " + shipped + "; no report of fit."
	}
	var said []string
	for _, r := range o.Outcomes {
		said = append(said, r.Get("result")+" "+r.Get("reported_on"))
	}
	return "Shipped " + shipped + "; " + strings.Join(said, ", ") + "."
}

// factsOf are the known cells of a row, named for people.
func factsOf(r orderbook.Row, leave ...string) (out [][2]string) {
	for _, c := range r.Cells {
		if c.Known && !slices.Contains(leave, c.Name) {
			out = append(out, [2]string{strings.ReplaceAll(c.Name, "_", " "), plainWord(c.Value)})
		}
	}
	return out
}

func plainWord(s string) string {
	switch s {
	case "true":
		return "yes"
	case "false":
		return "no"
	}
	return s
}

// rowsTable shows rows of one sheet.
func rowsTable(id, caption string, rows []orderbook.Row, leave ...string) page.Table {
	t := page.Table{ID: id, Caption: caption, Total: len(rows)}
	if len(rows) == 0 {
		t.Columns = []page.Column{{Key: "none", Title: caption}}
		return t
	}
	for _, c := range rows[0].Cells {
		if !slices.Contains(leave, c.Name) {
			t.Columns = append(t.Columns, page.Column{Key: c.Name, Title: strings.ReplaceAll(c.Name, "_", " ")})
		}
	}
	for _, r := range rows {
		var cells []page.Cell
		for _, c := range t.Columns {
			cells = append(cells, page.Text(plainWord(r.Get(c.Key))))
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// historyTable shows rows that a later load ended.
func historyTable(rows []orderbook.Row) page.Table {
	t := page.Table{ID: "history-table", Caption: "Rows that a later load replaced or removed", Total: len(rows), Columns: []page.Column{
		{Key: "sheet", Title: "sheet"}, {Key: "load", Title: "came with load", Numeric: true}, {Key: "until_load", Title: "ended by load", Numeric: true}, {Key: "was", Title: "was"}}}
	for _, r := range rows {
		var words []string
		for _, f := range factsOf(r) {
			words = append(words, f[0]+" "+f[1])
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Sheet), page.Count(int(r.Load)), page.Count(int(r.Until)), page.Text(strings.Join(words, "; "))})
	}
	return t
}

// formBlocks show one form: its faults, its facts, its numbers as written.
func formBlocks(ctx context.Context, d *Desk, f orderbook.FormSeen) ([]page.Block, error) {
	numbers, err := d.book.Numbers(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	faults := page.Table{ID: "faults-" + f.ID, Caption: "Faults of form " + f.ID, Columns: []page.Column{{Key: "state", Title: "state"}, {Key: "faults", Title: "faults"}}}
	for _, s := range []struct {
		state form.State
		word  string
	}{{form.With, "has"}, {form.Unknown, "can't be judged"}, {form.Without, "has not"}} {
		faults.Rows = append(faults.Rows, []page.Cell{page.Text(s.word), page.Text(faultNames(f.Faults, s.state))})
	}
	faults.Total = len(faults.Rows)
	return append(append([]page.Block{faults}, d.figures(f, numbers)...), numberTable(f.ID, numbers), markTable(f)), nil
}

// markTable are the marks and facts of the form that a clerk keyed.
func markTable(f orderbook.FormSeen) page.Table {
	t := page.Table{ID: "marks-" + f.ID, Caption: "As keyed from form " + f.ID, Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "is", Title: "is"}}}
	for _, name := range []string{"received_on", "cut_from", "measurer_id", "self_measured", "marks_missing", "marks_unknown", "numbers", "tucked_numbers",
		"foot_girths_missing", "ankles_missing", "heights_needed", "heights_missing", "irregularities"} {
		if v := f.Facts.Get(name); v != "" {
			t.Rows = append(t.Rows, []page.Cell{page.Text(strings.ReplaceAll(name, "_", " ")), page.Text(plainWord(v))})
		}
	}
	t.Total = len(t.Rows)
	return t
}

// numberTable lays left beside right.
func numberTable(formID string, numbers []form.Number) page.Table {
	t := page.Table{ID: "numbers-" + formID, Caption: "Numbers of form " + formID + ", as written and in mm", Columns: []page.Column{
		{Key: "point", Title: "point"}, {Key: "left", Title: "left"}, {Key: "left_mm", Title: "left", Unit: "mm", Numeric: true},
		{Key: "right", Title: "right"}, {Key: "right_mm", Title: "right", Unit: "mm", Numeric: true}}}
	at := map[string]int{}
	for _, n := range numbers {
		name := n.Point.String()
		if n.HeightMM > 0 {
			name += " at " + strings.TrimSpace(n.HeightWritten)
			if strings.TrimSpace(n.HeightWritten) == "" {
				name += page.Fixed(float64(n.HeightMM), 0) + " mm"
			}
		}
		if n.Clothing == form.Tucked {
			name += ", over trousers"
		}
		i, ok := at[name]
		if !ok {
			i = len(t.Rows)
			at[name] = i
			t.Rows = append(t.Rows, []page.Cell{page.Text(name), {}, page.Number(math.NaN(), 0), {}, page.Number(math.NaN(), 0)})
		}
		k := 1
		if n.Side == form.Right {
			k = 3
		}
		t.Rows[i][k], t.Rows[i][k+1] = page.Text(n.Written+" "+n.Unit.String()), page.Number(n.ValueMM, 1)
	}
	t.Total = len(t.Rows)
	return t
}

// figures are the drawings of a form in the book: its numbers on the human
// range, and its leg profile. Neither shows rules or the customer's other orders.
func (d *Desk) figures(f orderbook.FormSeen, numbers []form.Number) []page.Block {
	if len(numbers) == 0 {
		return nil
	}
	own := *d
	own.rules = nil
	x := own.explained(own.one(orderbook.DeskForm{ID: f.ID, Order: f.Order, No: f.No, Sex: f.Facts.Get("sex"), Channel: f.Facts.Get("channel"),
		Faults: f.Faults, Numbers: numbers, Received: cohort.NoDay, ShaftMM: math.NaN()}, nil, nil))
	out := []page.Block{renamed(review.FormFigure(x), f.ID)}
	if leg := review.LegFigure(x); leg != nil {
		out = append(out, renamed(*leg, f.ID))
	}
	return out
}

// renamed gives a figure an id of its own on a page with several forms.
func renamed(f page.Figure, form string) page.Figure {
	f.ID += "-" + service.FormAnchor(form)
	if f.Data.ID != "" {
		f.Data.ID += "-" + service.FormAnchor(form)
	}
	return f
}
