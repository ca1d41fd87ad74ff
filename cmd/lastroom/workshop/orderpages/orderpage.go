// Package orderpages lays out orders of the book for the pages: a list of them
// ([Table]), all that is known of one with what the desk sees in its forms
// ([Order]), and the first form of one as an exercise, which tells nothing that
// came later ([Exercise]).
package orderpages

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/ingest/lengths"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Order shows one order: facts, forms with numbers and faults, reports,
// call-backs, what was corrected, and the customer's other orders.
func Order(ctx context.Context, d *judging.Desk, id string) (*page.Document, error) {
	r := d.Book()
	o, found, err := r.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, service.ErrUnknown
	}
	facts := factsOf(o.Order, "order_id", "customer_id", "shaft_height_mm", "shaft_written")
	if height := shaftOf(o.Order); height != "" {
		facts = append(facts, []page.Cell{page.Text("shaft height above the floor"), page.Text(height)})
	}
	doc := review.FactsPage("Order "+id, orderLead(o), facts)
	if o.LeftOut != "" {
		doc.Sections[0].Blocks = append(doc.Sections[0].Blocks, page.Prose{"Not among the orders that findings stand on: " + o.LeftOut + "."})
	}
	add := func(id, title string, blocks ...page.Block) {
		doc.Sections = append(doc.Sections, page.Section{ID: id, Title: title, Blocks: blocks})
	}
	add("time-line", "What happened, day by day", timeLine(o))
	if of, err := d.RiskOfOrder(ctx, id); err != nil {
		return nil, err
	} else if of != nil {
		add("risk", "Remake risk, as seen on the day of cutting", review.RiskOf(id, *of)...)
	}
	if len(o.Outcomes) > 0 {
		add("outcomes", "Reports of fit", rowsTable("outcomes-table", "Reports of fit", o.Outcomes, "order_id"))
	} else {
		add("outcomes", "Reports of fit", page.Prose{"There is none in the book yet."})
	}
	numbers := make([][]form.Number, len(o.Forms))
	for i, f := range o.Forms {
		if numbers[i], err = r.Numbers(ctx, f.ID); err != nil {
			return nil, err
		}
		if i > 0 {
			before := o.Forms[i-1]
			add("changed-"+service.FormAnchor(f.ID), fmt.Sprintf("What changed from form %d to form %d", before.No, f.No), changed(before, f, numbers[i-1], numbers[i]))
		}
		add(service.FormAnchor(f.ID), fmt.Sprintf("Form %d", f.No), formBlocks(d, f, numbers[i])...)
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
		t, err := Table(ctx, r, others)
		if err != nil {
			return nil, err
		}
		t.ID, t.Caption = "same-customer", "Orders of the same customer, oldest first"
		add("others", "The same customer", t)
	}
	doc.Cautions = review.Cautions
	doc.Provenance = page.Provenance{AsOf: r.AsOf(), BookHash: r.ContentHash(), Version: workshop.Version()}
	return doc, nil
}

// timeLine puts all that happened with an order into the order of its days: forms,
// call-backs, cutting, shipping, reports of fit. What has no day stands last.
func timeLine(o orderbook.Order) page.Table {
	t := page.Table{ID: "time-line-table", Caption: "What happened, day by day", Columns: []page.Column{{Key: "day", Title: "day"}, {Key: "what", Title: "what"}, {Key: "more", Title: "more"}}}
	add := func(day string, what page.Cell, more string) {
		if day == "" {
			day = "not known"
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(day), what, page.Text(more)})
	}
	if day := o.Order.Get("received_on"); day != "" {
		add(day, page.Text("order received"), "")
	}
	for _, f := range o.Forms {
		what := page.Text(fmt.Sprintf("form %d came", f.No))
		what.Ref = page.Ref{Kind: "form", IDs: []string{f.ID}}
		more := f.Facts.Get("numbers") + " numbers"
		if faults := faultNames(f.Faults, form.With); faults != "none" {
			more += "; " + faults
		}
		if f.Facts.Get("cut_from") == "true" {
			more += "; cut from this form"
		}
		add(f.Facts.Get("received_on"), what, more)
	}
	for _, c := range o.CallBacks {
		about := "asked about form " + c.Get("form_no")
		fault := c.Get("fault")
		if i, ok := form.FaultIndex(fault); ok {
			fault = form.Faults[i].Title
		}
		add(c.Get("called_on"), page.Text(about), fault)
		if c.Get("resolved") != "" {
			add(c.Get("resolved_on"), page.Text("answer about form "+c.Get("form_no")), strings.TrimPrefix(fault+map[string]string{"true": ": mended", "false": ": not mended"}[c.Get("resolved")], ": "))
		}
	}
	for _, e := range [][2]string{{"cut_on", "leather cut"}, {"shipped_on", "shipped"}} {
		if day := o.Order.Get(e[0]); day != "" {
			add(day, page.Text(e[1]), "")
		}
	}
	for _, r := range o.Outcomes {
		var more []string
		for _, c := range []string{"zone", "direction", "side", "cause"} {
			if v := r.Get(c); v != "" {
				more = append(more, v)
			}
		}
		add(r.Get("reported_on"), page.Text("report of fit: "+r.Get("result")), strings.Join(more, ", "))
	}
	slices.SortStableFunc(t.Rows, func(a, b []page.Cell) int { return strings.Compare(a[0].Text, b[0].Text) }) // letters come after figures
	t.Total = len(t.Rows)
	return t
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
func factsOf(r orderbook.Row, leave ...string) (out [][]page.Cell) {
	for _, c := range r.Cells {
		if c.Known && !slices.Contains(leave, c.Name) {
			out = append(out, []page.Cell{page.Text(strings.ReplaceAll(c.Name, "_", " ")), keyed(c.Name, c.Value)})
		}
	}
	return out
}

