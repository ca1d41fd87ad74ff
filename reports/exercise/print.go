package exercise

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
)

var (
	//go:embed print.tmpl
	printText string
	//go:embed print.css
	printCSS string

	printed = template.Must(template.New("print").Parse(printText))
)

type view struct {
	Title, Set string
	Key        bool
	Style      template.CSS
	Policy     string
	Forms      []formView
	Faults     []form.Fault
}

type formView struct {
	ID, Boot string
	Drawing  template.HTML
	Grid     Grid
	Ticks    []Tick
	Right    string
	Truth    []practice.Truth
}

// Worksheet prints the forms of a set with room for the answers, and what can be
// wrong with its number, to write down; in a language, nil for English.
func Worksheet(w io.Writer, s *practice.Set, p sheet.Paper, l *translation.Language) error {
	return write(w, s, p, l, false)
}

// Key prints the same forms with what is wrong, why, and what to ask.
func Key(w io.Writer, s *practice.Set, p sheet.Paper, l *translation.Language) error {
	return write(w, s, p, l, true)
}

func write(w io.Writer, s *practice.Set, p sheet.Paper, l *translation.Language, key bool) error {
	set := fmt.Sprintf("Set %d, %d forms", s.Seed, len(s.Forms))
	css := p.Numbered(printCSS, l.Text(set))
	v := view{Title: "Practice: what is wrong with these forms?", Set: set, Key: key, Style: template.CSS(css), Faults: form.Faults,
		Policy: page.Policy(css)}
	if key {
		v.Title = "Practice: answer key"
	}
	for _, f := range s.Forms {
		one := formView{ID: f.ID, Boot: Boot(f), Drawing: Draw(f, key), Grid: GridOf(f, key), Ticks: Ticks(f, key)}
		if key {
			one.Right, one.Truth = f.Right(), f.Truth()
		}
		v.Forms = append(v.Forms, one)
	}
	return l.Through(func(w io.Writer) error { return page.Fill(w, printed, v) })(w)
}
