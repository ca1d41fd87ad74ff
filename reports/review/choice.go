package review

import (
	"fmt"
	"math"
	"strings"

	"lastroom/analysis/rules"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// ChoicePage is the set of rules that saves most, and what it rests on. Its first
// table is the chosen rules.
func ChoicePage(d rules.Choice) *page.Document {
	doc := &page.Document{
		Title: "Rules chosen together",
		Lead:  d.Words,
		Sections: keep(
			page.Section{ID: "chosen", Title: "What each adds", Blocks: chosenBlocks(d)},
			page.Section{ID: "frontier", Title: "Call-backs against remakes avoided", Blocks: frontierBlocks(d)},
			page.Section{ID: "stability", Title: "How firmly each is chosen", Blocks: nonEmpty(stabilityTable(d))},
			page.Section{ID: "success", Title: "If more or fewer call-backs mend the form", Blocks: nonEmpty(bandTable(d))},
		),
		Cautions: []string{NoDiagnosis},
	}
	notes := page.Prose{}
	if len(d.Chosen) > 0 || d.FirstForms > 0 {
		notes = append(notes, fmt.Sprintf("First forms of %s mature orders as of %s, %s of the orders remade, over %s. %s %% of call-backs are taken to mend the form (%s).",
			page.Thousands(d.FirstForms), d.AsOf, page.Thousands(d.Remade), page.Counted(d.Months, "month", "months"), page.Fixed(100*d.Success, 0), d.SuccessFrom))
	}
	if d.Search != "" {
		notes = append(notes, "How the set was found: "+d.Search+".")
	}
	if len(d.Greedy) > 0 {
		notes = append(notes, "Taking the next best rule each time would have ended with another set: "+strings.Join(d.Greedy, ", ")+".")
	}
	for _, l := range d.LeftOut {
		notes = append(notes, l.Rule+" could not be chosen: "+l.Why+".")
	}
	notes = append(notes, d.Warnings...)
	if len(notes) > 0 {
		doc.Sections = append(doc.Sections, page.Section{ID: "basis", Title: "What it rests on", Blocks: []page.Block{notes}})
	}
	return doc
}

func chosenBlocks(d rules.Choice) []page.Block {
	if !d.Avoided.Given() {
		return nil
	}
	steps := page.Table{ID: "chosen-table", Caption: "The chosen rules, each with what it adds to those above it", Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "adds_held_a_month", Title: "Holds more a month", Numeric: true}, {Key: "adds_avoided_per_100", Title: "Avoids more", Unit: "per 100", Numeric: true},
	}}
	for _, s := range d.Steps {
		steps.Rows = append(steps.Rows, []page.Cell{{Text: s.Title, Value: s.Rule}, page.Number(float64(s.HeldAMonth), 1), page.Number(float64(s.Avoided), 2)})
	}
	steps.Notes = append(steps.Notes, "A form that several rules hold is counted with the first of them. What each adds is as it seems on these orders, before the optimism of choosing is taken off; the whole below is less it.")
	whole := page.Table{ID: "together-table", Caption: "All of them together", Columns: []page.Column{
		{Key: "held_a_month", Title: "First forms held a month", Numeric: true}, {Key: "avoided_per_100", Title: "Remakes avoided", Unit: "per 100", Numeric: true},
		{Key: "apparent_avoided_per_100", Title: "as it seems on these orders", Unit: "per 100", Numeric: true}, {Key: "net_per_100", Title: "Net", Unit: "per 100", Numeric: true},
	}}
	whole.Rows = append(whole.Rows, []page.Cell{page.Plain(d.HeldAMonth, 1), page.Plain(d.Avoided, 2), page.Number(float64(d.Apparent), 2), page.Plain(d.Net, 0)})
	whole.Notes = append(whole.Notes, "Remakes avoided: how much lower the risk of the held forms would be with what the call-backs mend mended, the other faults and the kind of boot as they are; goes with, not causes. Rules picked on some orders look better on these than they will on others: the optimism, found by choosing on nine tenths of the customers and looking at the rest, is taken off. The interval is for as many orders again.")
	whole.Notes = append(whole.Notes, page.Refusals(whole.Rows)...)
	if len(steps.Rows) == 0 {
		return []page.Block{whole}
	}
	return []page.Block{steps, whole}
}

func frontierBlocks(d rules.Choice) []page.Block {
	if !d.Avoided.Given() {
		return nil
	}
	f := figure.Frontier{ID: "frontier-figure", Title: "What so many call-backs a month can avoid", N: d.FirstForms,
		Desc:       "Each point is the set of rules that avoids most with so many first forms held a month, less the optimism of choosing it on these orders. Costs play no part in the line.",
		ChosenHeld: math.NaN(), ChosenAvoided: math.NaN(), Budget: math.NaN()}
	if len(d.Chosen) > 0 {
		f.ChosenHeld, f.ChosenAvoided = d.HeldAMonth.Point, d.Avoided.Point
	}
	if d.CallsAMonth != nil {
		f.Budget = *d.CallsAMonth
	}
	for _, p := range d.Frontier {
		f.Points = append(f.Points, figure.FrontierPoint{Held: float64(p.HeldAMonth), Avoided: float64(p.Avoided), Low: float64(p.Low), High: float64(p.High), Rules: strings.Join(p.Rules, ", ")})
	}
	return []page.Block{figure.FrontierChart(f)}
}

func stabilityTable(d rules.Choice) page.Table {
	t := page.Table{ID: "stability-table", Caption: fmt.Sprintf("In how many of %s resamples of customers each rule is chosen", page.Thousands(d.Resamples)), Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "share", Title: "Chosen in", Unit: "of 100", Numeric: true}, {Key: "chosen", Title: "Chosen now"},
	}}
	chosen := map[string]bool{}
	for _, id := range d.Chosen {
		chosen[id] = true
	}
	for _, s := range d.Stability {
		share := page.Number(100*float64(s.Share), 0)
		share.Value = s.Share
		t.Rows = append(t.Rows, []page.Cell{{Text: s.Title, Value: s.Rule}, share, page.YesNo(chosen[s.Rule])})
	}
	t.Notes = append(t.Notes, "A rule that is chosen in few resamples could as well be left out, or another taken: these orders don't tell them apart.")
	return t
}

func bandTable(d rules.Choice) page.Table {
	t := page.Table{ID: "success-table", Caption: "What the chosen set would bring, and whether another would be chosen", Columns: []page.Column{
		{Key: "success_share", Title: "Call-backs that mend the form", Unit: "%", Numeric: true}, {Key: "avoided_per_100", Title: "Remakes avoided", Unit: "per 100", Numeric: true},
		{Key: "net_per_100", Title: "Net", Unit: "per 100", Numeric: true}, {Key: "chosen", Title: "Best set then"},
	}}
	now := strings.Join(d.Chosen, ", ")
	for _, b := range d.Band {
		share := page.Number(100*b.Success, 0)
		share.Value = b.Success
		best := strings.Join(b.Chosen, ", ")
		cell := page.Cell{Text: best, Value: best}
		switch {
		case best == now:
			cell.Text = "the same"
		case best == "":
			cell.Text = "none"
		}
		t.Rows = append(t.Rows, []page.Cell{share, page.Plain(b.Avoided, 2), page.Plain(b.Net, 0), cell})
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	return t
}