// shaft is a shaft height as it was written, and in millimetres; "" where there is none.
func shaft(written string, mm float64) string {
	if math.IsNaN(mm) {
		return ""
	}
	text := lengths.AsWritten(written, mm)
	if lengths.WrittenIn(text, form.NoUnit) == form.Millimetre {
		return text
	}
	return fmt.Sprintf("%s (%s mm)", text, page.Fixed(mm, 0))
}

// shaftOf is that of an order.
func shaftOf(order orderbook.Row) string {
	mm, err := strconv.ParseFloat(order.Get("shaft_height_mm"), 64)
	if err != nil {
		return ""
	}
	return shaft(order.Get("shaft_written"), mm)
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

// keyed is a cell of a sheet for people: a word, or what somebody wrote.
func keyed(column, v string) page.Cell {
	switch {
	case strings.HasSuffix(column, "_id") || column == "irregularities" || column == "instructions" || column == "closure" && !slices.Contains(form.Closures, v):
		return page.AsIs(v)
	}
	return page.Text(plainWord(v))
}

// rowsTable shows rows of one sheet, without columns in which nothing is known.
func rowsTable(id, caption string, rows []orderbook.Row, leave ...string) page.Table {
	t := page.Table{ID: id, Caption: caption, Total: len(rows)}
	for i, c := range rows[0].Cells {
		known := slices.ContainsFunc(rows, func(r orderbook.Row) bool { return r.Cells[i].Known })
		if known && !slices.Contains(leave, c.Name) {
			t.Columns = append(t.Columns, page.Column{Key: c.Name, Title: strings.ReplaceAll(c.Name, "_", " ")})
		}
	}
	for _, r := range rows {
		var cells []page.Cell
		for _, c := range t.Columns {
			cells = append(cells, keyed(c.Key, r.Get(c.Key)))
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
			words = append(words, f[0].Text+" "+f[1].Text)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Sheet), page.Count(int(r.Load)), page.Count(int(r.Until)), page.Text(strings.Join(words, "; "))})
	}
	return t
}

// formBlocks show one form: its faults, its facts, its numbers as written.
func formBlocks(d *judging.Desk, f orderbook.FormSeen, numbers []form.Number) []page.Block {
	faults := page.Table{ID: "faults-" + f.ID, Caption: "Faults of form " + f.ID, Columns: []page.Column{{Key: "state", Title: "state"}, {Key: "faults", Title: "faults"}}}
	for _, s := range []struct {
		state form.State
		word  string
	}{{form.With, "has"}, {form.Unknown, "can't be judged"}, {form.Without, "has not"}} {
		faults.Rows = append(faults.Rows, []page.Cell{page.Text(s.word), page.Text(faultNames(f.Faults, s.state))})
	}
	faults.Total = len(faults.Rows)
	if len(numbers) == 0 {
		return []page.Block{faults, markTable(f)}
	}
	x := d.Seen(f, numbers)
	return append(append([]page.Block{faults}, figures(x, f.ID)...), numberTable(f.ID, numbers, x.Decision.Doubts), markTable(f))
}

// markTable are the marks and facts of the form that a clerk keyed.
func markTable(f orderbook.FormSeen) page.Table {
	t := page.Table{ID: "marks-" + f.ID, Caption: "As keyed from form " + f.ID, Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "is", Title: "is"}}}
	for _, name := range []string{"received_on", "cut_from", "measurer_id", "self_measured", "marks_missing", "marks_unknown", "numbers", "tucked_numbers",
		"foot_girths_missing", "ankles_missing", "heights_needed", "heights_missing", "irregularities"} {
		if v := f.Facts.Get(name); v != "" {
			t.Rows = append(t.Rows, []page.Cell{page.Text(strings.ReplaceAll(name, "_", " ")), keyed(name, v)})
		}
	}
	t.Total = len(t.Rows)
	return t
}

