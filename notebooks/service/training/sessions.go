package training

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/analysis/session"
	"lastroom/notebooks/service/topic"
	"lastroom/notebooks/sessions"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/taping"
	"lastroom/reports/translation"
)

// A place for the tape that a session may have.
type place struct {
	Value, Title string
	Usual        bool
	spot         session.Spot
}

type sessionsPage struct {
	Sessions  []*sessions.Session
	Problem   string
	Places    []place
	Measurers []string
	Asked     sessionAsked
	Units     []form.Unit // the reader's first
	Trials    []int
}

// sessionAsked is what a person typed in, to be shown again.
type sessionAsked struct{ ID, Day, Instructor, Measurers, Subjects, Seed string }

func (p *Pages) places(r *http.Request) ([]place, error) {
	heights, err := p.shop.Heights(r.Context())
	if err != nil {
		return nil, err
	}
	var out []place
	for _, point := range []form.Point{form.Ball, form.Instep, form.Heel, form.Ankle, form.Calf} {
		out = append(out, place{point.String(), session.Spot{Point: point}.Name(), point == form.Ball || point == form.Instep, session.Spot{Point: point}})
	}
	for i, h := range heights {
		s := session.Spot{Point: form.Leg, HeightMM: h}
		out = append(out, place{fmt.Sprintf("leg-%g", float64(h)), s.Name(), i < 3, s})
		if i == 7 {
			break
		}
	}
	return out, nil
}

// sessionList lists the sessions there are, and begins one.
func (p *Pages) sessionList(w http.ResponseWriter, r *http.Request) error {
	now := p.host.Now()
	return p.sessionListWith(w, r, "", sessionAsked{ID: now.Format("T-2006-01-02-1504"), Day: now.Format(time.DateOnly)})
}

func (p *Pages) sessionListWith(w http.ResponseWriter, r *http.Request, problem string, asked sessionAsked) (err error) {
	v := sessionsPage{Problem: problem, Asked: asked, Units: p.units(r), Trials: []int{1, 2, 3, 4}}
	if v.Sessions, err = p.sessions.All(); err != nil {
		return err
	}
	if v.Places, err = p.places(r); err != nil {
		return err
	}
	if v.Measurers, err = p.measurers(r.Context()); err != nil {
		return err
	}
	return p.again(w, r, "sessions", "Measuring together", problem, v)
}

// sessionBegin draws the order of a session and keeps it.
func (p *Pages) sessionBegin(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	asked := sessionAsked{f.Get("id"), f.Get("day"), f.Get("instructor"), f.Get("measurers"), f.Get("subjects"), f.Get("lot")}
	plan, problem, err := p.planOf(r, asked)
	if err != nil {
		return err
	}
	if problem != "" {
		return p.sessionListWith(w, r, problem, asked)
	}
	if err := p.host.Audit(r, "begin session", "", "begun"); err != nil {
		return err
	}
	word, err := p.sessions.Begin(plan)
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/session/"+word, http.StatusSeeOther)
	return nil
}

// planOf reads the plan of a session from its form, or says what is wrong with it.
func (p *Pages) planOf(r *http.Request, asked sessionAsked) (plan session.Plan, problem string, err error) {
	plan = session.Plan{ID: strings.TrimSpace(asked.ID), Day: strings.TrimSpace(asked.Day), Instructor: strings.TrimSpace(asked.Instructor), Measurers: lines(asked.Measurers), Subjects: lines(asked.Subjects)}
	places, err := p.places(r)
	if err != nil {
		return plan, "", err
	}
	for _, one := range places {
		if slices.Contains(r.PostForm["spot"], one.Value) {
			plan.Spots = append(plan.Spots, one.spot)
		}
	}
	plan.Unit, _ = form.ParseUnit(r.PostForm.Get("unit"))
	plan.Trials, _ = strconv.Atoi(r.PostForm.Get("trials"))
	if _, err := time.Parse(time.DateOnly, plan.Day); err != nil {
		return plan, "Write the day as 2026-11-26.", nil
	}
	plan.Seed = uint64(p.host.Now().UnixNano() % mostSeed)
	if lot := strings.TrimSpace(asked.Seed); lot != "" {
		seed, err := strconv.ParseUint(lot, 10, 64)
		if err != nil || seed > mostSeed {
			return plan, "The lot is a whole number up to 999999; leave it empty to have one drawn.", nil
		}
		plan.Seed = seed
	}
	if err := plan.Check(); err != nil {
		return plan, form.Capitalised(err.Error()) + ".", nil
	}
	all, err := p.sessions.All()
	if err != nil {
		return plan, "", err
	}
	ids, err := p.shop.SessionIDs(r.Context())
	if err != nil {
		return plan, "", err
	}
	if slices.Contains(ids, plan.ID) || slices.ContainsFunc(all, func(s *sessions.Session) bool { return strings.EqualFold(s.Plan.ID, plan.ID) }) {
		return plan, "There is a session of that name already; give this one another.", nil
	}
	return plan, "", nil
}

