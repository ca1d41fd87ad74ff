package people

import (
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/reports/page"
	"lastroom/reports/review"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
)

// mostExamples is how many forms or orders are named as examples.
const mostExamples = 5

// OnePage is what is known of one measurer of the comparison, for the fit lead.
func OnePage(d measurers.Comparison, m measurers.Measurer) *page.Document {
	p := &page.Document{Title: "Measurer " + m.ID, Lead: m.Words, Cautions: []string{review.PrivateData, review.NoDiagnosis}}
	p.Sections = []page.Section{
		{ID: "work", Title: "To work on", Blocks: work(m)},
		{ID: "remakes", Title: "Remakes", Blocks: []page.Block{RemakesTable(m), Funnel(d, m.ID)}},
		{ID: "faults", Title: "Faults of the forms", Blocks: []page.Block{FaultsTable(m), faultOrders(m)}},
		{ID: "signs", Title: "Signs in the numbers", Blocks: []page.Block{SignsTable(m.Signs)}},
		{ID: "trend", Title: "Since the training", Blocks: []page.Block{TrendTable(m.Trend)}},
		{ID: "sessions", Title: "Measuring sessions", Blocks: sessions(m)},
		{ID: "warnings", Title: "To bear in mind", Blocks: []page.Block{page.Prose(d.Warnings)}},
	}
	return p
}

// newestOrders is how many orders are named for each fault.
const newestOrders = 3

// faultOrders names the newest orders that were cut from forms with each fault.
func faultOrders(m measurers.Measurer) page.Table {
	t := page.Table{ID: "fault-orders", Caption: "Newest orders cut from forms with the fault", Columns: []page.Column{{Key: "fault", Title: "Fault"}, {Key: "order_id", Title: "Order"}}}
	for _, f := range m.Faults {
		k, _ := form.FaultIndex(f.Fault)
		for _, id := range f.Orders[:min(len(f.Orders), newestOrders)] {
			t.Rows = append(t.Rows, []page.Cell{{Text: form.Faults[k].Title, Value: f.Fault}, {Text: id, Value: id, AsIs: true, Ref: page.Ref{Kind: "order", IDs: []string{id}}}})
		}
		t.Total += len(f.Orders)
	}
	return t
}

func sessions(m measurers.Measurer) []page.Block {
	if len(m.TEM) == 0 {
		return []page.Block{page.Prose{"No measuring session is in the book. In one, several people tape the same legs beside an instructor, and a tight tape can be told from one that lies too high."}}
	}
	var words page.Prose
	for _, h := range m.Habits {
		words = append(words, h.Says)
	}
	return []page.Block{MeasuredTable(m.TEM), words}
}

// work are the things to work on, one finding each, with a table of the forms that show
// them.
func work(m measurers.Measurer) (out []page.Block) {
	list := m.Work()
	if len(list) == 0 {
		return []page.Block{page.Prose{"Nothing stands out that calls for work now."}}
	}
	english := sheet.Words.Language(translation.English)
	examples := page.Table{ID: "examples", Caption: "Own forms to look at together", Columns: []page.Column{{Key: "about", Title: "About"}, {Key: "example", Title: "Form or order"}}}
	for _, w := range list {
		f := page.Finding{ID: "work-" + strings.ReplaceAll(strings.ToLower(w.Title), " ", "-"), Headline: form.Capitalised(w.Title), Detail: []string{w.Seen}, Action: w.How}
		if w.Lesson != "" {
			if f.Action == "" {
				f.Action = english.Say(w.Lesson + "_do")
			}
			k, _ := form.FaultIndex(w.Lesson)
			f.Detail = append(f.Detail, english.Say(w.Lesson+"_why"), "Teaching sheet: "+form.Faults[k].Title+".")
		}
		out = append(out, f)
		add := func(kind string, ids []string) {
			for _, id := range ids[:min(len(ids), mostExamples)] {
				examples.Rows = append(examples.Rows, []page.Cell{page.Text(w.Title), {Text: id, Value: id, AsIs: true, Ref: page.Ref{Kind: kind, IDs: []string{id}}}})
			}
		}
		add("form", w.Forms)
		add("order", w.Orders)
	}
	if examples.Total = len(examples.Rows); examples.Total > 0 {
		out = append(out, examples)
	}
	return out
}

// Lessons are the faults whose teaching sheets go with a measurer's page.
func Lessons(m measurers.Measurer) (out []form.Fault) {
	for _, w := range m.Work() {
		if k, ok := form.FaultIndex(w.Lesson); ok {
			out = append(out, form.Faults[k])
		}
	}
	return out
}

// HandOver is a page for the measurer: what goes well, at most two things to
// work on with own forms as examples. Nobody else's figures are in it by name.
func HandOver(d measurers.Comparison, m measurers.Measurer) *page.Document {
	p := &page.Document{Title: "For " + m.ID,
		Lead: fmt.Sprintf("Thank you for measuring. Boots for %s were cut from your forms and have been worn long enough to tell; this is what the forms show, up to %v.",
			page.Counted(m.Orders, "order", "orders"), d.AsOf)}
	if m.Orders < measurers.LeastOrders {
		p.Lead = fmt.Sprintf("Thank you for measuring. These are the first things that your forms show, up to %v; with more forms more can be told.", d.AsOf)
	}
	var well page.Prose
	done := m.DoneWell()
	for _, f := range done[:min(len(done), 2)] {
		k, _ := form.FaultIndex(f.Fault)
		well = append(well, fmt.Sprintf("%s: only %d of your %d forms, fewer than forms for such boots usually have.", form.Capitalised(form.Faults[k].Title), f.With, f.AtRisk))
	}
	if m.Trend.Change.High < 0 {
		well = append(well, m.Trend.Words)
	}
	if m.Verdict == measurers.Fewer {
		well = append(well, fmt.Sprintf("%d of these boots had to be made again, fewer than such boots usually have.", m.Remade))
	}
	if len(well) == 0 {
		well = append(well, "Most of your forms can be cut from as they come.")
		if m.PerForm.Given() && m.PerForm.Point > 1 {
			well[0] = "Your forms come in, and boots are worn that were cut from them."
		}
	}
	p.Sections = []page.Section{
		{ID: "well", Title: "What goes well", Sheet: 1, Blocks: []page.Block{well}},
		{ID: "work", Title: "What to work on", Sheet: 1, Blocks: work(m)},
		{ID: "together", Title: "How to go on", Sheet: 1, Blocks: []page.Block{page.Prose{
			"Take one of your forms and measure the same person again, if that is possible, or someone at hand: first as you always do, then as it is said here. Write down both numbers.",
			"These are counts from many forms. They can't say what happened on one of them, and chance plays a part; ask if something does not look right.",
		}}},
	}
	p.Cautions = []string{review.PrivateData}
	return p
}
