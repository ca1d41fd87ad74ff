package service

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/rules"
	"lastroom/notebooks/service/access"
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

type rulesPage struct {
	Rules       []rules.Rule
	Columns     []string
	Comparisons []string
	Lines       []ruleLine
	Typed       string // the condition, as typed
	When        string // the same, or as built from the lines
	Success     string
	Problem     string
	Tried       bool
	Indented    string // the condition as it stands in a rules file
	Body        rendered
	Editor      bool
}

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

// rules lists the rules, and tries a condition that is typed or built from lists.
// Trying changes nothing, so its address can be kept.
func (s *Server) rules(w http.ResponseWriter, r *http.Request) error {
	p := rulesPage{Rules: s.cfg.Workshop.RuleList(), Typed: strings.TrimSpace(r.FormValue("when")), Success: strings.TrimSpace(r.FormValue("success")), Editor: visitorOf(r).Role == access.Editor}
	for _, c := range comparisons {
		p.Comparisons = append(p.Comparisons, c.Words)
	}
	status := http.StatusOK
	if s.cfg.Workshop.Exists() {
		var err error
		if p.Columns, err = s.cfg.Workshop.RuleColumns(r.Context()); err != nil {
			return err
		}
		if err := p.try(s, r); err != nil {
			p.Problem, status = upper(err.Error())+".", http.StatusUnprocessableEntity
		}
	}
	s.render(w, r, status, "rules", "Rules", p)
	return nil
}

// try fills the page with what the condition would do, if there is one.
func (p *rulesPage) try(s *Server, r *http.Request) error {
	var built []string
	for no := 1; no <= ruleLines; no++ {
		n := strconv.Itoa(no)
		l := ruleLine{no, r.FormValue("column" + n), r.FormValue("is" + n), strings.TrimSpace(r.FormValue("value" + n))}
		p.Lines = append(p.Lines, l)
		if l.Column != "" && !slices.Contains(p.Columns, l.Column) {
			return fmt.Errorf("there is no column %q", l.Column)
		}
		when, err := l.condition()
		if err != nil {
			return err
		}
		if when != "" {
			built = append(built, when)
		}
	}
	p.When = p.Typed
	switch {
	case len(built) > 0 && p.Typed != "":
		return errors.New("there is a condition from the lists and another one that was typed: choose no column, or type nothing")
	case len(built) > 0:
		p.When = strings.Join(built, " AND ")
	case p.Typed == "":
		return nil
	}
	success := 0.0
	if p.Success != "" {
		x, err := strconv.ParseFloat(p.Success, 64)
		if err != nil || !(x > 0 && x <= 100) {
			return fmt.Errorf("%q is no share of call-backs: give a number above 0 and up to 100", p.Success)
		}
		success = x / 100
	}
	d, err := s.cfg.Workshop.TryRule(r.Context(), p.When, success)
	if err != nil {
		return err
	}
	body, err := innerOf(d, s.linkIn(""))
	// The page has its own first heading.
	p.Body = rendered(strings.NewReplacer("<h1>", "<h2>", "</h1>", "</h2>").Replace(string(body)))
	p.Tried, p.Indented = err == nil, strings.ReplaceAll(p.When, "\n", "\n    ")
	return err
}
