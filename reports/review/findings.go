package review

import (
	"fmt"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/reports/page"
)

// FaultAsFinding is a fault's finding for a reader, if it is one: adjusted where
// that could be made, otherwise as counted with its q value and said as such.
func FaultAsFinding(f remakes.FaultFinding) (page.Finding, bool) {
	adjusted := f.AdjustedRD.Given()
	crude := !adjusted && f.RiskDifference.Given() && f.RiskDifference.Low > 0 && f.QValue.Given() && float64(f.QValue) <= remakes.FindingLevel
	if !(adjusted && f.Finding) && !crude {
		return page.Finding{}, false
	}
	out := page.Finding{
		ID: "finding-" + f.Fault, Headline: f.Words.Headline, Certainty: f.Words.Certainty, Action: f.Words.Action,
		Warnings: f.Warnings, Orders: page.Ref{Kind: "orders", IDs: f.Orders},
	}
	if out.Headline == "" {
		out.Headline = form.Capitalised(f.Title) + " goes with remakes"
	}
	if out.Certainty == "" {
		out.Certainty = sure(f)
	}
	if out.Action == "" {
		out.Action = "See in the scorecard of rules whether it pays to hold forms that have it."
	}
	if f.Words.Change != "" {
		out.Certainty += " What would change the mind: " + form.Uncapitalised(f.Words.Change)
	}
	return out, true
}

func sure(f remakes.FaultFinding) string {
	s := fmt.Sprintf("%s of %s remade with it, %s of %s without. ",
		page.Thousands(f.RemadeWith), page.Thousands(f.With), page.Thousands(f.RemadeWithout), page.Thousands(f.Without))
	if f.AdjustedRD.Given() {
		return s + "Adjusted: " + page.InWords(f.AdjustedRD, 100, 1, " more per 100 orders") + "."
	}
	return s + "As counted, not adjusted: " + page.InWords(f.RiskDifference, 100, 1, " more per 100 orders") + "."
}

// nothingFound is an answer too: it says how far the data reach.
func nothingFound(d remakes.FaultTable) page.Finding {
	return page.Finding{
		ID:       "finding-none",
		Headline: "No fault goes with remakes clearly enough to act on",
		Certainty: fmt.Sprintf("%s mature orders, %s remade. A fault on a tenth of the forms that doubles the risk is seen in about one of five looks at 300 orders, in three of five at 1,200.",
			page.Thousands(d.MatureOrders), page.Thousands(d.Remade)),
		Action: "Keep noting faults on every form, not only behind remakes, and ask customers how the boots fit: both bring the day of an answer nearer.",
	}
}
