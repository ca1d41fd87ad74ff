package review

import (
	"fmt"

	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// FaultsPage is the fault table as a document of its own. Its first table is
// the fault table.
func FaultsPage(d remakes.FaultTable) *page.Document {
	var found []page.Block
	for _, f := range d.Faults {
		if one, ok := FaultAsFinding(f); ok {
			found = append(found, one)
		}
	}
	if len(found) == 0 {
		found = []page.Block{nothingFound(d)}
	}
	return &page.Document{
		Title: "Faults and remakes",
		Lead: fmt.Sprintf("%s mature orders as of %s, %s remade: %s.", page.Thousands(d.MatureOrders), d.AsOf, page.Thousands(d.Remade),
			page.InWords(d.RemakeShare, 100, 1, " %")) + withoutDay(d.Maturity),
		Sections: keep(
			page.Section{ID: "fault-table", Title: "Faults", Blocks: FaultTable(d)},
			page.Section{ID: "findings", Title: "Findings", Blocks: found},
			page.Section{ID: "others", Title: "The other faults", Blocks: inWords(d)},
			page.Section{ID: "ratios", Title: "Ratios", Blocks: []page.Block{ratioTable(d)}},
			page.Section{ID: "levels", Title: "Levels of exposure", Blocks: Levels(d)},
			page.Section{ID: "excluded", Title: "On which orders", Blocks: excluded(d.Excluded, d.Maturity, "")},
			page.Section{ID: "limits", Title: "What these data cannot tell", Blocks: limits(d)},
		),
		Cautions: []string{NoDiagnosis},
	}
}

// RulesPage is the scorecard as a document of its own. Its first table has
// every rule.
func RulesPage(d rules.Scorecard) *page.Document {
	t := scoreTable(d)
	t.Notes = append(append(t.Notes, scoreNotes(d)...), page.Refusals(t.Rows)...)
	doc := &page.Document{
		Title: "Intake rules",
		Lead: fmt.Sprintf("%s first forms of mature orders as of %s, %s of the orders remade.",
			page.Thousands(d.FirstForms), d.AsOf, page.Thousands(d.Remade)) + withoutDay(d.Maturity),
		Sections: keep(
			page.Section{ID: "scorecard", Title: "Scorecard", Blocks: []page.Block{t, wideScoreTable(d)}},
			page.Section{ID: "desk", Title: "The form desk", Blocks: nonEmpty(deskTable(d))},
			page.Section{ID: "since", Title: "Rules in force", Blocks: nonEmpty(sinceTable(d))},
			page.Section{ID: "call-backs", Title: "Call-backs", Blocks: []page.Block{ledger(d)}},
		),
		Cautions: []string{NoDiagnosis},
	}
	var words page.Prose
	for _, s := range d.Rules {
		if s.Words != "" {
			words = append(words, title(s)+": "+s.Words)
		}
	}
	if len(words) > 0 {
		doc.Sections = append(doc.Sections, page.Section{ID: "words", Title: "In words", Blocks: []page.Block{words}})
	}
	return doc
}

// TrendPage is the monitored series as a document of its own. Its first table
// is the months.
func TrendPage(t monitoring.Trend) *page.Document {
	d := &page.Document{Title: "Remakes over time"}
	if n := len(t.Monthly.Months); n > 0 {
		last := t.Monthly.Months[n-1].Month
		d.Lead = brief.MonthName(last) + ": " + lead(t, last) + withoutDay(t.Monthly.Maturity)
	}
	d.Sections = keep(
		page.Section{ID: "months", Title: "Shipping months", Blocks: []page.Block{monthTable(t.Monthly)}},
		page.Section{ID: "watch", Title: "Charts", Blocks: watch(t)},
	)
	if len(t.Warnings) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "warnings", Title: "To bear in mind", Blocks: []page.Block{page.Prose(t.Warnings)}})
	}
	d.Cautions = []string{NoDiagnosis}
	return d
}

func monthTable(m monitoring.Monthly) page.Table {
	t := page.Table{ID: "months-table", Caption: "Remade within 365 days, by shipping month", Columns: []page.Column{
		{Key: "month", Title: "Month"}, {Key: "shipped", Title: "Shipped", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true},
		{Key: "rate", Title: "Share", Unit: "%", Numeric: true}, {Key: "limit_low", Title: "Limits from", Unit: "%", Numeric: true}, {Key: "limit_high", Title: "to", Unit: "%", Numeric: true},
		{Key: "mature", Title: "Mature"}, {Key: "signal", Title: "Signal"}, {Key: "age_days", Title: "Youngest order", Unit: "days", Numeric: true},
		{Key: "at_equal_age", Title: "Against earlier months at that age"},
	}}
	for _, mo := range m.Months {
		t.Rows = append(t.Rows, []page.Cell{page.Text(mo.Month.String()), page.CountOf(mo.Shipped, orders(mo.ShippedOrders)), page.CountOf(mo.Remade, orders(mo.Orders)),
			page.Percent(mo.Rate), page.Share(float64(mo.Low)), page.Share(float64(mo.High)), page.YesNo(mo.Mature), page.Text(mo.Signal), page.Count(mo.YoungestAge), page.Text(mo.Equal.Verdict)})
	}
	t.Notes = append(t.Notes, "Months that are not mature will rise; they are compared with earlier months at their age. Mature months after the baseline are held against limits ("+m.Method+").")
	t.Notes = append(append(t.Notes, m.Warnings...), page.Refusals(t.Rows)...)
	return t
}

// keep drops sections without blocks.
func keep(ss ...page.Section) []page.Section {
	var out []page.Section
	for _, s := range ss {
		if len(s.Blocks) > 0 {
			out = append(out, s)
		}
	}
	return out
}

func nonEmpty(t page.Table) []page.Block {
	if len(t.Rows) == 0 {
		return nil
	}
	return []page.Block{t}
}

// FactsPage is a page of plain facts (what the book holds, a verification's
// result), name and value, with tables after it.
func FactsPage(title, lead string, facts [][]page.Cell, tables ...page.Table) *page.Document {
	t := page.Table{ID: "facts", Columns: []page.Column{{Key: "fact", Title: "What"}, {Key: "value", Title: "Is"}}, Caption: title}
	t.Rows = facts
	d := &page.Document{Title: title, Lead: lead}
	var blocks []page.Block
	if len(facts) > 0 {
		blocks = append(blocks, t)
	}
	for _, one := range tables {
		blocks = append(blocks, one)
	}
	d.Sections = []page.Section{{ID: "facts", Blocks: blocks}}
	return d
}
