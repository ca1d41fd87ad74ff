package page

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// UsualWidth is how wide a text is where no terminal says so. What goes to a file or
// a mail is read by people too; programs read CSV and JSON.
const UsualWidth = 80

// TextOptions say how wide a text may be; width 0 is without end. With a width,
// prose is wrapped and tables are made to fit; Bold lets headings be set in bold by
// escape sequences.
//
// Say says the printer's own words in another language than English; nil: English.
type TextOptions struct {
	Width int
	Bold  bool
	Say   func(string) string
}

// WriteText writes the document for a terminal or a pipe.
func WriteText(w io.Writer, d *Document, o TextOptions) error {
	if o.Say == nil {
		o.Say = func(s string) string { return s }
	}
	p := &texter{w: bufio.NewWriter(w), o: o}
	p.heading(d.Title, '=')
	if d.Lead != "" {
		p.para("", d.Lead)
	}
	for _, s := range inOrder(d.Sections) {
		if s.Title != "" {
			p.line("")
			p.heading(s.Title, '-')
		}
		for _, b := range s.Blocks {
			p.block(b)
		}
	}
	if len(d.Cautions) > 0 {
		p.line("")
		p.heading(o.Say("Cautions"), '-')
		for _, c := range d.Cautions {
			p.para("* ", c)
		}
	}
	if s := d.Provenance.Line(); s != "" {
		p.line("")
		p.para("", o.Say(s))
	}
	return p.w.Flush()
}

// Line is the provenance in one line, for a footer.
func (p Provenance) Line() string {
	var parts []string
	if p.AsOf.Known() && p.AsOf != 0 {
		parts = append(parts, "as of "+p.AsOf.String())
	}
	if p.BookHash != "" {
		parts = append(parts, "book "+short(p.BookHash))
	}
	if p.Version != "" {
		parts = append(parts, "lastroom "+p.Version)
	}
	for _, kv := range p.Parameters {
		parts = append(parts, kv[0]+" "+kv[1])
	}
	return strings.Join(parts, " · ")
}

func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12]
	}
	return hash
}

// inOrder puts sheet one first, then two, then the annex.
func inOrder(ss []Section) []Section {
	var out []Section
	for _, sheet := range []int{1, 2, 0} {
		for _, s := range ss {
			if s.Sheet == sheet || (sheet == 0 && s.Sheet > 2) {
				out = append(out, s)
			}
		}
	}
	return out
}

type texter struct {
	w *bufio.Writer
	o TextOptions
}

func (p *texter) line(s string) { fmt.Fprintln(p.w, strings.TrimRight(clean(s), " ")) }

func (p *texter) heading(s string, rule rune) {
	if s == "" {
		return
	}
	if p.o.Bold {
		fmt.Fprintf(p.w, "\x1b[1m%s\x1b[0m\n", clean(s))
		return
	}
	p.line(s)
	p.line(strings.Repeat(string(rule), min(utf8.RuneCountInString(s), 78)))
}

// para writes a paragraph; lead stands before its first line and indents the
// others.
func (p *texter) para(lead, s string) {
	pad := strings.Repeat(" ", utf8.RuneCountInString(lead))
	for i, l := range Wrap(clean(s), p.o.Width-len(pad)) {
		if i == 0 {
			p.line(lead + l)
		} else {
			p.line(pad + l)
		}
	}
}

func (p *texter) block(b Block) {
	switch b := b.(type) {
	case Prose:
		for _, s := range b {
			p.para("", s)
		}
	case Markup:
		for _, s := range b.Text {
			p.para("", s)
		}
	case Finding:
		p.finding(b)
	case Table:
		p.line("")
		p.table(&b)
	case Figure:
		p.line("")
		p.para("", b.Title)
		p.para("", b.Desc)
		if len(b.Data.Columns) > 0 {
			t := b.Data
			t.Caption = ""
			p.table(&t)
		}
	case Value:
		p.para("", b.Name+": "+b.Text)
	}
}

func (p *texter) finding(f Finding) {
	p.line("")
	p.para("> ", f.Headline)
	for _, s := range f.Detail {
		p.para("  ", s)
	}
	for _, kv := range [][2]string{{"How sure", f.Certainty}, {"What to do", f.Action}, {"Orders", p.o.Say(f.Orders.String())}} {
		if kv[1] != "" {
			p.para("  ", p.o.Say(kv[0])+": "+kv[1])
		}
	}
	for _, s := range f.Warnings {
		p.para("  ! ", s)
	}
}

// someIDs is how many names a list gives before it counts the rest.
const someIDs = 6

// String names the first few ids and counts the rest.
func (r Ref) String() string { return some(r.IDs) }

func some(names []string) string {
	s := strings.Join(names[:min(len(names), someIDs)], ", ")
	if more := len(names) - someIDs; more > 0 {
		s += " and " + Thousands(more) + " more"
	}
	return s
}

// clean keeps control characters of a sheet's text away from a terminal.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' || r == '\r' {
			return ' '
		}
		if r < 0x20 || (r >= 0x7f && r < 0xa0) {
			return -1
		}
		return r
	}, s)
}

// Wrap breaks s at blanks into lines of at most width runes; a longer word
// stands on a line of its own. Width under 1 is one line.
func Wrap(s string, width int) []string {
	if width < 1 || utf8.RuneCountInString(s) <= width {
		return []string{s}
	}
	return gather(strings.Fields(s), " ", width)
}
