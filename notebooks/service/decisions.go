package service

import (
	"bufio"
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/notebooks/archive"

	"lastroom/notebooks/service/access"
)

// A Decision is what the shop decided about a rule, the run it rests on, and
// when to look whether it kept its promise. Decisions are added, never changed;
// a look back is a decision of its own that names the one it looks at.
type Decision struct {
	ID      string     `json:"id"`
	Rule    string     `json:"rule"`
	Words   string     `json:"words"`
	Run     string     `json:"run"`
	Who     string     `json:"who"`
	On      cohort.Day `json:"on"`
	Revisit cohort.Day `json:"revisit"`
	LooksAt string     `json:"looks_at,omitempty"`
	// Evidence are the numbers of the run about the rule, as they were.
	Evidence []archive.RecordValue `json:"evidence"`
}

const decisionsFile = "decisions.jsonl"

func (s *Server) readDecisions() ([]Decision, error) {
	b, err := s.root.ReadFile(decisionsFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []Decision
	lines := bufio.NewScanner(bytes.NewReader(b))
	lines.Buffer(nil, 8<<20)
	for no := 1; lines.Scan(); no++ {
		var d Decision
		if err := json.Unmarshal(lines.Bytes(), &d); err != nil {
			return nil, fmt.Errorf("%s, line %d, is damaged: %w", decisionsFile, no, err)
		}
		all = append(all, d)
	}
	return all, lines.Err()
}

// A decisionView is a decision with what became of it.
type decisionView struct {
	Decision
	Due    bool
	Looked []Decision // looks back
	Kept   []kept
	Newer  string // the newest run of the same notebook, where there is one
}

// kept is a number of the evidence, then and now.
type kept struct{ Name, Then, Now, Says string }

func (s *Server) decisionViews() ([]decisionView, error) {
	all, err := s.readDecisions()
	if err != nil {
		return nil, err
	}
	recs, err := s.store.List()
	if err != nil {
		return nil, err
	}
	today := cohort.DayOf(s.cfg.Clock())
	var out []decisionView
	for _, d := range all {
		if d.LooksAt != "" {
			for i := range out {
				if out[i].ID == d.LooksAt {
					out[i].Looked = append(out[i].Looked, d)
					out[i].Revisit = d.Revisit
				}
			}
			continue
		}
		v := decisionView{Decision: d}
		v.Newer, v.Kept = promise(d, recs)
		out = append(out, v)
	}
	for i := range out {
		out[i].Due = out[i].Revisit.Known() && out[i].Revisit <= today
	}
	slices.Reverse(out)
	return out, nil
}

func (s *Server) due() ([]decisionView, error) {
	all, err := s.decisionViews()
	return slices.DeleteFunc(all, func(v decisionView) bool { return !v.Due }), err
}

// promise lays the evidence beside the same numbers in the newest whole run of
// the same notebook.
func promise(d Decision, recs []archive.Record) (string, []kept) {
	i := slices.IndexFunc(recs, func(r archive.Record) bool { return r.ID == d.Run })
	if i < 0 {
		return "", nil
	}
	for _, r := range recs { // the newest first
		if r.Notebook != recs[i].Notebook || r.Failed() {
			continue
		}
		now := map[string]archive.RecordValue{}
		for _, v := range r.Values {
			now[v.Name] = v
		}
		var out []kept
		for _, was := range d.Evidence {
			is, ok := now[was.Name]
			if !ok {
				is.Text = "not in the newest run"
			}
			out = append(out, kept{was.Name, was.Text, is.Text, moved(was, is)})
		}
		return r.ID, out
	}
	return "", nil
}

// moved says whether a number is another one now, by its intervals.
func moved(was, is archive.RecordValue) string {
	a, okA := was.Estimate()
	b, okB := is.Estimate()
	if !okA || !okB {
		if was.Text == is.Text {
			return "the same"
		}
		return "differs"
	}
	switch {
	case was.Text == is.Text:
		return "the same"
	case b.High < a.Low:
		return "lower now, beyond both intervals"
	case b.Low > a.High:
		return "higher now, beyond both intervals"
	}
	return "not told apart: the intervals overlap"
}

type decisionsPage struct {
	Editor    bool
	Due       []decisionView
	All       []decisionView
	Rules     []string
	Runs      []archive.Record
	Run, Rule string // chosen before
	Today     cohort.Day
	Suggested cohort.Day
}

func (s *Server) decisions(w http.ResponseWriter, r *http.Request) error {
	all, err := s.decisionViews()
	if err != nil {
		return err
	}
	p := decisionsPage{Editor: visitorOf(r).Role == access.Editor, All: all, Rules: s.cfg.Workshop.Rules(), Run: r.FormValue("run"), Rule: r.FormValue("rule"), Today: cohort.DayOf(s.cfg.Clock())}
	p.Suggested = p.Today + 182
	for _, v := range all {
		if v.Due {
			p.Due = append(p.Due, v)
		}
	}
	recs, err := s.store.List()
	if err != nil {
		return err
	}
	for _, rec := range recs {
		if !rec.Failed() {
			p.Runs = append(p.Runs, rec)
		}
	}
	s.render(w, r, http.StatusOK, "decisions", "Decisions", p)
	return nil
}

// decide adds a decision, or a look back at one.
func (s *Server) decide(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	d := Decision{ID: rand.Text()[:12], Rule: strings.TrimSpace(f.Get("rule")), Words: strings.TrimSpace(f.Get("words")), Run: f.Get("run"),
		Who: strings.TrimSpace(f.Get("who")), On: cohort.DayOf(s.cfg.Clock()), LooksAt: f.Get("looks_at"), Revisit: cohort.NoDay}
	if f.Get("revisit") != "" {
		var err error
		if d.Revisit, err = cohort.ParseDay(f.Get("revisit")); err != nil {
			return badRequest("The revisit day: " + err.Error() + ".")
		}
	}
	rec, err := s.store.Record(d.Run)
	switch {
	case d.Rule == "" || d.Words == "" || d.Who == "":
		return badRequest("A decision needs the rule, what was decided, and who decided.")
	case len(d.Words) > 4000 || len(d.Who) > 200 || len(d.Rule) > 200:
		return badRequest("That is too long: 4,000 characters for what was decided, 200 for names.")
	case err != nil:
		return badRequest("A decision rests on a run: choose one from the list.")
	case d.LooksAt == "" && !d.Revisit.Known():
		return badRequest("A decision needs a day to look at it again.")
	}
	d.Evidence = aboutRule(rec, d.Rule)
	if err := s.audit(r, "decide", d.ID, "rule "+d.Rule); err != nil {
		return err
	}
	if err := (&lines{root: s.root, name: decisionsFile}).add(d); err != nil {
		return err
	}
	http.Redirect(w, r, "/decisions", http.StatusSeeOther)
	return nil
}

// aboutRule are the values of a run that name the rule.
func aboutRule(rec archive.Record, rule string) []archive.RecordValue {
	out := []archive.RecordValue{}
	for _, v := range rec.Values {
		if slices.Contains(strings.Split(v.Name, "."), rule) {
			out = append(out, v)
		}
	}
	return out
}
