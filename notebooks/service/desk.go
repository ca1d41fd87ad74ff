package service

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"lastroom/analysis/body"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

// choice is a question of the form with its answers.
type choice struct {
	Name, Label string
	Value       string
	Answers     []string // the first is what holds when nothing is said
}

type deskPage struct {
	Unit    string
	Name    string
	Shaft   string
	Boot    []choice
	Marks   []choice
	Rows    []deskRow
	Notes   string
	Answer  *DeskAnswer
	Body    rendered
	Problem string
	Text    url.Values // what was typed in, for the letter's form
	Mind    []string   // cautions
}

// A deskRow is one line of the table of numbers.
type deskRow struct {
	Label string
	Cells []deskCell
}

type deskCell struct {
	Field, Label, Value, Doubt string
	None                       bool // no such number
}

// notKnown is the answer that holds where nothing is said.
const notKnown = "unknown"

// deskChoices are the questions of the page with what was answered.
func deskChoices(f url.Values) (units, boot, marks []choice) {
	chosen := func(name, label string, answers ...string) choice {
		c := choice{Name: name, Label: label, Answers: answers, Value: f.Get(name)}
		if !slices.Contains(answers, c.Value) {
			c.Value = answers[0]
		}
		return c
	}
	unitsInchFirst := []string{form.Inch.String(), form.Centimetre.String(), form.Millimetre.String()}
	units = []choice{chosen("shaft_unit", "unit of the shaft", unitsInchFirst...), chosen("unit", "unit of the numbers", unitsInchFirst...)}
	for _, q := range desk.Questions {
		boot = append(boot, chosen(q.Column, q.Label, append([]string{notKnown}, q.Answers...)...))
	}
	for _, m := range form.Marks {
		marks = append(marks, chosen(m.Column, m.Label, append([]string{notKnown}, desk.YesNo...)...))
	}
	return units, boot, marks
}

// answered are the answers by column, "" where it is not known.
func answered(list []choice) map[string]string {
	out := map[string]string{}
	for _, c := range list {
		if out[c.Name] = c.Value; c.Value == notKnown {
			out[c.Name] = ""
		}
	}
	return out
}

// deskForm reads the page's form.
func (s *Server) deskForm(r *http.Request) (deskPage, DeskForm, error) {
	f := r.PostForm
	heights, err := s.cfg.Desk.Heights(r.Context())
	if err != nil {
		return deskPage{}, DeskForm{}, err
	}
	p := deskPage{Name: strings.TrimSpace(f.Get("form_id")), Shaft: f.Get("shaft"), Notes: f.Get("irregularities"), Text: f, Mind: body.GeneralCautions}
	units, boot, marks := deskChoices(f)
	p.Boot, p.Marks, p.Unit = append(units, boot...), marks, units[1].Value
	typed := DeskForm{Name: p.Name, Shaft: p.Shaft, Order: answered(boot), Marks: answered(marks), Irregularities: p.Notes}
	typed.ShaftUnit, _ = form.ParseUnit(units[0].Value)
	typed.Unit, _ = form.ParseUnit(units[1].Value)
	if typed.Name == "" {
		typed.Name = "as typed in"
	}
	add := func(label, suffix string, at form.Place) {
		row := deskRow{Label: label}
		for _, at.Clothing = range form.Clothings {
			for _, at.Side = range form.Sides {
				field := strings.ReplaceAll(fmt.Sprintf("n-%s-%s-%s%s", at.Side, at.Clothing, at.Point, suffix), " ", "_")
				cell := deskCell{Field: field, Label: fmt.Sprintf("%s, %s, %s", label, at.Side, at.Clothing), Value: strings.TrimSpace(f.Get(field)),
					None: at.Clothing == form.Tucked && !at.Point.OverTrousers()}
				row.Cells = append(row.Cells, cell)
				if cell.Value != "" && !cell.None {
					typed.Numbers = append(typed.Numbers, DeskNumber{Place: at, Field: field, Value: cell.Value})
				}
			}
		}
		p.Rows = append(p.Rows, row)
	}
	for _, point := range form.Points {
		if point != form.Leg {
			add(point.String(), "", form.Place{Point: point})
			continue
		}
		for _, h := range heights {
			add("leg at "+h.String(), "-"+strings.TrimSuffix(h.String(), " in"), form.Place{Point: point, HeightMM: h})
		}
	}
	return p, typed, nil
}

// desk shows an empty form.
func (s *Server) desk(w http.ResponseWriter, r *http.Request) error {
	p, _, err := s.deskForm(r)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "desk", "The form desk", p)
	return nil
}

// deskCheck judges the form that was typed in. Nothing is kept.
func (s *Server) deskCheck(w http.ResponseWriter, r *http.Request) error {
	p, typed, err := s.deskForm(r)
	if err != nil {
		return err
	}
	status := http.StatusOK
	if p.Answer, err = s.cfg.Desk.Check(r.Context(), typed); err != nil {
		p.Problem, status = upper(err.Error())+".", http.StatusUnprocessableEntity
	} else {
		for i := range p.Rows {
			for j := range p.Rows[i].Cells {
				p.Rows[i].Cells[j].Doubt = p.Answer.Doubts[p.Rows[i].Cells[j].Field]
			}
		}
		if p.Body, err = innerOf(p.Answer.Doc, s.linkIn("")); err != nil {
			return err
		}
	}
	s.render(w, r, status, "desk", "The form desk", p)
	return nil
}

// deskDoubts answers the page's script while numbers are typed in.
func (s *Server) deskDoubts(w http.ResponseWriter, r *http.Request) error {
	_, typed, err := s.deskForm(r)
	if err != nil {
		return err
	}
	answer := struct {
		Verdict string            `json:"verdict"`
		Doubts  map[string]string `json:"doubts"`
		Problem string            `json:"problem,omitempty"`
	}{Doubts: map[string]string{}}
	if got, err := s.cfg.Desk.Check(r.Context(), typed); err != nil {
		answer.Problem = upper(err.Error()) + "."
	} else {
		answer.Verdict = got.Verdict
		if got.Doubts != nil {
			answer.Doubts = got.Doubts
		}
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(answer)
}

// deskLetter shows the letter that asks for the numbers again, for print.
func (s *Server) deskLetter(w http.ResponseWriter, r *http.Request) error {
	_, typed, err := s.deskForm(r)
	if err != nil {
		return err
	}
	got, err := s.cfg.Desk.Check(r.Context(), typed)
	if err != nil {
		return newProblem(http.StatusUnprocessableEntity, upper(err.Error())+".", err)
	}
	if got.Letter == nil {
		return newProblem(http.StatusConflict, "Nothing has to be asked: there is no letter to write.", nil)
	}
	body, err := bodyOf(got.Letter, nil)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "document", "Letter", documentPage{"/desk", "Back to the desk", body})
	return nil
}