// lines are the entries of a list, one a line.
func lines(text string) (out []string) {
	for _, l := range strings.Split(text, "\n") {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

type doorView struct {
	Name, Door string
	Done, All  int
	No         int
}

type sessionPage struct {
	Session *sessions.Session
	Doors   []doorView
	Grid    taping.Timetable
	Papers  []sheet.Paper
	Editor  bool
	All     bool // every number is there
	Body    template.HTML
}

// session shows who is where, and once it is closed what everybody measured.
func (p *Pages) session(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sessions.Find(r.PathValue("session"))
	if err != nil {
		return gone(err)
	}
	v := sessionPage{Session: s, Grid: taping.TimetableOf(&s.Plan), Papers: sheet.Papers, Editor: p.editor(r)}
	for i, name := range s.Plan.People() {
		d := doorView{Name: name, Door: s.Doors[i], No: i}
		d.Done, d.All = s.DoneBy(i)
		v.Doors = append(v.Doors, d)
	}
	done, all := s.Done()
	v.All = done == all
	if s.Closed {
		if v.Body, err = blocks(taping.Together(&s.Plan, s.Entries)); err != nil {
			return err
		}
	}
	return p.show(w, r, "session", "Measuring session "+s.Plan.ID, v)
}

func (p *Pages) sessionSheets(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sessions.Find(r.PathValue("session"))
	if err != nil {
		return gone(err)
	}
	paper, err := paperOf(r)
	if err != nil {
		return err
	}
	l, err := translation.Of(p.host.Language(r))
	if err != nil {
		return err
	}
	return sendPrint(w, func(out io.Writer) error { return taping.Sheets(out, &s.Plan, paper, l) })
}

// sessionClose ends the writing.
func (p *Pages) sessionClose(w http.ResponseWriter, r *http.Request) error {
	if r.PostForm.Get("sure") == "" {
		return topic.BadRequest("Tick that all have written what they measured: nothing can be written after.")
	}
	if err := p.host.Audit(r, "close session", "", "begun"); err != nil {
		return err
	}
	err := p.sessions.Close(r.PathValue("session"))
	if err != nil && !errors.Is(err, sessions.ErrClosed) {
		return gone(err)
	}
	http.Redirect(w, r, "/session/"+r.PathValue("session"), http.StatusSeeOther)
	return nil
}

// closedSession is a session that may be looked at.
func (p *Pages) closedSession(r *http.Request) (*sessions.Session, error) {
	s, err := p.sessions.Find(r.PathValue("session"))
	if err != nil {
		return nil, gone(err)
	}
	if !s.Closed {
		return nil, topic.NewProblem(http.StatusConflict, "The session is still open: nobody sees numbers before all have written theirs.", nil)
	}
	return s, nil
}

// sheetOf is the session as the repeats sheet.
func sheetOf(s *sessions.Session) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	err := errors.Join(w.Write(session.Columns), w.WriteAll(s.Plan.Rows(s.Entries)))
	return b.Bytes(), err
}

func (p *Pages) sessionCSV(w http.ResponseWriter, r *http.Request) error {
	s, err := p.closedSession(r)
	if err != nil {
		return err
	}
	text, err := sheetOf(s)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="repeats.csv"`)
	_, err = w.Write(text)
	return err
}

// sessionSave loads the session into the book, as the sheet that it is.
func (p *Pages) sessionSave(w http.ResponseWriter, r *http.Request) error {
	s, err := p.closedSession(r)
	if err != nil {
		return err
	}
	ids, err := p.shop.SessionIDs(r.Context())
	if err != nil {
		return err
	}
	if !s.Saved && slices.Contains(ids, s.Plan.ID) {
		return topic.NewProblem(http.StatusConflict, "The book has another session of this name, whose rows would go. Take the CSV file, give it another session_id and load it as an order sheet.", nil)
	}
	text, err := sheetOf(s)
	if err != nil {
		return err
	}
	return p.host.Load(w, r, "Saving a measuring session", "/session/"+s.Word, func(dir *os.Root) error {
		return dir.WriteFile("repeats.csv", text, 0o600)
	}, func() error { return p.sessions.Saved(s.Word) })
}

// sessionResult sends one person's page to print.
func (p *Pages) sessionResult(w http.ResponseWriter, r *http.Request) error {
	s, err := p.closedSession(r)
	if err != nil {
		return err
	}
	no, err := strconv.Atoi(r.PathValue("person"))
	if err != nil || no < 1 || no > len(s.Plan.Measurers) {
		return topic.NotFound("There is no such measurer in this session.")
	}
	return sendPrint(w, func(out io.Writer) error { return page.HTML(out, taping.Result(&s.Plan, s.Entries, no)) })
}

// sessionDrop takes a session away. What the book has of it stays.
func (p *Pages) sessionDrop(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sessions.Find(r.PathValue("session"))
	if err == nil {
		err = p.host.Audit(r, "remove session", "", "begun")
	}
	if err == nil {
		err = p.sessions.Remove(s.Word)
	}
	if err != nil {
		return gone(err)
	}
	http.Redirect(w, r, "/session", http.StatusSeeOther)
	return nil
}
