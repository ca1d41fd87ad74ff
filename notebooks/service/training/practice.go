package training

import (
	"cmp"
	"context"
	"errors"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/notebooks/learners"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/exercise"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
)

// sizes are how many forms a round may have in the browser.
var sizes = []uint64{10, 20, 40}

// mostSeed is the largest number of a set: one that is quick to say in a class.
const mostSeed = 999_999

type startPage struct {
	Learners  []learners.Learner
	Name      string   // of who asks, to begin with
	Measurers []string // of the book, to choose from
	Sizes     []uint64
	Papers    []sheet.Paper
	Units     []form.Unit // the reader's first
	Problem   string
}

// start shows who practises, and how to begin.
func (p *Pages) start(w http.ResponseWriter, r *http.Request) error {
	return p.startWith(w, r, "")
}

func (p *Pages) startWith(w http.ResponseWriter, r *http.Request, problem string) error {
	all, err := p.learners.All()
	if err != nil {
		return err
	}
	s := startPage{Sizes: sizes, Papers: sheet.Papers, Units: p.units(r), Problem: problem, Name: r.PostFormValue("name")}
	for _, l := range all {
		s.Learners = append(s.Learners, *l)
	}
	if s.Measurers, err = p.measurers(r.Context()); err != nil {
		return err
	}
	return p.again(w, r, "start", "Practice", problem, s)
}

