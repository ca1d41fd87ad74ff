package rulebook

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

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
		if l.Column != "" && !slices.Contains(p.Columns, l.Column) {
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
