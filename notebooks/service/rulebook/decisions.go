package rulebook

import (
	"crypto/rand"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/analysis/rules"
	"lastroom/analysis/rules/rulesfile"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/decisions"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/translation"
)

func newID() string { return rand.Text()[:12] }

// unprocessable gives an error of the shop its status, unless it has one.
func unprocessable(err error) error {
	var p *topic.Problem
	if errors.As(err, &p) {
		return p
	}
	return topic.NewProblem(http.StatusUnprocessableEntity, form.Sentence(err.Error()), err)
}

func changedMeanwhile(r rules.Rule) error {
	return topic.NewProblem(http.StatusConflict, fmt.Sprintf("Somebody changed %s meanwhile: look at the list of rules and decide again.", r.Title), nil)
}

type decisionsPage struct {
	Editor    bool
	Due       []decisions.View
	All       []decisions.View // the others
	Rules     []rules.Rule
	Runs      []archive.Record
	Run, Rule string // chosen before
	Who       string
	Today     cohort.Day
	Suggested cohort.Day
}

// Due are the decisions to look at again.
func (p *Pages) Due() ([]decisions.View, error) {
	lines, err := p.Ledger.Read()
	all := decisions.Fold(lines, p.Shop.RuleList(), p.today())
	return slices.DeleteFunc(all, func(v decisions.View) bool { return !v.Due }), err
}

// list shows what was decided.
func (p *Pages) list(w http.ResponseWriter, r *http.Request) error {
	lines, err := p.Ledger.Read()
	if err != nil {
		return err
	}
	recs, err := p.Shop.Runs()
	if err != nil {
		return err
	}
	v := decisionsPage{Editor: p.Host.Visitor(r).Role == access.Editor, Rules: p.Shop.RuleList(), Run: r.FormValue("run"), Rule: r.FormValue("rule"),
		Who: p.who(r), Today: p.today(), Suggested: p.today() + halfAYear}
	for _, d := range decisions.Fold(lines, v.Rules, v.Today) {
		d.Keep(recs)
		if d.Due {
			v.Due = append(v.Due, d)
		} else {
			v.All = append(v.All, d)
		}
	}
	for _, rec := range recs {
		if !rec.Failed() {
			v.Runs = append(v.Runs, rec)
		}
	}
	return p.show(w, r, http.StatusOK, "decisions", "Decisions", v)
}

// decide adds a decision that changes no rule, or a look back at one.
func (p *Pages) decide(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	d := decisions.Decision{ID: newID(), Rule: strings.TrimSpace(f.Get("rule")), Words: strings.TrimSpace(f.Get("words")), Run: f.Get("run"),
		Who: strings.TrimSpace(f.Get("who")), On: p.today(), LooksAt: f.Get("looks_at")}
	var err error
	if d.Revisit, err = dayOf(r, "revisit", "The revisit day"); err != nil {
		return err
	}
	recs, err := p.Shop.Runs()
	if err != nil {
		return err
	}
	at := slices.IndexFunc(recs, func(rec archive.Record) bool { return rec.ID == d.Run })
	switch {
	case d.Rule == "" || d.Words == "" || d.Who == "":
		return topic.BadRequest("A decision needs the rule, what was decided, and who decided.")
	case tooLong(d.Words, d.Who, d.Rule):
		return topic.BadRequest("That is too long: 4,000 characters for what was decided, 200 for names.")
	case at < 0 && d.LooksAt == "":
		return topic.BadRequest("A decision rests on a run: choose one from the list.")
	case d.LooksAt == "" && !d.Revisit.Known():
		return topic.BadRequest("A decision needs a day to look at it again.")
	}
	rule, ok, near := p.match(r, d.Rule)
	switch {
	case ok:
		d.Rule = rule.ID
	case near != "":
		return topic.BadRequest(fmt.Sprintf("There is no rule “%s”; did you mean “%s”?", d.Rule, near))
	}
	d.Evidence = []archive.RecordValue{}
	if at >= 0 {
		d.Evidence = decisions.AboutRule(recs[at], d.Rule)
	}
	return p.add(w, r, "decide", d)
}

// match finds the rule that a person means by its id or its title, in English or in the
// language of the page. near is the title that was meant by a misspelt one. What is like no
// rule at all is left: decisions may be about what is none.
func (p *Pages) match(r *http.Request, said string) (rule rules.Rule, ok bool, near string) {
	list := p.Shop.RuleList()
	if rule, ok = decisions.Match(list, said); ok {
		return rule, ok, ""
	}
	told := slices.Clone(list)
	if l, err := translation.Of(p.Host.Language(r)); err == nil {
		for i := range told {
			told[i].Title = l.Text(told[i].Title)
		}
	}
	if rule, ok = decisions.Match(told, said); ok {
		return rule, ok, ""
	}
	var names []string
	for i := range list {
		names = append(names, told[i].Title, list[i].Title, list[i].ID)
	}
	return rule, false, nearest.Name(said, names)
}

