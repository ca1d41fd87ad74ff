package letter

import (
	_ "embed"
	"html/template"
	"io"
	"strings"

	"lastroom/reports/page"
)

var (
	//go:embed letter.tmpl
	pageText string
	//go:embed letter.css
	style string

	sheet = template.Must(template.New("letter").Parse(pageText))
)

// HTML writes the letter as one file that asks for nothing: one page of A4 or
// Letter, large type. Many rows are set closer.
func (l *Letter) HTML(w io.Writer) error {
	v := struct {
		*Letter
		Columns []string
		Lines   []line
		Size    string
		Style   template.CSS
		Policy  string
	}{Letter: l, Style: template.CSS(style),
		Policy: page.Policy(style)}
	v.Columns, v.Lines = l.lines()
	v.Size = sizeOf(len(v.Lines)+2*len(l.Answers), len(l.How))
	return page.Fill(w, sheet, v)
}

// sizeOf is how close the letter is set, so that it stays on one page.
func sizeOf(rows, how int) string {
	switch n := 2*rows + 3*how; {
	case n > 60:
		return "dense"
	case n > 38:
		return "tight"
	case n > 30:
		return "close"
	}
	return "roomy"
}

// A line is a row of the printed table: a place with its boxes.
type line struct {
	Where string
	Boxes []bool // asked for or not
}

// lines puts what is taken bare and over trousers at one place on one line.
func (l *Letter) lines() (columns []string, out []line) {
	n, at := 2, map[string]int{}
	for _, r := range l.Rows {
		if r.tucked {
			n = 4
		}
	}
	for _, r := range l.Rows {
		i, ok := at[r.bare]
		if !ok {
			i = len(out)
			at[r.bare] = i
			out = append(out, line{r.bare, make([]bool, n)})
		}
		from := 0
		if r.tucked {
			from = 2
		}
		out[i].Boxes[from], out[i].Boxes[from+1] = r.Left, r.Right
	}
	return l.Head[:1+n], out
}

const (
	textWidth = 72
	blank     = "________"
)

// Text writes the letter as plain text, fit for e-mail.
func (l *Letter) Text(w io.Writer) error {
	var b strings.Builder
	b.WriteString(strings.ToUpper(l.Title) + "\n\n" + l.For + " " + strings.Repeat("_", 40) + "\n\n")
	for _, p := range l.Intro {
		b.WriteString(wrap(p, "", "") + "\n")
	}
	if len(l.Answers) > 0 {
		b.WriteString(strings.ToUpper(l.AnswerTitle) + "\n\n")
		for _, s := range l.Answers {
			b.WriteString(wrap(s, "  - ", "    ") + "    " + strings.Repeat("_", textWidth-4) + "\n\n")
		}
	}
	if l.Take != "" {
		b.WriteString(strings.ToUpper(l.Take) + "\n\n")
	}
	if l.Tracing != "" {
		b.WriteString(wrap(l.Tracing, "  ", "  ") + "\n")
	}
	if len(l.Rows) > 0 {
		b.WriteString(l.table() + "\n" + wrap(l.Unit, "  ", "  ") + "\n")
	}
	for _, list := range []struct {
		title string
		items []string
	}{{l.HowTitle, l.How}, {l.CautionsTitle, l.Cautions}} {
		if len(list.items) == 0 {
			continue
		}
		b.WriteString(strings.ToUpper(list.title) + "\n\n")
		for _, s := range list.items {
			b.WriteString(wrap(s, "  - ", "    "))
		}
		b.WriteString("\n")
	}
	b.WriteString(l.Measured[0] + " ______________  " + l.Measured[1] + " ____________________\n\n")
	b.WriteString(wrap(l.Back, "", ""))
	_, err := io.WriteString(w, b.String())
	return err
}

func (l *Letter) table() string {
	wide := len([]rune(l.Head[0]))
	for _, r := range l.Rows {
		wide = max(wide, len([]rune(r.Where)))
	}
	line := func(a, b, c string) string {
		return strings.TrimRight("  "+pad(a, wide)+"   "+pad(b, len(blank))+"   "+c, " ") + "\n"
	}
	out := line(l.Head[0], l.Head[1], l.Head[2])
	cell := func(asked bool) string {
		if asked {
			return blank
		}
		return l.None
	}
	for _, r := range l.Rows {
		out += "\n" + line(r.Where, cell(r.Left), cell(r.Right))
	}
	return out
}

func pad(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-len([]rune(s))))
}

// wrap breaks a paragraph into lines; first stands before the first line, rest,
// as long, before the others.
func wrap(s, first, rest string) string {
	lines := page.Wrap(strings.Join(strings.Fields(s), " "), textWidth-len(rest))
	return first + strings.Join(lines, "\n"+rest) + "\n"
}

// Document is the letter for the pages of the service.
func (l *Letter) Document() *page.Document {
	d := &page.Document{Title: l.Title, Lead: l.For + " " + strings.Repeat("_", 30)}
	take := page.Section{ID: "take", Title: l.Take}
	if l.Tracing != "" {
		take.Blocks = append(take.Blocks, page.Prose{l.Tracing})
	}
	if len(l.Rows) > 0 {
		t := page.Table{ID: "places", Caption: l.Take, Columns: []page.Column{{Key: "where", Title: l.Head[0]}, {Key: "left", Title: l.Head[1]}, {Key: "right", Title: l.Head[2]}}}
		cell := func(asked bool) page.Cell {
			if asked {
				return page.Text(blank)
			}
			return page.Text(l.None)
		}
		for _, r := range l.Rows {
			t.Rows = append(t.Rows, []page.Cell{page.Text(r.Where), cell(r.Left), cell(r.Right)})
		}
		take.Blocks = append(take.Blocks, t, page.Prose{l.Unit})
	}
	d.Sections = []page.Section{{ID: "intro", Blocks: []page.Block{page.Prose(l.Intro)}}}
	if len(l.Answers) > 0 {
		answers := page.Section{ID: "answers", Title: l.AnswerTitle}
		for _, s := range l.Answers {
			answers.Blocks = append(answers.Blocks, page.Prose{s, strings.Repeat("_", 60)})
		}
		d.Sections = append(d.Sections, answers)
	}
	if len(take.Blocks) > 0 {
		d.Sections = append(d.Sections, take)
	}
	if len(l.How) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "how", Title: l.HowTitle, Blocks: []page.Block{page.Prose(l.How)}})
	}
	d.Sections = append(d.Sections, page.Section{ID: "cautions", Title: l.CautionsTitle, Blocks: []page.Block{page.Prose(l.Cautions)}})
	d.Sections = append(d.Sections, page.Section{ID: "back", Blocks: []page.Block{page.Prose{l.Measured[0] + " ______________  " + l.Measured[1] + " ____________________", l.Back}}})
	return d
}
