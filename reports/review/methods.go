package review

import (
	"fmt"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/reports/page"
)

// methods says how the numbers were made, in a few lines.
func (r *Review) methods() []page.Block {
	m := r.Faults.Maturity
	p := page.Prose{
		fmt.Sprintf("Event: the first remake reported within %d days of shipping and by the as-of day. Mature: shipped at least %d days before it (%s). Faults are those of the form the leather was cut from; the work of a rule is counted on first forms.", remakes.Horizon, m.Days, m.Rule),
		"Intervals are 95 %: Wilson for shares, Newcombe for differences, log (Katz) for ratios, Robins-Breslow-Greenland for stratified odds ratios, exact binomial limits for months, Greenwood log-log for curves. Benjamini-Hochberg q values across faults; findings are held to " + page.Fixed(100*remakes.FindingLevel, 0) + " %.",
	}
	if n := r.Faults.Model; n.Method != "" {
		s := "Adjusted: " + n.Method + fmt.Sprintf(", on %s orders with %s remakes", page.Thousands(n.Orders), page.Thousands(n.Remakes))
		if n.Replicates > 0 {
			s += fmt.Sprintf("; intervals from %s bootstrap samples of customers (seed %d)", page.Thousands(n.Replicates), n.Seed)
		}
		s += "."
		for _, w := range n.Warnings {
			s += " " + form.Capitalised(w) + "."
		}
		p = append(p, s)
	}
	p = append(p, "\"Goes with\" is all that counts can say; after adjustment a fault \"probably costs\" remakes, if nothing that was not recorded lies behind both. Refused and said in words: shares under 10 orders, ratios and differences under 5 remakes on a side.")
	return []page.Block{p}
}
