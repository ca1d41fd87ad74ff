package notebooks

import (
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// exactMethod marks a value that is a plain count or text, not an estimate.
const exactMethod = "as counted"

// Exact is a number that was counted, not estimated: its interval is itself.
func Exact(name, text string, x float64, n int) page.Value {
	return page.Value{Name: name, Text: text, E: stats.Estimate{Point: x, Low: x, High: x, Level: stats.DefaultLevel, N: n, Method: exactMethod}}
}

// Words is a value that is text.
func Words(name, text string) page.Value {
	return page.Value{Name: name, Text: text, E: stats.Missing(0, exactMethod)}
}

// Counted reports whether a value is a plain count or text.
func Counted(v page.Value) bool { return v.E.Method == exactMethod }

// RuleCondition ends the name of the value that holds a rule's condition.
const RuleCondition = ".when"

// InWords says a value inside a sentence, as the title of its link asks.
func InWords(v page.Value, as string) string {
	e := v.E
	if Counted(v) || as == "" && v.Text != "" {
		return v.Text
	}
	switch as {
	case "percent":
		return page.InWords(e, 100, 1, " %")
	case "per 100":
		return page.InWords(e, 100, 1, " in 100")
	}
	return page.InWords(e, 1, 2, "")
}

// valueForms are the titles a value link may have.
var valueForms = []string{"percent", "per 100", "plain"}