func (p *Pages) add(w http.ResponseWriter, r *http.Request, did string, d decisions.Decision) error {
	if err := p.Host.Audit(r, did, d.ID, "rule "+d.Rule); err != nil {
		return err
	}
	if err := p.Ledger.Add(d); err != nil {
		return err
	}
	http.Redirect(w, r, "/decisions", http.StatusSeeOther)
	return nil
}

// about reads a line about an open decision.
func (p *Pages) about(r *http.Request, does decisions.Does) (d decisions.Decision, v decisions.View, err error) {
	f := r.PostForm
	d = decisions.Decision{ID: newID(), Words: strings.TrimSpace(f.Get("words")), Who: strings.TrimSpace(f.Get("who")), On: p.today(), Revisit: cohort.NoDay,
		About: f.Get("about"), Does: does, Evidence: []archive.RecordValue{}}
	lines, err := p.Ledger.Read()
	if err != nil {
		return d, v, err
	}
	all := decisions.Fold(lines, p.Shop.RuleList(), p.today())
	at := slices.IndexFunc(all, func(v decisions.View) bool { return v.ID == d.About })
	switch {
	case at < 0:
		return d, v, topic.NotFound("There is no such decision.")
	case d.Words == "" || d.Who == "":
		return d, v, topic.BadRequest("It needs words that say why, and who decided.")
	case tooLong(d.Words, d.Who, ""):
		return d, v, topic.BadRequest("That is too long: 4,000 characters for the words, 200 for names.")
	case all[at].Taken != nil, does == decisions.Ends && all[at].Ended != nil:
		return d, v, topic.NewProblem(http.StatusConflict, "That decision was ended or taken back already.", nil)
	}
	d.Rule = all[at].Rule
	return d, all[at], nil
}

// mend gives a decision other words, or another day to look at it again.
func (p *Pages) mend(w http.ResponseWriter, r *http.Request) error {
	d, _, err := p.about(r, decisions.Mends)
	if err != nil {
		return err
	}
	if d.Revisit, err = dayOf(r, "revisit", "The day to look at it again"); err != nil {
		return err
	}
	return p.add(w, r, "mend decision", d)
}

// end says until when a decision held; a rule that it switched on ends with it.
func (p *Pages) end(w http.ResponseWriter, r *http.Request) error {
	d, v, err := p.about(r, decisions.Ends)
	if err != nil {
		return err
	}
	last, err := dayOf(r, "last", "The last day")
	began := v.On
	if v.Switch != nil {
		began = v.Switch.After.From
	}
	switch {
	case err != nil:
		return err
	case v.Switch != nil && v.Switch.After.Until.Known():
		return topic.NewProblem(http.StatusConflict, "It switched the rule off, so there is nothing to end: take it back, or switch the rule on again.", nil)
	case !last.Known() || last < began:
		return topic.BadRequest("Give the last day on which it held, not before it began. A decision that never should have been can be taken back.")
	}
	d.Last = &last
	return p.undo(w, r, "end decision", d, v, func(now rulesfile.Days) (rulesfile.Days, bool) {
		return rulesfile.Days{From: now.From, Until: last}, now == v.Switch.After
	})
}

// takeBack says that a decision never should have been; a rule that it switched has
// the days it had before.
func (p *Pages) takeBack(w http.ResponseWriter, r *http.Request) error {
	d, v, err := p.about(r, decisions.TakesBack)
	if err != nil {
		return err
	}
	stands := rulesfile.Days{}
	if v.Switch != nil {
		stands = v.Switch.After
	}
	if v.Ended != nil && v.Ended.Switch != nil {
		stands = v.Ended.Switch.After
	}
	return p.undo(w, r, "take decision back", d, v, func(now rulesfile.Days) (rulesfile.Days, bool) {
		return v.Switch.Before, now == stands
	})
}

// undo adds a line that ends or takes back a decision, with what becomes of a rule
// that it switched: to gives the days from those there are now, and whether the rule
// still stands as the decision left it.
func (p *Pages) undo(w http.ResponseWriter, r *http.Request, did string, d decisions.Decision, v decisions.View, to func(now rulesfile.Days) (rulesfile.Days, bool)) error {
	if v.Switch == nil {
		return p.add(w, r, did, d)
	}
	rule, ok := decisions.Match(p.Shop.RuleList(), v.Rule)
	if !ok { // somebody took the rule out of the file: there is nothing to switch
		return p.add(w, r, did, d)
	}
	now := rulesfile.DaysOf(rule)
	after, stands := to(now)
	if !stands {
		return topic.NewProblem(http.StatusConflict, fmt.Sprintf("%s was switched by another decision since: mend, end or take back that one first.", rule.Title), nil)
	}
	d.Switch = &decisions.Switch{Before: now, After: after}
	if err := p.change(r, did, rule, d); err != nil {
		return err
	}
	http.Redirect(w, r, "/decisions", http.StatusSeeOther)
	return nil
}
