package training

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/session"
	"lastroom/notebooks/service/topic"
	"lastroom/notebooks/sessions"
	"lastroom/reports/taping"
)

type box struct {
	Name, Label, Text, Problem string
}

type boxRow struct {
	Spot  string
	Boxes []box
}

type entryPage struct {
	Session    *sessions.Session
	Name, Door string
	Turns      []turnView
	Now        *turnView // nil: all are written
	Unit       string    // in words
	Rows       []boxRow
	Problem    string
}

type turnView struct {
	No, Period int
	Subject    string
	Times      string
	Done       bool
	turn       session.Turn
}

// doorOf is the session and the person of a door.
func (p *Pages) doorOf(r *http.Request) (*sessions.Session, int, error) {
	s, err := p.sessions.Find(r.PathValue("session"))
	if err != nil {
		return nil, 0, gone(err)
	}
	who := s.Person(r.PathValue("door"))
	if who < 0 {
		return nil, 0, topic.NotFound("That is nobody's page in this session.")
	}
	return s, who, nil
}

func entryOf(s *sessions.Session, who int) entryPage {
	v := entryPage{Session: s, Name: s.Plan.People()[who], Door: s.Doors[who], Unit: s.Plan.Unit.Words()}
	for i, t := range s.Plan.TurnsOf(who) {
		v.Turns = append(v.Turns, turnView{i + 1, t.Period, s.Plan.Subjects[t.Subject], taping.Times(t.Trial), session.Of(s.Entries, t) != nil, t})
	}
	return v
}

// at makes a turn the one that is written now, with boxes of what was typed.
func (v *entryPage) at(no int, typed func(name string) string) {
	v.Now, v.Rows = &v.Turns[no-1], nil
	for k, spot := range v.Session.Plan.Spots {
		row := boxRow{Spot: spot.Name()}
		for _, side := range form.Sides {
			name := fmt.Sprintf("%s-%d", side, k)
			row.Boxes = append(row.Boxes, box{Name: name, Label: form.Capitalised(side.String()) + ", " + spot.Name(), Text: typed(name)})
		}
		v.Rows = append(v.Rows, row)
	}
}

// entry shows one person whose legs come now, with empty boxes: nobody sees numbers,
// not even their own of before.
func (p *Pages) entry(w http.ResponseWriter, r *http.Request) error {
	s, who, err := p.doorOf(r)
	if err != nil {
		return err
	}
	v := entryOf(s, who)
	no := 1 + slices.IndexFunc(v.Turns, func(t turnView) bool { return !t.Done })
	if again := r.URL.Query().Get("turn"); again != "" {
		if no, err = strconv.Atoi(again); err != nil || no < 1 || no > len(v.Turns) {
			return topic.NotFound("There is no such turn.")
		}
	}
	if no > 0 && !s.Closed {
		v.at(no, func(string) string { return "" })
	}
	return p.show(w, r, "entry", "Measuring session: "+v.Name, v)
}

// Shortest and longest that a tape shows on a leg, mm: a number outside is a slip of
// the keys. Judgement, far beyond what feet and legs show.
const (
	leastMM = 40
	mostMM  = 1000
)

// write keeps what a person wrote at a turn.
func (p *Pages) write(w http.ResponseWriter, r *http.Request) error {
	s, who, err := p.doorOf(r)
	if err != nil {
		return err
	}
	v := entryOf(s, who)
	no, err := strconv.Atoi(r.PostForm.Get("turn"))
	if err != nil || no < 1 || no > len(v.Turns) {
		return topic.BadRequest("That turn is not in the session.")
	}
	v.at(no, func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) })
	turn := v.Now.turn
	e := session.Entry{Person: who, Subject: turn.Subject, Trial: turn.Trial}
	empty, wrong := 0, 0
	for k := range v.Rows {
		for i, side := range form.Sides {
			b := &v.Rows[k].Boxes[i]
			if b.Text == "" {
				empty++
				continue
			}
			mm, err := p.shop.Length(b.Text, s.Plan.Unit)
			if err == nil && (mm < leastMM || mm > mostMM) {
				err = errors.New("that is no girth of a foot or leg; look at the unit and the digits")
			}
			if err != nil {
				b.Problem = form.Capitalised(err.Error()) + "."
				wrong++
				continue
			}
			e.Readings = append(e.Readings, session.Reading{Side: side, Spot: k, Written: b.Text, ValueMM: mm})
		}
	}
	switch {
	case wrong > 0:
		v.Problem = "Some numbers can't be read; what is wrong stands beside them."
	case len(e.Readings) == 0:
		v.Problem = "No number was written yet."
	case empty > 0 && r.PostForm.Get("leave") == "":
		v.Problem = fmt.Sprintf("%s empty. Fill them, or tick that they stay empty.", cmp.Or(map[int]string{1: "One box is"}[empty], fmt.Sprint(empty, " boxes are")))
	}
	if v.Problem != "" {
		return p.again(w, r, "entry", "Measuring session: "+v.Name, v.Problem, v)
	}
	if err := p.sessions.Write(s.Word, e); err != nil {
		if errors.Is(err, sessions.ErrClosed) {
			return topic.NewProblem(http.StatusConflict, "The session is closed: all have been shown its numbers, and nothing more is taken.", err)
		}
		return gone(err)
	}
	http.Redirect(w, r, "/session/"+s.Word+"/at/"+v.Door, http.StatusSeeOther)
	return nil
}
