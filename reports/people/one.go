package people

import (
	"lastroom/analysis/measurers"
	"lastroom/reports/page"
)

// RemakesTable is what came of the orders cut from a measurer's forms.
func RemakesTable(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-remakes", Caption: "Remakes of orders cut from this measurer's forms", Columns: []page.Column{
		{Key: "what", Title: "What"}, {Key: "value", Title: "Number", Numeric: true}}}
	row := func(what string, c page.Cell) { t.Rows = append(t.Rows, []page.Cell{page.Text(what), c}) }
	row("mature orders", page.Count(m.Orders))
	row("remade", page.CountOf(m.Remade, page.Ref{Kind: "orders", IDs: m.RemadeOrders}))
	row("expected of such orders", page.Plain(m.Expected, 1))
	row("share, drawn towards the expected, %", page.Percent(m.Share))
	row("share as counted, %", page.Percent(m.Rate))
	row("times the others' share", page.Plain(m.Ratio, 2))
	row("verdict", page.Text(string(m.Verdict)))
	t.Notes = page.Refusals(t.Rows)
	t.Total = len(t.Rows)
	return t
}

// FaultsTable has one row a fault of a measurer's forms.
func FaultsTable(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-faults", Caption: "Faults on this measurer's forms", Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "at_risk", Title: "Judged", Numeric: true}, {Key: "with_fault", Title: "With it", Numeric: true},
		{Key: "share", Title: "Share, drawn towards all", Unit: "%", Numeric: true}, {Key: "rate", Title: "Share as counted", Unit: "%", Numeric: true}, {Key: "outside", Title: "Against exact limits"}}}
	for _, f := range m.Faults {
		t.Rows = append(t.Rows, []page.Cell{page.Text(f.Fault), page.Count(f.AtRisk), page.Count(f.With), page.Percent(f.Share), page.Percent(f.Rate), page.Text(f.Outside)})
	}
	t.Notes = append(page.Refusals(t.Rows), "Who notes faults honestly shows more of them.")
	t.Total = len(t.Rows)
	return t
}
