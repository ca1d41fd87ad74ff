package service

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"lastroom/analysis/body"
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

var deskPoints = []string{"length", "breadth", "ball", "instep", "heel", "ankle", "calf"}

// deskColumns are the sets of numbers, in the order in which they are taken.
var deskColumns = []struct{ side, clothing string }{{"left", "bare"}, {"right", "bare"}, {"left", "tucked"}, {"right", "tucked"}}

var yesNo = []string{"unknown", "yes", "no"}

func deskChoices(f url.Values) (boot, marks []choice) {
	boot = []choice{
		{Name: "shaft_unit", Label: "unit of the shaft", Answers: []string{"in", "cm", "mm"}},
		{Name: "unit", Label: "unit of the numbers", Answers: []string{"in", "cm", "mm"}},
		{Name: "closure", Label: "closure", Answers: []string{"pull-on", "lace-up"}},
		{Name: "worn_tucked", Label: "trousers worn inside", Answers: yesNo},
		{Name: "sock", Label: "sock", Answers: []string{"", "thin", "medium", "thick"}},
		{Name: "orthotic", Label: "orthotic worn", Answers: yesNo},
		{Name: "channel", Label: "who measured", Answers: []string{"home", "dealer", "shop"}},
		{Name: "sex", Label: "range to judge by", Answers: []string{"", "f", "m"}},
	}
	for _, m := range [][2]string{
		{"outline_closed_left", "left outline closed"}, {"outline_closed_right", "right outline closed"},
		{"outline_single_left", "left outline one line"}, {"outline_single_right", "right outline one line"},
		{"ball_mark_left", "left ball mark"}, {"ball_mark_right", "right ball mark"},
		{"instep_mark_left", "left instep mark"}, {"instep_mark_right", "right instep mark"},
		{"tape_zero_used", "tape read from its start"}, {"self_measured", "wearer taped themselves"},
		{"orthotic_discussed", "orthotic talked over"},
	} {
		marks = append(marks, choice{Name: m[0], Label: m[1], Answers: yesNo})
	}
	for _, list := range [][]choice{boot, marks} {
		for i := range list {
			list[i].Value = f.Get(list[i].Name)
			if !slices.Contains(list[i].Answers, list[i].Value) {
				list[i].Value = list[i].Answers[0]
			}
		}
	}
	return boot, marks
}

// deskForm reads the page's form.
func (s *Server) deskForm(r *http.Request) (deskPage, DeskForm, error) {
	f := r.PostForm
	heights, err := s.cfg.Desk.Heights(r.Context())
	if err != nil {
		return deskPage{}, DeskForm{}, err
	}
	p := deskPage{Name: strings.TrimSpace(f.Get("form_id")), Shaft: f.Get("shaft"), Notes: f.Get("irregularities"), Text: f, Mind: body.GeneralCautions}
	p.Boot, p.Marks = deskChoices(f)
	of := func(name string) string {
		for _, c := range append(p.Boot[:len(p.Boot):len(p.Boot)], p.Marks...) {
			if c.Name == name {
				return c.Value
			}
		}
		return ""
	}
	form := DeskForm{Name: p.Name, Shaft: p.Shaft, ShaftUnit: of("shaft_unit"), Closure: of("closure"), Sock: of("sock"), Channel: of("channel"), Sex: of("sex"),
		Tucked: of("worn_tucked"), Orthotic: of("orthotic"), Unit: of("unit"), Irregularities: p.Notes, Marks: map[string]string{}}
	if form.Name == "" {
		form.Name = "as typed in"
	}
	p.Unit = form.Unit
	for _, m := range p.Marks {
		form.Marks[m.Name] = m.Value
	}
	add := func(label, point string, h Height) {
		row := deskRow{Label: label}
		for _, c := range deskColumns {
			n := DeskNumber{Side: c.side, Clothing: c.clothing, Point: point, Height: h.Text, HeightUnit: h.Unit}
			n.Field = strings.TrimSuffix(strings.ReplaceAll("n-"+c.side+"-"+c.clothing+"-"+point+"-"+h.Text, " ", "_"), "-")
			n.Value = strings.TrimSpace(f.Get(n.Field))
			cell := deskCell{Field: n.Field, Label: fmt.Sprintf("%s, %s, %s", label, c.side, c.clothing), Value: n.Value}
			cell.None = c.clothing == "tucked" && point != "leg" && point != "calf"
			row.Cells = append(row.Cells, cell)
			if n.Value != "" && !cell.None {
				form.Numbers = append(form.Numbers, n)
			}
		}
		p.Rows = append(p.Rows, row)
	}
	for _, point := range deskPoints {
		add(point, point, Height{})
	}
	for _, h := range heights {
		add("leg at "+h.Text+" "+h.Unit, "leg", h)
	}
	return p, form, nil
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
	p, form, err := s.deskForm(r)
	if err != nil {
		return err
	}
	status := http.StatusOK
	if p.Answer, err = s.cfg.Desk.Check(r.Context(), form); err != nil {
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
	_, form, err := s.deskForm(r)
	if err != nil {
		return err
	}
	answer := struct {
		Verdict string            `json:"verdict"`
		Doubts  map[string]string `json:"doubts"`
		Problem string            `json:"problem,omitempty"`
	}{Doubts: map[string]string{}}
	if got, err := s.cfg.Desk.Check(r.Context(), form); err != nil {
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
	_, form, err := s.deskForm(r)
	if err != nil {
		return err
	}
	got, err := s.cfg.Desk.Check(r.Context(), form)
	if err != nil {
		return &problem{http.StatusUnprocessableEntity, upper(err.Error()) + ".", err}
	}
	if got.Letter == nil {
		return &problem{http.StatusConflict, "Nothing has to be asked: there is no letter to write.", nil}
	}
	body, err := bodyOf(got.Letter, nil)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "document", "Letter", documentPage{"/desk", "Back to the desk", body})
	return nil
}
