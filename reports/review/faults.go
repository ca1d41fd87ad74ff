package review

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// FaultTable is every fault with its counts, shares and differences.
func FaultTable(d remakes.FaultTable) []page.Block {
	t := page.Table{ID: "fault-table-data", Caption: faultCaption(d), Columns: []page.Column{
		{Key: "fault", Title: "Fault"},
		{Key: "at_risk", Title: "At risk", Numeric: true}, {Key: "with_fault", Title: "With", Numeric: true}, {Key: "unknown", Title: "Not known", Numeric: true},
		{Key: "rate_with", Title: "Remade with", Unit: "%", Numeric: true}, {Key: "rate_without", Title: "Remade without", Unit: "%", Numeric: true},
		{Key: "risk_difference", Title: "Difference", Unit: "per 100", Numeric: true},
		{Key: "adjusted_risk_difference", Title: "Adjusted", Unit: "per 100", Numeric: true},
		{Key: "q_value", Title: "q", Numeric: true}, {Key: "zones", Title: "Zones"},
	}}
	for _, f := range faultRows(d) {
		t.Rows = append(t.Rows, []page.Cell{
			{Text: f.Title, Value: f.Fault}, page.CountOf(f.AtRisk, orders(f.AtRiskOrders)), page.CountOf(f.With, orders(f.WithOrders)), page.CountOf(f.Unknown, orders(f.UnknownOrders)),
			linked(page.Percent(f.RateWith), f.Orders), page.Percent(f.RateWithout), page.Scaled(f.RiskDifference, 100, 1), adjusted(f, page.Scaled(f.AdjustedRD, 100, 1)),
			qCell(q(f)), page.Text(zoneWord(f)),
		})
	}
	t.Notes = faultNotes(d, t)
	return []page.Block{t}
}

// orders points at the orders behind a count.
func orders(ids []string) page.Ref { return page.Ref{Kind: "orders", IDs: ids} }

// linked is a cell that leads to orders.
func linked(c page.Cell, ids []string) page.Cell {
	c.Ref = orders(ids)
	return c
}

// faultRows are the faults and, last, any fault at all.
func faultRows(d remakes.FaultTable) []remakes.FaultFinding {
	rows := d.Faults[:len(d.Faults):len(d.Faults)]
	if d.AnyFault.AtRisk > 0 {
		last := d.AnyFault
		if last.Title == "" {
			last.Title = "any noted or counted fault"
		}
		if last.Fault == "" {
			last.Fault = "any"
		}
		rows = append(rows, last)
	}
	return rows
}

func faultCaption(d remakes.FaultTable) string {
	return fmt.Sprintf("Faults of the form cut from, on %s mature orders (%s remade)", page.Thousands(d.MatureOrders), page.Thousands(d.Remade))
}

// adjusted says so where no adjusted figure was asked for.
func adjusted(f remakes.FaultFinding, c page.Cell) page.Cell { return notMade(f.AdjustedRD, c) }

// notMade says so where a figure was not asked for.
func notMade(e stats.Estimate, c page.Cell) page.Cell {
	if !e.Given() && (e.Method == "" || slices.Contains(e.Warnings, "not asked for in this run")) {
		return page.Cell{Text: "not made"}
	}
	return c
}

func q(f remakes.FaultFinding) stats.Value {
	if f.AdjustedQ.Given() && f.AdjustedRD.Given() {
		return f.AdjustedQ
	}
	return f.QValue
}

func qCell(n stats.Value) page.Cell {
	c := page.Number(float64(n), 3)
	if n.Given() && n < 0.0005 {
		c.Text = "<0.001"
	}
	return c
}

func zoneWord(f remakes.FaultFinding) string {
	switch f.ZoneCheck.Verdict {
	case "fits":
		return "fit"
	case remakes.CarelessForm:
		return remakes.CarelessForm
	case "unclear":
		return "unclear"
	}
	return ""
}

func faultNotes(d remakes.FaultTable, t page.Table) []string {
	notes := []string{
		"A form mended by a call-back counts as without. Not known is neither with nor without.",
		"q: the false discovery share if this fault and all with a smaller q were called findings; of the adjusted difference where there is one. A fault read off the numbers never enters the adjustment of the others.",
	}
	for _, f := range d.Faults {
		if f.ZoneCheck.Verdict == "fits" {
			notes = append(notes, "Zones, fit: complaints rise where the fault can touch, not elsewhere.")
			break
		}
	}
	for _, f := range d.Faults {
		if f.ZoneCheck.Verdict == remakes.CarelessForm {
			notes = append(notes, "Zones, careless form: complaints rise equally where the fault cannot touch; it likely stands for a careless form, not for the cause.")
			break
		}
	}
	if len(page.Refusals(t.Rows)) > 0 {
		notes = append(notes, "\""+page.TooFew+"\": no share under 10 orders, no ratio or difference under 5 remakes on either side.")
	}
	return notes
}