// measurers are the ids of the book's measurers.
func (p *Pages) measurers(ctx context.Context) (ids []string, err error) {
	c, err := p.shop.Cohort(ctx)
	if c == nil || err != nil {
		return nil, err
	}
	for _, id := range c.Measurer.Levels {
		if id != "" {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids, nil
}

// begin begins a round for a learner, who is new or was here before.
func (p *Pages) begin(w http.ResponseWriter, r *http.Request) error {
	if bad := learners.GoodName(r.PostForm.Get("name")); bad != "" {
		return p.startWith(w, r, bad)
	}
	n, err := whole(r, "forms", 1, practice.MostForms, "20", "Say how many forms: 10, 20 or 40.")
	if err == nil && !slices.Contains(sizes, n) {
		err = topic.BadRequest("Say how many forms: 10, 20 or 40.")
	}
	if err != nil {
		return err
	}
	plan := practice.Plan{Forms: int(n)}
	class := strings.TrimSpace(r.PostForm.Get("seed"))
	if class != "" {
		seed, err := strconv.ParseUint(class, 10, 64)
		if err != nil || seed > mostSeed {
			return p.startWith(w, r, "The number of the class's set is a whole number up to 999999; leave it empty for a set of your own.")
		}
		plan.Seed = seed
	}
	l, err := p.learners.Enter(r.PostForm.Get("name"))
	if err != nil {
		return err
	}
	if class == "" {
		if plan, err = p.ownPlan(l, plan.Forms); err != nil {
			return err
		}
	}
	asked, _ := form.ParseUnit(r.PostForm.Get("unit"))
	before := form.NoUnit // of the learner's last round: one who goes on goes on in it
	if n := len(l.Rounds); n > 0 {
		before = l.Rounds[n-1].Plan.Unit
	}
	plan.Unit = cmp.Or(asked, before, p.units(r)[0])
	no, err := p.learners.BeginRound(l.Word, plan)
	if err != nil {
		return gone(err)
	}
	http.Redirect(w, r, "/practice/"+l.Word+"/"+strconv.Itoa(no), http.StatusSeeOther)
	return nil
}

// ownPlan is a learner's next set: another one each time, made of what is missed.
func (p *Pages) ownPlan(l *learners.Learner, n int) (practice.Plan, error) {
	all, err := p.learners.All()
	if err != nil {
		return practice.Plan{}, err
	}
	return learners.NextPlan(all, l, n), nil
}

// roundOf finds the learner, the round and its set.
func (p *Pages) roundOf(r *http.Request) (*learners.Learner, int, *practice.Set, error) {
	l, err := p.learners.Find(r.PathValue("learner"))
	if err != nil {
		return nil, 0, nil, gone(err)
	}
	no, err := strconv.Atoi(r.PathValue("round"))
	if err != nil || no < 1 || no > len(l.Rounds) {
		return nil, 0, nil, topic.NotFound("There is no such round.")
	}
	s, err := l.Rounds[no-1].Plan.Set()
	return l, no, s, err
}

// A group is faults that show at one place of the form.
type group struct {
	ID, Title string
	Faults    []form.Fault
}

// groups are the faults by where they show: the links of the drawn form lead there.
func groups() []group {
	out := []group{{ID: "on-tracing", Title: "On the tracing"}, {ID: "in-numbers", Title: "In the numbers"}, {ID: "in-notes", Title: "In the notes"}}
	for _, f := range form.Faults {
		k := 1
		if f.Kind == form.Noted {
			k = 2
		}
		if practice.OnTracing(f.ID) {
			k = 0
		}
		out[k].Faults = append(out[k].Faults, f)
	}
	return out
}

// A lesson is a fault of the form, with why boots fail from it as the teaching sheet
// has it.
type lesson struct {
	practice.Truth
	Title, Shown, Fails string
}

// A formPage is one form of a round, before it is answered or after.
type formPage struct {
	Learner           *learners.Learner
	Round, At, Of     int
	ID                string
	Boot              string
	Drawing           template.HTML
	Words             []exercise.Tick
	Grid              exercise.Grid
	Ticks             []exercise.Tick
	Verdicts          []string
	Groups            []group
	Seed              uint64
	Own               bool            // the set is made for the learner
	Ticked            map[string]bool // faults and verdict, of an answer that was not taken
	Said              *practice.Seen
	Truth             []lesson
	Found, Missed, No []form.Fault // of what was pointed at, and planted
	Last              bool
	Problem           string
}

func (p *Pages) formOf(l *learners.Learner, no int, s *practice.Set, at int) formPage {
	f, r := s.Forms[at], &l.Rounds[no-1]
	said := r.Of(f.ID)
	return formPage{Learner: l, Round: no, At: at + 1, Of: len(s.Forms), ID: f.ID, Boot: exercise.Boot(f),
		Drawing: exercise.Draw(f, said != nil), Words: exercise.InWords(f), Grid: exercise.GridOf(f, said != nil), Ticks: exercise.Ticks(f, said != nil),
		Verdicts: practice.Verdicts, Groups: groups(), Seed: s.Seed, Own: r.Plan.Weights != nil, Said: said}
}

// next shows the next form of a round, or how the round went.
func (p *Pages) next(w http.ResponseWriter, r *http.Request) error {
	l, no, s, err := p.roundOf(r)
	if err != nil {
		return err
	}
	if at := l.Rounds[no-1].Next(s); at >= 0 {
		return p.show(w, r, "form", "Practice: form "+s.Forms[at].ID, p.formOf(l, no, s, at))
	}
	return p.ended(w, r, l, no)
}

// answer notes what the learner says of a form, and goes to its truth.
func (p *Pages) answer(w http.ResponseWriter, r *http.Request) error {
	l, no, s, err := p.roundOf(r)
	if err != nil {
		return err
	}
	a := practice.Answer{Learner: l.Name, Form: r.PostForm.Get("form"), Verdict: r.PostForm.Get("verdict"), Faults: r.PostForm["fault"]}
	at := slices.IndexFunc(s.Forms, func(f practice.Form) bool { return f.ID == a.Form })
	if at < 0 {
		return topic.NotFound("There is no such form in this round.")
	}
	if l.Rounds[no-1].Of(a.Form) != nil { // the first answer counts
		http.Redirect(w, r, "/practice/"+l.Word+"/"+strconv.Itoa(no)+"/"+a.Form, http.StatusSeeOther)
		return nil
	}
	problem := ""
	switch {
	case !slices.Contains(practice.Verdicts, a.Verdict):
		problem = "Say what you would do with the form: cut, ask, or measure again."
	case a.Verdict == practice.Cut && len(a.Faults) > 0:
		problem = "You pointed at something wrong and would cut all the same. Choose ask or measure again, or take the marks away."
	case a.Verdict != practice.Cut && len(a.Faults) == 0:
		problem = "Point at what is wrong, at least at one thing; or say cut."
	}
	if problem != "" {
		f := p.formOf(l, no, s, at)
		f.Problem, f.Said, f.Ticked = problem, nil, map[string]bool{a.Verdict: true}
		for _, id := range a.Faults {
			f.Ticked[id] = true
		}
		return p.again(w, r, "form", "Practice: form "+a.Form, problem, f)
	}
	seen, err := s.See(a)
	if err != nil {
		return topic.BadRequest("That is no fault of the list.")
	}
	err = p.learners.Answer(l.Word, no, seen)
	if err != nil && !errors.Is(err, learners.ErrAnswered) {
		return gone(err)
	}
	http.Redirect(w, r, "/practice/"+l.Word+"/"+strconv.Itoa(no)+"/"+a.Form, http.StatusSeeOther)
	return nil
}

// truth shows what is wrong with a form that was answered.
func (p *Pages) truth(w http.ResponseWriter, r *http.Request) error {
	l, no, s, err := p.roundOf(r)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(s.Forms, func(f practice.Form) bool { return f.ID == r.PathValue("exercise") })
	if at < 0 {
		return topic.NotFound("There is no such form in this round.")
	}
	v := p.formOf(l, no, s, at)
	if v.Said == nil {
		return topic.NewProblem(http.StatusConflict, "That form is not answered yet: its truth is shown after.", nil)
	}
	v.Last = l.Rounds[no-1].Ended()
	for _, t := range s.Forms[at].Truth() {
		v.Truth = append(v.Truth, lesson{t, form.Capitalised(t.Fault.Title), form.Capitalised(t.Here), sheet.Words.Language(translation.English).Say(t.Fault.ID + "_why")})
	}
	for _, f := range form.Faults {
		pointed, planted := slices.Contains(v.Said.Faults, f.ID), slices.Contains(v.Said.Planted, f.ID)
		switch {
		case pointed && planted:
			v.Found = append(v.Found, f)
		case planted:
			v.Missed = append(v.Missed, f)
		case pointed:
			v.No = append(v.No, f)
		}
	}
	return p.show(w, r, "truth", "Practice: form "+v.ID, v)
}

// print sends a set's worksheet, or its answer key.
func (p *Pages) print(w http.ResponseWriter, r *http.Request) error {
	seed, err := whole(r, "seed", 0, mostSeed, "1", "Say the number of the set, a whole number up to 999999.")
	if err != nil {
		return err
	}
	n, err := whole(r, "forms", 1, 100, "20", "Say how many forms, 1 to 100.")
	if err != nil {
		return err
	}
	paper, err := paperOf(r)
	if err != nil {
		return err
	}
	asked, _ := form.ParseUnit(r.FormValue("unit"))
	s, err := practice.Plan{Seed: seed, Forms: int(n), Unit: cmp.Or(asked, p.units(r)[0])}.Set()
	if err != nil {
		return err
	}
	l, err := translation.Of(p.host.Language(r))
	if err != nil {
		return err
	}
	return sendPrint(w, func(out io.Writer) error {
		if r.FormValue("what") == "key" {
			return exercise.Key(out, s, paper, l)
		}
		return exercise.Worksheet(out, s, paper, l)
	})
}

// teaching sends the teaching sheet of a fault, or all of them.
func (p *Pages) teaching(w http.ResponseWriter, r *http.Request) error {
	var lessons []sheet.Lesson
	id := r.PathValue("fault")
	for _, f := range form.Faults {
		if id == "" || id == f.ID {
			lessons = append(lessons, sheet.Lesson{Fault: f.ID})
		}
	}
	if len(lessons) == 0 {
		return topic.NotFound("There is no teaching sheet of that name.")
	}
	paper, err := paperOf(r)
	if err != nil {
		return err
	}
	return sendPrint(w, func(out io.Writer) error {
		return sheet.Teach(out, sheet.Words.Language(p.host.Language(r)), lessons, paper, form.DefaultScheme)
	})
}

// units are all that forms are written in, that of the reader's language first.
func (p *Pages) units(r *http.Request) []form.Unit {
	own := sheet.UnitOf(sheet.Words.Language(p.host.Language(r)))
	others := slices.DeleteFunc(slices.Clone(form.Units), func(u form.Unit) bool { return u == own })
	return append([]form.Unit{own}, others...)
}

func (p *Pages) editor(r *http.Request) bool { return p.host.Visitor(r).Role == access.Editor }
