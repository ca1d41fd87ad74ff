package review

import (
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/reports/page"
)

// mendsInWords says which faults a call-back under the rule mends.
func mendsInWords(r rules.Rule) string {
	if len(r.Mends) == 0 || len(r.Mends) == len(form.Faults) {
		return "every fault of the form"
	}
	var titles []string
	for _, id := range r.Mends {
		if f, ok := form.FaultIndex(id); ok {
			titles = append(titles, form.Faults[f].Title)
		}
	}
	return strings.Join(titles, ", ")
}

// TrialPage is the line that a tried condition would have in the scorecard, how
// it overlaps with the rules there are, and what it would have held last month.
// Its first table is the line.
func TrialPage(d rules.Trial) *page.Document {
	s := d.Tried
	line := page.Table{ID: "tried-table", Caption: fmt.Sprintf("The condition as a rule, on the first forms of %s mature orders (%s remade) over %s", page.Thousands(d.FirstForms), page.Thousands(d.Remade), page.Counted(d.Months, "month", "months")),
		Columns: []page.Column{
			{Key: "held", Title: "Forms held", Numeric: true}, {Key: "unknown", Title: "Not judged", Numeric: true},
			{Key: "held_a_month", Title: "Held a month", Numeric: true}, {Key: "would_catch", Title: "Remakes it would catch", Numeric: true},
			{Key: "sensitivity", Title: "of all remakes", Unit: "%", Numeric: true}, {Key: "avoidable_per_100", Title: "Avoidable", Unit: "per 100", Numeric: true},
			{Key: "number_needed", Title: "Calls per remake avoided", Numeric: true}, {Key: "net_per_100", Title: "Net", Unit: "per 100", Numeric: true},
		}}
	line.Rows = append(line.Rows, []page.Cell{page.CountOf(s.Held, orders(s.HeldOrders)), page.CountOf(s.Unknown, orders(s.UnknownOrders)), page.Plain(s.HeldAMonth, 1), page.Plain(s.WouldCatch, 0), page.Percent(s.Sensitivity),
		page.Plain(s.Avoidable, 2), page.Plain(s.NumberNeeded, 1), page.Plain(s.Net, 0)})
	line.Notes = append(line.Notes, fmt.Sprintf("Avoidable: remakes per 100 first forms if call-backs mend %s %% of the forms held (%s). A call-back is taken to mend %s. A form that the condition can't judge goes through.", page.Fixed(100*d.Success, 0), d.SuccessFrom, mendsInWords(s.Rule)),
		"A condition that is changed until its line pleases flatters itself on the orders it was tried on: judge it again with next half-year's orders.")
	line.Notes = append(append(line.Notes, s.Warnings...), page.Refusals(line.Rows)...)

	overlap := page.Table{ID: "overlap-table", Caption: "First forms of mature orders that it and each rule hold", Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "both", Title: "Both", Numeric: true}, {Key: "only_tried", Title: "Only this", Numeric: true}, {Key: "only_rule", Title: "Only that rule", Numeric: true},
	}}
	for _, o := range d.Overlap {
		overlap.Rows = append(overlap.Rows, []page.Cell{{Text: o.Title, Value: o.Rule}, page.CountOf(o.Both, orders(o.BothOrders)), page.CountOf(o.OnlyTried, orders(o.OnlyTriedOrders)), page.CountOf(o.OnlyRule, orders(o.OnlyRuleOrders))})
	}
	if d.AsOf.Known() { // there is an order
		overlap.Notes = append(overlap.Notes, fmt.Sprintf("Of the %s forms that it holds, %s are held by no rule in force on %s.", page.Thousands(s.Held), page.Thousands(d.New), d.AsOf))
	}
	forms := page.Table{ID: "held-table", Caption: "First forms of " + d.Month.String() + " that it would have held", Columns: []page.Column{{Key: "form", Title: "Form"}}}
	for _, id := range d.HeldLastMonth {
		forms.Rows = append(forms.Rows, []page.Cell{{Text: id, Value: id, Ref: page.Ref{Kind: "form", IDs: []string{id}}}})
	}
	month := []page.Block{forms}
	if len(forms.Rows) == 0 {
		month = []page.Block{page.Prose{"It would have held no first form of " + d.Month.String() + "."}}
	}
	title, lead := "A condition tried as a rule", s.When+": "+s.Words
	if s.ID != rules.Tried { // its title stands above
		title, lead = "What it does", s.Words
		line.Notes = append(line.Notes, "Looked at by itself. In the scorecard of all rules the avoidable remakes differ a little: there what its place among so many rules owes to chance is taken off.")
	}
	return &page.Document{
		Title: title,
		Lead:  lead,
		Sections: keep(
			page.Section{ID: "tried", Title: "Its line in the scorecard", Blocks: []page.Block{line}},
			page.Section{ID: "overlap", Title: "Beside the rules there are", Blocks: nonEmpty(overlap)},
			page.Section{ID: "month", Title: "Last month", Blocks: month},
		),
		Cautions: []string{NoDiagnosis},
	}
}
