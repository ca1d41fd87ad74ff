package people

import (
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/signs"
	"lastroom/reports/page"
)

// RemakesTable is what came of the orders cut from a measurer's forms.
func RemakesTable(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-remakes", Caption: "Remakes of orders cut from this measurer's forms", Columns: []page.Column{
		{Key: "what", Title: "What"}, {Key: "value", Title: "Number", Numeric: true}}}
	row := func(what string, c page.Cell) { t.Rows = append(t.Rows, []page.Cell{page.Text(what), c}) }
	row("mature orders", page.CountOf(m.Orders, orders(m.MatureOrders)))
	row("remade", page.CountOf(m.Remade, orders(m.RemadeOrders)))
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
		{Key: "fault", Title: "Fault"}, {Key: "forms", Title: "Judged", Numeric: true}, {Key: "with", Title: "With it", Numeric: true},
		{Key: "share", Title: "Share, drawn towards all", Unit: "%", Numeric: true}, {Key: "rate", Title: "Share as counted", Unit: "%", Numeric: true}, {Key: "expected", Title: "Others, boots as tall", Unit: "%", Numeric: true}, {Key: "outside", Title: "Against exact limits"}}}
	for _, f := range m.Faults {
		k, _ := form.FaultIndex(f.Fault)
		t.Rows = append(t.Rows, []page.Cell{{Text: form.Faults[k].Title, Value: f.Fault}, page.CountOf(f.AtRisk, orders(f.JudgedOrders)), page.CountOf(f.With, orders(f.Orders)), page.Percent(f.Share), page.Percent(f.Rate), page.Percent(f.Expected), page.Text(f.Outside)})
	}
	t.Notes = append(page.Refusals(t.Rows), "Who notes faults honestly shows more of them.")
	t.Total = len(t.Rows)
	return t
}

// signName is the signs in words.
func signName(s signs.Sign) string {
	switch s.Sign {
	case signs.RoundedOff:
		return "numbers rounded off"
	case signs.SidesAlike:
		return "left and right the same"
	case signs.TapeShifted:
		return "all girths of the foot together"
	case signs.TapeHeight:
		return "height of the tape on the leg"
	}
	return strings.TrimPrefix(s.Sign, signs.Girth) + " girth beside the tracing"
}

// SignsTable is what the numbers of ordinary forms tell of a measurer.
func SignsTable(list []signs.Sign) page.Table {
	t := page.Table{ID: "measurer-signs", Caption: "Signs in the numbers of ordinary forms, against all others' forms", Columns: []page.Column{
		{Key: "sign", Title: "Sign"}, {Key: "forms", Title: "Forms", Numeric: true}, {Key: "value", Title: "More than others", Numeric: true},
		{Key: "unit", Title: "In"}, {Key: "stands_out", Title: "Stands out"}, {Key: "forms_needed", Title: "Forms to say more", Numeric: true}, {Key: "says", Title: "In words"}}}
	for _, s := range list {
		value, unit := page.Plain(s.Value, 1), "mm"
		if s.Unit == "share" {
			value, unit = page.Percent(s.Value), "%"
		}
		needed := page.Cell{}
		if s.FormsNeeded > s.Value.N {
			needed = page.Count(s.FormsNeeded)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(signName(s)), page.CountOf(s.Value.N, page.Ref{Kind: "forms", IDs: s.Forms}), value, page.Text(unit), page.YesNo(s.StandsOut), needed, page.Text(s.Says)})
	}
	t.Notes = append(page.Refusals(t.Rows), "Read off the newest forms, what the traced foot makes likely taken into account. A sign is a reason to look at the forms together, not a verdict.")
	t.Total = len(t.Rows)
	return t
}

// TrendTable holds the forms from before a measurer's training against those since.
func TrendTable(t measurers.Trend) page.Table {
	out := page.Table{ID: "measurer-trend", Caption: "Before the training and since", Columns: []page.Column{
		{Key: "when", Title: "When"}, {Key: "forms", Title: "Forms", Numeric: true}, {Key: "faults_per_form", Title: "Faults a form", Numeric: true},
		{Key: "mature_orders", Title: "Mature orders", Numeric: true}, {Key: "remade", Title: "Remade", Unit: "%", Numeric: true}}}
	for _, p := range []struct {
		when string
		of   measurers.Period
	}{{"before", t.Before}, {"since", t.After}} {
		out.Rows = append(out.Rows, []page.Cell{page.Text(p.when), page.CountOf(p.of.Forms, orders(p.of.FormOrders)), page.Plain(p.of.Faults, 2), page.CountOf(p.of.Orders, orders(p.of.MatureOrders)), page.Percent(p.of.Remade)})
	}
	out.Notes = append(page.Refusals(out.Rows), t.Words, "Orders count by the day on which their first form came. A change since the training need not come from it.")
	out.Total = len(out.Rows)
	return out
}
