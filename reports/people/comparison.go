// Package people makes the pages about those who measure: all of them, one of them,
// repeats of training sessions, and what is handed over to a measurer.
package people

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// ComparisonPage is the comparison of measurers as a document of its own. Its
// first table has one row a measurer, by id.
func ComparisonPage(d measurers.Comparison) *page.Document {
	p := &page.Document{Title: "Measurers", Lead: comparisonLead(d), Cautions: []string{review.PrivateData, review.NoDiagnosis}}
	p.Sections = []page.Section{
		{ID: "measurers", Title: "All measurers", Blocks: []page.Block{ComparisonTable(d)}},
		{ID: "stands-out", Title: "What stands out", Blocks: []page.Block{standingOutTable(d)}},
		{ID: "newcomers", Title: "Newcomers", Blocks: []page.Block{newcomersTable(d)}},
		{ID: "funnel", Title: "Shares and numbers of orders", Blocks: []page.Block{Funnel(d, "")}},
		{ID: "warnings", Title: "To bear in mind", Blocks: []page.Block{page.Prose(d.Warnings)}},
	}
	return p
}

func comparisonLead(d measurers.Comparison) string {
	n := map[measurers.Verdict]int{}
	for _, m := range d.Measurers {
		n[m.Verdict]++
	}
	s := page.Counted(len(d.Measurers), "measurer has", "measurers have") + fmt.Sprintf(" at least %d mature orders.", measurers.LeastOrders)
	for _, part := range []struct {
		verdict measurers.Verdict
		says    string
	}{
		{measurers.More, " %d had more remakes than expected."}, {measurers.Fewer, " %d had fewer remakes than expected."},
		{measurers.AsExpected, " %d had about as many remakes as expected."},
		{measurers.TooFewToTell, " Of %d the orders are too few to tell."}, {measurers.NotComparable, " %d can't be compared."},
	} {
		if n[part.verdict] > 0 {
			s += fmt.Sprintf(part.says, n[part.verdict])
		}
	}
	fewer := max(d.TooFew, len(d.Newcomers))
	switch {
	case len(d.Measurers) == 0:
		s = fmt.Sprintf("No measurer has %d mature orders yet: nobody is compared.", measurers.LeastOrders)
		if fewer > 0 {
			s += " " + page.Counted(fewer, "measurer has", "measurers have") + " fewer so far."
		}
	case fewer > 0:
		s += fmt.Sprintf(" With fewer orders: %d.", fewer)
	}
	if n := len(d.Newcomers); n > 0 {
		s += fmt.Sprintf(" Newcomers among them with at least %d orders, who have pages too: %d.", measurers.LeastForms, n)
	}
	return s
}

// ComparisonTable has one row a measurer, by id: nobody is ranked.
func ComparisonTable(d measurers.Comparison) page.Table {
	t := page.Table{ID: "measurers", Caption: "Remakes of orders cut from each measurer's forms", Columns: []page.Column{
		{Key: "measurer", Title: "Measurer"}, {Key: "kind", Title: "Kind"}, {Key: "orders", Title: "Mature orders", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true},
		{Key: "expected", Title: "Expected of such orders", Numeric: true}, {Key: "share", Title: "Share, drawn towards the expected", Unit: "%", Numeric: true},
		{Key: "ratio", Title: "Times the others'", Numeric: true}, {Key: "verdict", Title: "Verdict"}}}
	for _, m := range d.Measurers {
		t.Rows = append(t.Rows, []page.Cell{named(m), kind(m), page.CountOf(m.Orders, orders(m.MatureOrders)), page.CountOf(m.Remade, orders(m.RemadeOrders)),
			page.Plain(m.Expected, 1), page.Percent(m.Share), page.Plain(m.Ratio, 2), page.Text(string(m.Verdict))})
	}
	t.Notes = append(page.Refusals(t.Rows),
		"More and fewer: the 95 % interval of the ratio leaves out 1. As expected: it does not, and twice the share would have shown in at least 80 of 100 cases.")
	t.Total = len(t.Rows)
	return t
}