// numberTable lays left beside right, with what is doubted of either.
func numberTable(formID string, numbers []form.Number, doubts []desk.Doubt) page.Table {
	t := page.Table{ID: "numbers-" + formID, Caption: "Numbers of form " + formID + ", as written and in mm", Columns: []page.Column{
		{Key: "point", Title: "point"}, {Key: "left", Title: "left"}, {Key: "left_mm", Title: "left", Unit: "mm", Numeric: true},
		{Key: "right", Title: "right"}, {Key: "right_mm", Title: "right", Unit: "mm", Numeric: true}}}
	if len(doubts) > 0 {
		t.Columns = append(t.Columns, page.Column{Key: "doubt", Title: "doubt"})
	}
	at := map[string]int{}
	for _, n := range numbers {
		name := placeName(n)
		i, ok := at[name]
		if !ok {
			i = len(t.Rows)
			at[name] = i
			t.Rows = append(t.Rows, []page.Cell{page.Text(name), {}, page.Number(math.NaN(), 0), {}, page.Number(math.NaN(), 0)})
			if len(doubts) > 0 {
				t.Rows[i] = append(t.Rows[i], page.Cell{})
			}
		}
		k := 1
		if n.Side == form.Right {
			k = 3
		}
		t.Rows[i][k], t.Rows[i][k+1] = page.AsIs(n.Written+" "+n.Unit.String()), page.Number(n.ValueMM, 1)
		if j := slices.IndexFunc(doubts, func(x desk.Doubt) bool { return x.Place == n.Place }); j >= 0 { // the first is the likeliest
			c := &t.Rows[i][5]
			c.Text = strings.TrimPrefix(c.Text+"; "+n.Side.String()+": "+doubts[j].Words, "; ")
		}
	}
	t.Total = len(t.Rows)
	return t
}

// placeName says where a number was taken, but for the side.
func placeName(n form.Number) string {
	name := n.Point.String()
	if n.HeightMM > 0 {
		name += " at " + n.HeightMM.String()
	}
	if n.Clothing == form.Tucked {
		name += ", over trousers"
	}
	return name
}

// changed says what is otherwise on a form than on the one before: faults, what a clerk
// keyed, then numbers as written.
func changed(was, is orderbook.FormSeen, before, now []form.Number) page.Block {
	t := page.Table{ID: "changes-" + is.ID, Caption: fmt.Sprintf("What differs between form %d and form %d", was.No, is.No),
		Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "before", Title: "before"}, {Key: "now", Title: "now"}}}
	add := func(what string, a, b page.Cell) {
		if a.Text != b.Text {
			for _, c := range []*page.Cell{&a, &b} {
				if c.Text == "" {
					*c = page.Text("not known")
				}
			}
			t.Rows = append(t.Rows, []page.Cell{page.Text(what), a, b})
		}
	}
	add("faults", page.Text(faultNames(was.Faults, form.With)), page.Text(faultNames(is.Faults, form.With)))
	add("can't be judged", page.Text(faultNames(was.Faults, form.Unknown)), page.Text(faultNames(is.Faults, form.Unknown)))
	for _, name := range []string{"measurer_id", "self_measured", "irregularities"} {
		add(strings.ReplaceAll(name, "_", " "), keyed(name, was.Facts.Get(name)), keyed(name, is.Facts.Get(name)))
	}
	written := func(list []form.Number, at form.Place) page.Cell {
		if i := slices.IndexFunc(list, func(n form.Number) bool { return n.Place == at }); i >= 0 {
			return page.Text(list[i].Written + " " + list[i].Unit.String())
		}
		return page.Cell{}
	}
	all := slices.Clone(now)
	for _, n := range before {
		if written(now, n.Place).Text == "" {
			all = append(all, n)
		}
	}
	slices.SortStableFunc(all, func(a, b form.Number) int { return form.ComparePlaces(a.Place, b.Place) })
	for _, n := range all {
		add(n.Side.String()+" "+placeName(n), written(before, n.Place), written(now, n.Place))
	}
	if len(t.Rows) == 0 {
		return page.Prose{"Nothing differs."}
	}
	t.Total = len(t.Rows)
	return t
}

// figures are the drawings of a form: its numbers on the human range, and its leg
// profile, each with what is doubted marked.
func figures(x review.Explained, formID string) []page.Block {
	out := []page.Block{renamed(review.FormFigure(x), formID)}
	if leg := review.LegFigure(x); leg != nil {
		out = append(out, renamed(*leg, formID))
	}
	return out
}

// renamed gives a figure an id of its own on a page with several forms.
func renamed(f page.Figure, id string) page.Figure {
	f.ID += "-" + service.FormAnchor(id)
	if f.Data.ID != "" {
		f.Data.ID += "-" + service.FormAnchor(id)
	}
	return f
}
