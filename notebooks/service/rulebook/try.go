package rulebook

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/notebooks/decisions"
)

// comparisons are what a line of the page compares a column by; those with a form
// take a value.
var comparisons = []struct{ Words, Without, With string }{
	{Words: "is true", Without: "%s"},
	{Words: "is not true", Without: "%s IS NOT TRUE"},
	{Words: "is not known", Without: "%s IS NULL"},
	{Words: "equals", With: "%s = %s"},
	{Words: "differs from", With: "%s <> %s"},
	{Words: "is at least", With: "%s >= %s"},
	{Words: "is more than", With: "%s > %s"},
	{Words: "is at most", With: "%s <= %s"},
	{Words: "is less than", With: "%s < %s"},
}

// columnWords are the columns that conditions compare, in words; those of faults are in
// the catalogue of faults.
var columnWords = map[string]string{
	"form_id": "form", "order_id": "order", "form_no": "which form of the order it is", "received_on": "day the form came",
	"measurer_id": "measurer", "measurer_kind": "kind of measurer", "measurer_region": "region of the measurer", "measurer_trained": "measurer trained by that day",
	"channel": "who measured: home, dealer, shop", "sex": "sex", "closure": "closure", "sock": "sock", "orthotic": "orthotic worn", "worn_tucked": "trousers worn inside",
	"shaft_height_mm": "shaft height in mm", "shaft_height_in": "shaft height in inches", "ordered_before": "customer ordered before",
	"irregularities": "irregularities, as written", "instructions": "letter of the instructions",
	"marks_missing": "tape marks missing, how many", "marks_unknown": "tape marks nobody judged, how many", "keyed": "form has numbers",
	"numbers": "numbers on the form, how many", "tucked_numbers": "numbers over trousers, how many", "both_sides": "numbers on both sides",
	"foot_girths_missing": "foot girths missing, how many", "ankles_missing": "ankle girths missing, how many",
	"heights_needed": "leg heights that the shaft needs, how many", "heights_missing": "leg girths missing, how many",
	"out_of_range": "a number outside the published range", "alarm_score": "how odd the numbers are together",
	"faults": "faults, how many", "faults_unknown": "faults that can't be judged, how many",
}

// A choice is a column in the page's lists.
type choice struct{ Column, Words string }

func choices(columns []string) (out []choice) {
	for _, c := range columns {
		words := columnWords[c]
		if k, ok := form.FaultIndex(strings.ReplaceAll(c, "_", "-")); ok {
			words = form.Faults[k].Title
		}
		out = append(out, choice{c, cmp.Or(words, strings.ReplaceAll(c, "_", " "))})
	}
	return out
}

// inWords says a condition that is one fault's column as the catalogue does; "": another.
func inWords(when string) string {
	if k, ok := form.FaultIndex(strings.ReplaceAll(when, "_", "-")); ok {
		return form.Faults[k].Has
	}
	return ""
}

// ruleLines is how many comparisons the page joins.
const ruleLines = 3

// A ruleLine is one comparison as chosen.
type ruleLine struct {
	No                 int
	Column, Is, Amount string
}

// condition is the line in the language of rules; "" where no column is chosen.
func (l ruleLine) condition() (string, error) {
	if l.Column == "" {
		return "", nil
	}
	for _, c := range comparisons {
		switch {
		case c.Words != l.Is:
		case c.With == "":
			return fmt.Sprintf(c.Without, l.Column), nil
		case l.Amount == "":
			return "", fmt.Errorf("line %d compares %s with nothing: give a value", l.No, l.Column)
		default:
			value := "'" + strings.ReplaceAll(l.Amount, "'", "''") + "'"
			if x, err := strconv.ParseFloat(l.Amount, 64); err == nil {
				value = strconv.FormatFloat(x, 'f', -1, 64)
			}
			return fmt.Sprintf(c.With, l.Column, value), nil
		}
	}
	return "", fmt.Errorf("line %d does not say how to compare %s", l.No, l.Column)
}

// tried is what the visitor wants to know of, a rule or a condition.
func (p *rulesPage) tried(r *http.Request) (rule rules.Rule, given bool, err error) {
	for no := range ruleLines {
		n := strconv.Itoa(no + 1)
		p.Lines = append(p.Lines, ruleLine{no + 1, r.FormValue("column" + n), r.FormValue("is" + n), strings.TrimSpace(r.FormValue("value" + n))})
	}
	if id := r.FormValue("rule"); id != "" {
		rule, known := decisions.Match(p.List, id)
		if !known {
			return rule, false, fmt.Errorf("there is no rule %q", id)
		}
		p.Rule = rule.ID
		return rule, true, nil
	}
	var built []string
	for _, l := range p.Lines {
		if l.Column != "" && !slices.ContainsFunc(p.Choices, func(c choice) bool { return c.Column == l.Column }) {
			return rule, false, fmt.Errorf("there is no column %q", l.Column)
		}
		when, err := l.condition()
		if err != nil {
			return rule, false, err
		}
		if when != "" {
			built = append(built, when)
		}
	}
	when := p.Typed
	switch {
	case len(built) > 0 && p.Typed != "":
		return rule, false, errors.New("there is a condition from the lists and another one that was typed: choose no column, or type nothing")
	case len(built) > 0:
		when = strings.Join(built, " AND ")
	case p.Typed == "":
		return rule, false, nil
	}
	rule, err = rules.TriedRule(when)
	return rule, err == nil, err
}

// success reads the share of call-backs that mend, 0 where it is not given.
func (p *rulesPage) success() (float64, error) {
	if p.Success == "" {
		return 0, nil
	}
	x, err := strconv.ParseFloat(p.Success, 64)
	if err != nil || !(x > 0 && x <= 100) {
		return 0, fmt.Errorf("%q is no share of call-backs: give a number above 0 and up to 100", p.Success)
	}
	return x / 100, nil
}
