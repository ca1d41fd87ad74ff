package review

import (
	"strings"

	"lastroom/analysis/form"
)

// valueTitles say each named number as a person would.
var valueTitles = map[string]string{
	"centre":                     "usual share remade, of all months that are complete",
	"month.shipped":              "orders shipped in the month",
	"month.remade":               "orders of the month remade so far",
	"month.age_days":             "days since the last order of the month was shipped",
	"month.share":                "share of the month's orders remade so far",
	"month.share_at_equal_age":   "share of the month's orders remade, each looked at after the same time",
	"mature.orders":              "orders out long enough to tell",
	"mature.remade":              "orders remade, of those out long enough to tell",
	"mature.days":                "days after shipping until an order is out long enough to tell",
	"mature.share":               "share remade, of orders out long enough to tell",
	"mature.answered":            "share with any report, of orders out long enough to tell",
	"mature.attributable_to_all": "remakes that go with faults of any kind",

	"fault.at_risk":                  "orders that can have it",
	"fault.with_fault":               "orders cut with it",
	"fault.unknown":                  "orders where it is not known",
	"fault.remade_with":              "remade with it",
	"fault.remade_without":           "remade without it",
	"fault.rate_with":                "share remade with it",
	"fault.rate_without":             "share remade without it",
	"fault.risk_ratio":               "times as many remakes with it as without",
	"fault.risk_difference":          "more remakes in 100 orders with it than without",
	"fault.stratified_odds_ratio":    "odds of a remake with it against without, within like orders",
	"fault.adjusted_risk_difference": "more remakes in 100 orders with it, among like orders",
	"fault.adjusted_risk_ratio":      "times as many remakes with it, among like orders",
	"fault.attributable_remakes":     "remakes that go with it",

	"rules.first_forms":                "first forms that the rules were tried on",
	"rules.remade":                     "remakes among them",
	"rules.months":                     "months that the rules were tried on",
	"rule.held":                        "forms it holds",
	"rule.remakes_caught":              "remakes it catches",
	"rule.held_share":                  "share of forms it holds",
	"rule.sensitivity":                 "share of remakes it catches",
	"rule.rate_held":                   "share remade of the forms it holds",
	"rule.rate_not_held":               "share remade of the forms it lets through",
	"rule.callbacks_per_remake_caught": "call-backs for one remake caught",
	"rule.avoidable_per_100":           "remakes it can spare in 100 orders",
	"rule.net_per_100":                 "money it is worth in 100 orders",
	"rule.kept_promise":                "how much of its promise it kept",
}

// ValueTitle says a named number as a person would, whatever cell it comes from:
// review.month.shipped is "orders shipped in the month". A name that is none of a
// review, a fault or a rule is given with blanks between its words.
func ValueTitle(name string) string {
	parts := strings.Split(name, ".")
	last := parts[len(parts)-1]
	if len(parts) > 1 {
		owner := parts[len(parts)-2]
		if t, ok := valueTitles[owner+"."+last]; ok && owner != "fault" && owner != "rule" {
			return t
		}
		if t, ok := valueTitles["rule."+last]; ok && len(parts) > 2 && parts[len(parts)-3] == "rule" {
			return "rule " + owner + ": " + t
		}
		if t, ok := valueTitles["fault."+last]; ok {
			if i, known := form.FaultIndex(owner); known {
				return form.Faults[i].Title + ": " + t
			}
			return strings.NewReplacer("-", " ", "_", " ").Replace(owner) + ": " + t // any-fault, and a cell about one fault
		}
	}
	if t, ok := valueTitles[last]; ok {
		return t
	}
	return strings.NewReplacer(".", ", ", "_", " ").Replace(name)
}