// Funnel draws all measurers within the limits that chance alone sets around the
// common share. Who stands out is judged on the mix of their own orders. The one
// it is about, if any, is marked.
func Funnel(d measurers.Comparison, about string) page.Figure {
	f := figure.Funnel{ID: "funnel", Title: "Remake share and number of orders, by measurer", X: "mature orders", Y: "% of orders remade", Centre: d.Overall.Point,
		Desc: "Each mark is a measurer. By chance alone 19 of 20 lie within the inner limits, 998 of 1,000 within the outer. A mark stands out where more or fewer remakes than the mix of its own orders lets expect are told; it may lie inside the limits, which know nothing of the mix. Nobody is ranked; fewer than 20 orders are not drawn."}
	most := 0
	for _, m := range d.Measurers {
		f.Points = append(f.Points, figure.FunnelPoint{Label: m.ID, N: m.Orders, Events: m.Remade, Behind: orders(m.MatureOrders), BehindEvents: orders(m.RemadeOrders), Share: m.Rate.Point,
			Outside: m.Verdict == measurers.More || m.Verdict == measurers.Fewer, About: about != "" && m.ID == about})
		most = max(most, m.Orders)
	}
	for n := measurers.LeastOrders; n <= most; n += max(1, most/60) {
		at := func(q float64) float64 { return stats.FunnelLimit(d.Overall.Point, n, q) }
		f.Limits = append(f.Limits, figure.FunnelLimit{N: float64(n), Low95: at(0.025), High95: at(0.975), Low998: at(0.001), High998: at(0.999)})
	}
	return figure.FunnelChart(f)
}

// orders points at the orders behind a count.
func orders(ids []string) page.Ref { return page.Ref{Kind: "orders", IDs: ids} }

// named is a measurer's id, which opens his or her page.
func named(m measurers.Measurer) page.Cell {
	return page.Cell{Text: m.ID, Value: m.ID, AsIs: true, Ref: page.Ref{Kind: "measurer", IDs: []string{m.ID}}}
}

// newcomersTable has one row a newcomer, by id.
func newcomersTable(d measurers.Comparison) page.Table {
	t := page.Table{ID: "newcomers", Caption: fmt.Sprintf("Fewer than %d mature orders: what their forms show", measurers.LeastOrders), Columns: []page.Column{
		{Key: "measurer", Title: "Measurer"}, {Key: "kind", Title: "Kind"}, {Key: "orders", Title: "Mature orders", Numeric: true}, {Key: "faults", Title: "Faults on forms so far"}, {Key: "forms", Title: "Stands out"}}}
	for _, m := range d.Newcomers {
		var seen []string
		for _, f := range m.Faults {
			if k, _ := form.FaultIndex(f.Fault); f.With > 0 {
				seen = append(seen, fmt.Sprintf("%s %d of %d", form.Faults[k].Title, f.With, f.AtRisk))
			}
		}
		t.Rows = append(t.Rows, []page.Cell{named(m), kind(m), page.CountOf(m.Orders, orders(m.MatureOrders)), page.Text(strings.Join(seen, ", ")), page.Text(strings.Join(standsOut(m), " "))})
	}
	t.Total = len(t.Rows)
	return t
}

// standingOutTable says of each measurer what is not as with the others, in words.
func standingOutTable(d measurers.Comparison) page.Table {
	t := page.Table{ID: "stands-out", Caption: "What is not as with the others", Columns: []page.Column{
		{Key: "measurer", Title: "Measurer"}, {Key: "faults_per_form", Title: "Faults a form", Numeric: true}, {Key: "forms", Title: "Forms and numbers"}, {Key: "remakes", Title: "Remakes"}, {Key: "trend", Title: "Since the training"}}}
	for _, m := range d.Measurers {
		remakes := m.Words
		if m.Verdict == measurers.TooFewToTell {
			remakes = string(m.Verdict)
		}
		t.Rows = append(t.Rows, []page.Cell{named(m), page.Plain(m.PerForm, 1), page.Text(strings.Join(standsOut(m), " ")), page.Text(remakes), page.Text(m.Trend.Words)})
	}
	t.Total = len(t.Rows)
	return t
}

func standsOut(m measurers.Measurer) (out []string) {
	for _, f := range m.StandingOut() {
		k, _ := form.FaultIndex(f.Fault)
		out = append(out, fmt.Sprintf("More often than others: %s (%d of %d forms).", form.Faults[k].Title, f.With, f.AtRisk))
	}
	for _, s := range m.Signs {
		if s.StandsOut {
			out = append(out, s.Says)
		}
	}
	for _, h := range m.Habits {
		if h.TightMatters() || h.HeightMatters() {
			out = append(out, "In sessions: "+h.Says)
		}
	}
	if len(out) == 0 {
		return []string{"Nothing."}
	}
	return out
}

// kind is what a measurer is: one of the words that sheets usually have, or the shop's own.
func kind(m measurers.Measurer) page.Cell {
	return page.Cell{Text: m.Kind, Value: m.Kind, AsIs: !slices.Contains(form.Texts(form.Channels), m.Kind)}
}
