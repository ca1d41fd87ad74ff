package main

import (
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
	"lastroom/reports/letter"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// letter is the call-back letter of a form; false where nothing has to be
// taken again.
func (d *checker) letter(l *letter.Language, f checkedForm) (*letter.Letter, bool) {
	ask, ok := letter.FromDecision(f.decision, f.Received, unitOf(f.Numbers))
	ask.Scheme = form.SchemeOf(d.settings)
	return letter.Write(l, ask), ok
}

// unitOf is the unit that most numbers of a form were written in; inches where
// there are none.
func unitOf(numbers []form.Number) form.Unit {
	n := map[form.Unit]int{}
	best := form.Inch
	for _, x := range numbers {
		if n[x.Unit]++; n[x.Unit] > n[best] {
			best = x.Unit
		}
	}
	return best
}

// writeLetters writes the letters of the held forms into a folder, as text and
// as a page to print.
func (a *app) writeLetters(dir string, l *letter.Language, d *openDesk, list []checkedForm) error {
	written := 0
	for _, f := range list {
		t, ok := d.letter(l, f)
		if !ok {
			continue
		}
		name := filepath.Join(dir, "letter-"+fileName(f.ID))
		if err := writeWhole(name+".txt", t.Text); err != nil {
			return err
		}
		if err := writeWhole(name+".html", t.HTML); err != nil {
			return err
		}
		written++
	}
	a.progress.done()
	switch {
	case written == 0:
		fmt.Fprintln(a.stderr, "no letter to write: nothing has to be taken again")
	case written == 1:
		fmt.Fprintf(a.stderr, "1 letter is in %s, as text and to print\n", dir)
	default:
		fmt.Fprintf(a.stderr, "%d letters are in %s, as text and to print\n", written, dir)
	}
	return nil
}

// fileName makes a file name of an id: letters, digits, '-' and '_' stay,
// anything else is spelt out, so that no two ids share a file.
func fileName(id string) string {
	var b strings.Builder
	for _, r := range id {
		if r == '-' || r == '_' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "~%x~", r)
		}
	}
	return b.String()
}

// writePage writes a page into a folder and gives the file's name.
func writePage(dir, name string, d *page.Document) (string, error) {
	file := filepath.Join(dir, name)
	return file, writeWhole(file, func(w io.Writer) error { return page.HTML(w, d) })
}

// explain is the page that says why.
func (d *checker) explain(f checkedForm) *page.Document {
	p := review.ExplainPage(d.explained(f))
	p.Provenance.Version = version()
	if d.book != nil {
		p.Provenance.AsOf, p.Provenance.BookHash = d.book.AsOf(), d.book.ContentHash()
	} else {
		p.Provenance.AsOf = f.Received
	}
	return p
}

func (d *checker) explained(f checkedForm) review.Explained {
	x := review.Explained{Decision: f.decision, Check: f.check, Form: formOf(f.DeskForm), Facts: deskFacts(f), Model: d.model, Calibration: d.calibration}
	for _, name := range slices.Sorted(maps.Keys(d.settings)) {
		x.Settings = append(x.Settings, [2]string{strings.ReplaceAll(name, "_", " "), d.settings[name]})
	}
	for _, p := range f.past {
		x.Past = append(x.Past, review.PastForm{Form: formOf(p.DeskForm), Order: p.Order, Received: p.Received})
	}
	return x
}

// deskFacts are what the desk went by besides the numbers.
func deskFacts(f checkedForm) [][2]string {
	facts := [][2]string{{"order", f.Order}, {"received", f.Received.String()}, {"measured by", f.Channel}}
	switch f.Sex {
	case "f":
		facts = append(facts, [2]string{"range judged by", "women"})
	case "m":
		facts = append(facts, [2]string{"range judged by", "men"})
	default:
		facts = append(facts, [2]string{"range judged by", "women and men together"})
	}
	shaft := "not known, so no leg heights were asked for"
	if f.ShaftMM > 0 {
		shaft = unitOf(f.Numbers).Text(f.ShaftMM) + " above the floor"
	}
	facts = append(facts, [2]string{"shaft", shaft})
	if len(f.decision.Unknown) > 0 {
		facts = append(facts, [2]string{"faults nobody noted either way", strings.Join(f.decision.Unknown, ", ")})
	}
	return facts
}

// rejectLine says on one line what was kept out and why.
func rejectLine(r sheets.Reject) string {
	s := r.File
	if r.Line > 0 {
		s += fmt.Sprintf(", line %d", r.Line)
	}
	if r.Column != "" {
		s += ", column " + r.Column
	}
	if r.Text != "" {
		s += fmt.Sprintf(", %q", r.Text)
	}
	return s + ": " + r.Reason
}
