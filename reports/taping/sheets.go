package taping

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"lastroom/analysis/session"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
)

var (
	//go:embed sheets.tmpl
	sheetsText string
	//go:embed sheets.css
	sheetsCSS string

	sheets = template.Must(template.New("sheets").Funcs(template.FuncMap{"inc": func(i int) int { return i + 1 }}).Parse(sheetsText))
)

type view struct {
	Title    string
	Unit     string
	Plan     *session.Plan
	Seed     string
	Style    template.CSS
	Policy   string
	Grid     Timetable
	People   []personView
	Cautions []string
}

// A Timetable is who is at whose legs, period by period; "" is a rest.
type Timetable struct {
	People []string
	Rows   [][]string
}

// TimetableOf lays out the turns of a plan.
func TimetableOf(p *session.Plan) Timetable {
	t := Timetable{People: p.People()}
	for _, turn := range p.Turns() {
		for len(t.Rows) < turn.Period {
			t.Rows = append(t.Rows, make([]string, len(t.People)))
		}
		t.Rows[turn.Period-1][turn.Person] = p.Subjects[turn.Subject]
	}
	return t
}

type personView struct {
	Name  string
	Turns []turnView
}

type turnView struct {
	No, Period int
	Subject    string
	Trial      string
}

// Sheets prints the timetable and, for each who measures, the turns in their order
// with a box for every number, in a language, nil for English. Nobody sees what another
// writes.
func Sheets(w io.Writer, p *session.Plan, paper sheet.Paper, l *translation.Language) error {
	foot := fmt.Sprintf("Session %s, lot %d", p.ID, p.Seed)
	css := paper.Numbered(sheetsCSS, l.Text(foot))
	v := view{Title: "Measuring session " + p.ID, Unit: p.Unit.Words(), Plan: p, Seed: foot, Style: template.CSS(css), Grid: TimetableOf(p), Cautions: cautions,
		Policy: page.Policy(css)}
	for i, name := range p.People() {
		one := personView{Name: name}
		for k, t := range p.TurnsOf(i) {
			one.Turns = append(one.Turns, turnView{k + 1, t.Period, p.Subjects[t.Subject], Times(t.Trial)})
		}
		v.People = append(v.People, one)
	}
	return l.Through(func(w io.Writer) error { return page.Fill(w, sheets, v) })(w)
}

// Times says which measurement of a leg it is.
func Times(trial int) string {
	switch trial {
	case 1:
		return "first time"
	case 2:
		return "second time"
	case 3:
		return "third time"
	}
	return fmt.Sprintf("time %d", trial)
}
