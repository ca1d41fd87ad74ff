// Package rulebook holds the pages of the shop's rules and of what it decided about
// them: which rules are on and since when, what a condition would do as a rule, and
// switching one on or off, which is a decision with its day, its reason and the
// numbers it rests on.
//
//  1. rulebook.go shows the rules, each with its scorecard's line, and switches them: the
//     rules file and the ledger of decisions change together or not at all.
//  2. try.go tries a condition as if it were a rule.
//  3. decisions.go lists the decisions and mends, ends or takes back one, by a further line.
//
// It stands on packages decisions for the ledger, rulesfile for the file's text, and topic for the
// server; the rest is asked of a [Shop].
package rulebook

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/analysis/rules/rulesfile"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/decisions"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/help"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"day":   func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") },
	"title": valueTitle,
	"own":   rules.OwnTitle,
}).ParseFS(templateFiles, "templates/*.tmpl"))

// valueTitle says a number's name as a person would, without the rule that stands above it.
func valueTitle(name string) string {
	t := review.ValueTitle(name)
	if _, of, ok := strings.Cut(t, ": "); ok && strings.HasPrefix(t, "rule ") {
		return of
	}
	return t
}

// A Shop is what these pages ask of the workshop.
type Shop interface {
	Exists() bool
	RuleList() []rules.Rule
	RuleColumns(ctx context.Context) ([]string, error)
	// Try shows what a rule would do, with the numbers of its line.
	Try(ctx context.Context, r rules.Rule, success float64) (*page.Document, []archive.RecordValue, error)
	// Part shows that as a part of the page.
	Part(r *http.Request, d *page.Document) (template.HTML, error)
	topic.Behind
	// ChangeRules writes the rules file anew as change says of its text.
	ChangeRules(change func(text []byte) ([]byte, error)) error
	// Runs are the runs that were kept, the newest first.
	Runs() ([]archive.Record, error)
}

// Pages are the pages of rules and decisions.
type Pages struct {
	Host   topic.Host
	Shop   Shop
	Ledger *decisions.Ledger
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /rules", Role: access.Reader, Handler: p.rules},
		{Pattern: "POST /rules/switch", Role: access.Editor, Handler: p.switchRule},
		{Pattern: "GET /decisions", Role: access.Reader, Handler: p.list},
		{Pattern: "POST /decisions", Role: access.Editor, Handler: p.decide},
		{Pattern: "POST /decisions/mend", Role: access.Editor, Handler: p.mend},
		{Pattern: "POST /decisions/end", Role: access.Editor, Handler: p.end},
		{Pattern: "POST /decisions/take-back", Role: access.Editor, Handler: p.takeBack},
	}
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, status int, name, title string, data any) error {
	return help.Show(p.Host, w, r, topic.View{Status: status, Title: title, Templates: templates, Name: name, Data: data})
}

func (p *Pages) today() cohort.Day { return cohort.DayOf(p.Host.Now()) }

// who is the name to begin with, of a visitor who has one.
func (p *Pages) who(r *http.Request) string {
	if name := p.Host.Visitor(r).Name; name != access.Local {
		return name
	}
	return ""
}

// halfAYear is when a decision is looked at again, unless another day is said.
const halfAYear = 182

// A ruleRow is a rule with how it stands.
type ruleRow struct {
	rules.Rule
	Where   string // the condition in words, where it is one fault
	State   string
	On      bool
	Decided *decisions.View // the newest decision that switched it
}

type rulesPage struct {
	List        []rules.Rule
	Rows        []ruleRow
	Choices     []choice // columns
	Comparisons []string
	Lines       []ruleLine
	Typed       string // the condition, as typed
	Success     string
	Problem     string
	Tried       *page.Document // what it would do; nil: none is looked at
	Body        template.HTML  // the same
	Editor      bool

	Rule string // a rule that is looked at; "": a condition
	Row  *ruleRow
	When string // the condition, typed or built from the lines
	Form struct {
		Who               string
		Today, Suggestion cohort.Day
	}
}