// FaultForest draws the differences.
func FaultForest(d remakes.FaultTable) []page.Block {
	f := figure.Forest{ID: "fault-forest-figure", Title: "Remakes with each fault, over those without", Scale: 100,
		Axis: "more remakes per 100 orders with the fault than without", Desc: faultCaption(d) + ". " + modelWords(d)}
	for _, one := range faultRows(d) {
		f.Rows = append(f.Rows, figure.ForestRow{Label: one.Title, N: one.With, Events: one.RemadeWith, Behind: orders(one.WithOrders), BehindEvents: orders(one.Orders), Crude: one.RiskDifference, Adjusted: one.AdjustedRD})
	}
	ratios := ratioTable(d)
	return []page.Block{figure.ForestChart(f), ratios}
}

func modelWords(d remakes.FaultTable) string {
	if d.Model.Method == "" {
		return "Differences as counted; no adjusted ones were made."
	}
	return "Rings are as counted, squares adjusted: " + d.Model.Method + "."
}

func ratioTable(d remakes.FaultTable) page.Table {
	t := page.Table{ID: "fault-ratios", Caption: "The same as ratios, and how many remakes go with each fault", Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "remade_with", Title: "Remade with", Numeric: true}, {Key: "remade_without", Title: "Remade without", Numeric: true},
		{Key: "risk_ratio", Title: "Risk ratio", Numeric: true}, {Key: "stratified_odds_ratio", Title: "Odds ratio, like boots", Numeric: true},
		{Key: "adjusted_risk_ratio", Title: "Risk ratio adjusted", Numeric: true}, {Key: "attributable_remakes", Title: "Remakes that go with it", Numeric: true},
		{Key: "e_value", Title: "E-value", Numeric: true},
	}}
	for _, f := range faultRows(d) {
		t.Rows = append(t.Rows, []page.Cell{
			{Text: f.Title, Value: f.Fault}, page.CountOf(f.RemadeWith, orders(f.Orders)), page.CountOf(f.RemadeWithout, orders(f.WithoutOrders)),
			page.Plain(f.RiskRatio, 2), page.Plain(f.StratifiedOR, 2), adjusted(f, page.Plain(f.AdjustedRR, 2)),
			adjusted(f, page.Plain(f.Attributable, 1)), adjusted(f, page.Plain(f.EValue, 1)),
		})
	}
	t.Notes = append(t.Notes, "Odds ratio, like boots: Mantel-Haenszel over every shaft height and channel. E-value: how strongly, as a risk ratio, something not recorded would have to go with both the fault and remakes to explain the adjusted ratio away.")
	if d.AttributableToAll.Given() {
		t.Notes = append(t.Notes, "Noted and counted faults together: "+page.InWords(d.AttributableToAll, 1, 0, " remakes")+"; those of single faults overlap and do not add up.")
	}
	for _, f := range faultRows(d) {
		for _, w := range f.Warnings {
			t.Notes = append(t.Notes, form.Capitalised(f.Title)+": "+w)
		}
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	return t
}

// inWords is what is said of the faults that are no findings.
func inWords(d remakes.FaultTable) []page.Block {
	var p page.Prose
	for _, f := range d.Faults {
		if _, found := FaultAsFinding(f); !found && f.Words.Headline != "" {
			p = append(p, strings.TrimSpace(f.Words.Headline+" "+f.Words.Action))
		}
	}
	if len(p) == 0 {
		return nil
	}
	return []page.Block{p}
}

// Levels is the table of the three levels of exposure.
func Levels(d remakes.FaultTable) []page.Block {
	t := page.Table{ID: "levels-data", Caption: "Remakes at three levels of exposure", Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "level", Title: "Level"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true},
		{Key: "rate", Title: "Share", Unit: "%", Numeric: true}, {Key: "risk_difference", Title: "Against clean", Unit: "per 100", Numeric: true},
	}}
	for _, f := range d.Faults {
		for _, l := range f.Levels {
			diff := page.Cell{Text: "compared with"}
			if l.Level != "clean" && (l.RiskDifference.Method != "" || l.RiskDifference.Given()) {
				diff = page.Scaled(l.RiskDifference, 100, 1)
			}
			t.Rows = append(t.Rows, []page.Cell{{Text: f.Title, Value: f.Fault}, page.Text(l.Level), page.CountOf(l.Orders, orders(l.OrderIDs)), page.CountOf(l.Remade, orders(l.RemadeIDs)), page.Percent(l.Rate), diff})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	t.Notes = append(t.Notes, "Mended: the first form had the fault, the form cut from has not. Who was called back was chosen: mended orders are not a fair sample.")
	return []page.Block{t}
}

// limits says what the data can't tell.
func limits(d remakes.FaultTable) []page.Block {
	if len(d.Limits) == 0 {
		return nil
	}
	return []page.Block{page.Prose(d.Limits)}
}
