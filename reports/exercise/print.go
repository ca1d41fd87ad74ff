package exercise

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
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

// marginMM stays white; home printers leave up to 6.4 mm (a quarter of an inch)
// unprinted.
const marginMM = 11

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
	css := printCSS + fmt.Sprintf("\n@page{size:%gmm %gmm;margin:%dmm %[3]dmm 16mm;@bottom-left{content:%[4]q;vertical-align:top;padding-top:2mm;font-size:9pt}@bottom-right{content:counter(page) \" / \" counter(pages);vertical-align:top;padding-top:2mm;font-size:9pt}}\n.sheet{max-width:%[5]gmm}\n",
		p.Width, p.Height, marginMM, l.Text(set), p.Width-2*marginMM)
	sum := sha256.Sum256([]byte(css))
	v := view{Title: "Practice: what is wrong with these forms?", Set: set, Key: key, Style: template.CSS(css), Faults: form.Faults,
		Policy: "default-src 'none'; base-uri 'none'; form-action 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"}
	if key {
		v.Title = "Practice: answer key"
	}
	for _, f := range s.Forms {
		one := formView{ID: f.ID, Boot: Boot(f.Boot), Drawing: Draw(f, key), Grid: GridOf(f, key), Ticks: Ticks(f, key)}
		if key {
			one.Right, one.Truth = f.Right(), f.Truth()
		}
		v.Forms = append(v.Forms, one)
	}
	return l.Through(func(w io.Writer) error {
		var b bytes.Buffer
		if err := printed.Execute(&b, v); err != nil {
			return err
		}
		_, err := w.Write(b.Bytes())
		return err
	})(w)
}