// rules lists the rules, and shows what one of them, or a condition that is typed or
// built from lists, would do. That changes nothing, so its address can be kept.
func (p *Pages) rules(w http.ResponseWriter, r *http.Request) error {
	v := rulesPage{List: p.Shop.RuleList(), Typed: strings.TrimSpace(r.FormValue("when")), Success: strings.TrimSpace(r.FormValue("success")), Editor: p.Host.Visitor(r).Role == access.Editor}
	lines, err := p.Ledger.Read()
	if err != nil {
		return err
	}
	v.rows(decisions.Fold(lines, v.List, p.today()), p.today())
	v.Form.Who, v.Form.Today, v.Form.Suggestion = p.who(r), p.today(), p.today()+halfAYear
	for _, c := range comparisons {
		v.Comparisons = append(v.Comparisons, c.Words)
	}
	status := http.StatusOK
	if p.Shop.Exists() {
		columns, err := p.Shop.RuleColumns(r.Context())
		if err != nil {
			return err
		}
		v.Choices = choices(columns)
		if err := p.look(r, &v); err != nil {
			v.Problem, status = form.Sentence(err.Error()), http.StatusUnprocessableEntity
		}
		if v.Tried != nil {
			of := *v.Tried
			if of.Title = v.When; v.Row != nil {
				of.Title = v.Row.Title
			}
			if shown, err := p.Shop.Behind(w, r, &of); shown || err != nil {
				return err
			}
		}
	}
	return p.show(w, r, status, "rules", "Rules", v)
}

// rows are the rules, those that are on first.
func (v *rulesPage) rows(all []decisions.View, today cohort.Day) {
	for _, r := range v.List {
		row := ruleRow{Rule: r, Where: inWords(r.When), On: r.InForceOn(today)}
		switch {
		case !r.From.Known():
			row.State = "off"
		case r.From > today:
			row.State = "from " + r.From.String() + " on"
		case r.Until.Known() && r.Until < today:
			row.State = fmt.Sprintf("was on from %s to %s", r.From, r.Until)
		case r.Until.Known():
			row.State = fmt.Sprintf("on since %s, to %s", r.From, r.Until)
		default:
			row.State = "on since " + r.From.String()
		}
		for i := range all {
			if all[i].Rule == r.ID && all[i].Switch != nil && all[i].Taken == nil {
				row.Decided = &all[i]
				break
			}
		}
		v.Rows = append(v.Rows, row)
	}
	slices.SortStableFunc(v.Rows, func(a, b ruleRow) int { return cmp.Compare(rank(a), rank(b)) })
}

// rank puts what is on before what will be, was, and is off.
func rank(r ruleRow) int {
	switch {
	case r.On:
		return 0
	case r.From.Known():
		return 1
	}
	return 2
}

// look fills the page with what a rule or condition would do, if there is one.
func (p *Pages) look(r *http.Request, v *rulesPage) error {
	rule, given, err := v.tried(r)
	if err != nil || !given {
		return err
	}
	success, err := v.success()
	if err != nil {
		return err
	}
	v.When = rule.When
	v.Tried, _, err = p.Shop.Try(r.Context(), rule, success)
	if err != nil {
		return err
	}
	if v.Body, err = p.Shop.Part(r, v.Tried); err != nil {
		return err
	}
	for i := range v.Rows {
		if v.Rows[i].ID == v.Rule {
			v.Row = &v.Rows[i]
		}
	}
	return nil
}

// tooLong refuses what is no note but a book.
func tooLong(words, who, rule string) bool {
	return len(words) > 4000 || len(who) > 200 || len(rule) > 200
}

// dayOf reads a day of the form.
func dayOf(r *http.Request, name, words string) (cohort.Day, error) {
	s := strings.TrimSpace(r.PostForm.Get(name))
	if s == "" {
		return cohort.NoDay, nil
	}
	d, err := cohort.ParseDay(s)
	if err != nil {
		return d, topic.BadRequest(words + ": " + err.Error() + ".")
	}
	return d, nil
}

// switchRule switches a rule on or off, or a condition on as a rule of its own.
func (p *Pages) switchRule(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	d := decisions.Decision{ID: newID(), Words: strings.TrimSpace(f.Get("words")), Who: strings.TrimSpace(f.Get("who")), On: p.today(), Revisit: cohort.NoDay}
	on := f.Get("do") == "on"
	day, err := dayOf(r, "day", "The day")
	if err != nil {
		return err
	}
	if d.Revisit, err = dayOf(r, "revisit", "The day to look at it again"); err != nil {
		return err
	}
	title := strings.TrimSpace(f.Get("title"))
	switch {
	case !on && f.Get("do") != "off":
		return topic.BadRequest("Say whether the rule is to be switched on or off.")
	case d.Words == "" || d.Who == "" || !day.Known():
		return topic.BadRequest("Switching a rule needs the day, the reason, and who decided.")
	case tooLong(d.Words, d.Who, title):
		return topic.BadRequest("That is too long: 4,000 characters for the reason, 200 for names.")
	case on && !d.Revisit.Known():
		return topic.BadRequest("Switching a rule on needs a day to look whether it kept its promise.")
	}
	list := p.Shop.RuleList()
	rule, known := rules.Rule{}, false
	if id := f.Get("rule"); id != "" {
		if rule, known = decisions.Match(list, id); !known {
			return topic.BadRequest("There is no such rule any more.")
		}
	} else if !on || title == "" {
		return topic.BadRequest("A new rule needs a title.")
	} else if rule, err = rules.TriedRule(f.Get("when")); err != nil {
		return unprocessable(err)
	}
	seen := f.Get("from") + " " + f.Get("until")
	if known && seen != rule.From.String()+" "+rule.Until.String() {
		return changedMeanwhile(rule)
	}
	if known && on && rule.From.Known() && !rule.Until.Known() && rule.From <= day {
		return topic.NewProblem(http.StatusConflict, fmt.Sprintf("%s is on since %s already.", rule.Title, rule.From), nil)
	}
	if !on && (!rule.From.Known() || day < rule.From) {
		return topic.NewProblem(http.StatusConflict, fmt.Sprintf("%s does not begin before that day: take the decision back instead.", rule.Title), nil)
	}
	if !known {
		rule.ID, rule.Title, rule.Why = rulesfile.NewID(title, list), title, d.Words
	}
	d.Rule, d.Switch = rule.ID, &decisions.Switch{Before: rulesfile.DaysOf(rule), New: !known}
	d.Switch.After = rulesfile.Days{From: day, Until: cohort.NoDay}
	if !on {
		d.Switch.After = rulesfile.Days{From: rule.From, Until: day}
	}
	_, d.Evidence, err = p.Shop.Try(r.Context(), rule, 0)
	if err != nil {
		return unprocessable(err)
	}
	d.Evidence = slices.DeleteFunc(d.Evidence, func(v archive.RecordValue) bool { return !strings.HasPrefix(v.Name, "rule.") })
	did := "switch rule off"
	if on {
		did = "switch rule on"
	}
	if err := p.change(r, did, rule, d); err != nil {
		return err
	}
	http.Redirect(w, r, "/rules#all", http.StatusSeeOther)
	return nil
}

// change writes the rules file, as the decision switches the rule, and the line that says
// so, both or none.
func (p *Pages) change(r *http.Request, did string, rule rules.Rule, d decisions.Decision) error {
	if err := p.Host.Audit(r, did, d.ID, "rule "+d.Rule); err != nil {
		return err
	}
	var before []byte
	err := p.Shop.ChangeRules(func(text []byte) ([]byte, error) {
		before = text
		if d.Switch.New {
			rule.From, rule.Until = d.Switch.After.From, d.Switch.After.Until
			return rulesfile.Add(text, rule)
		}
		list, err := rules.Parse(text)
		if err != nil {
			return nil, err
		}
		now, ok := decisions.Match(list, d.Rule)
		if !ok || rulesfile.DaysOf(now) != d.Switch.Before {
			return nil, changedMeanwhile(rule)
		}
		return rulesfile.SetDays(text, d.Rule, d.Switch.After)
	})
	if err != nil {
		return unprocessable(err)
	}
	if err := p.Ledger.Add(d); err != nil {
		if back := p.Shop.ChangeRules(func([]byte) ([]byte, error) { return before, nil }); back != nil {
			return fmt.Errorf("the rule was changed, but the decision could not be noted: %w", err)
		}
		return fmt.Errorf("nothing was changed, since the decision could not be noted: %w", err)
	}
	return nil
}
