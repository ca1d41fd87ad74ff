package execution

import (
	"fmt"
	"html"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// compose puts the document together: prose with its links filled in, and the
// blocks of each cell in its place.
func (r *Run) compose(version string) {
	n := r.Notebook
	d := &page.Document{Title: r.title(), Provenance: page.Provenance{AsOf: r.Facts.AsOf, BookHash: r.Facts.Hash, Version: version}}
	d.Provenance.Parameters = append(d.Provenance.Parameters, [2]string{"notebook", n.Name + " " + n.Digest()[:12]})
	for i, name := range r.Binding.Names {
		d.Provenance.Parameters = append(d.Provenance.Parameters, [2]string{name, r.Binding.Words[i]})
	}
	c := composer{run: r, doc: d, failed: r.failedCells(), values: r.allValues(), ids: map[string]bool{}, hollow: map[string]bool{}}
	if breaks(n) {
		c.sheet = 1
	}
	c.section("", "")
	for _, part := range n.Parts {
		c.part(part)
	}
	d.Sections = c.nonEmpty()
	c.news()
	c.finish()
	r.Doc = d
	r.Tables = c.tables
}

// title is the notebook's title with its parameters filled in; a month is
// written out.
func (r *Run) title() string {
	t := r.Notebook.Title
	for i, name := range r.Binding.Names {
		word := r.Binding.Words[i]
		if r.Notebook.Params[i].Type == "month" {
			word = r.Binding.Args[name].(cohort.Day).Time().Format("January 2006")
		}
		t = strings.ReplaceAll(t, "$"+name, word)
	}
	return t
}

// breaks reports whether a notebook asks for printed sheets.
func breaks(n *notebooks.Notebook) bool {
	for _, p := range n.Parts {
		if p.NewSheet {
			return true
		}
	}
	return false
}

// failedCells says of each cell without a result why.
func (r *Run) failedCells() map[string]string {
	m := map[string]string{}
	for _, c := range r.Cells {
		if c.State != Done {
			m[c.Cell.Name] = stateWords(c.State)
		}
	}
	return m
}

// allValues are the values of the cells and the parameters.
func (r *Run) allValues() values {
	vs := values{"as_of": notebooks.Words("as_of", r.Facts.AsOf.String())}
	maps.Copy(vs, r.Values)
	for i, name := range r.Binding.Names {
		word := r.Binding.Words[i]
		switch x := r.Binding.Args[name].(type) {
		case int64:
			vs[name] = notebooks.Exact(name, word, float64(x), 1)
		case float64:
			vs[name] = notebooks.Exact(name, word, x, 1)
		default:
			vs[name] = notebooks.Words(name, word)
		}
	}
	return vs
}

// A composer walks the parts of a notebook and fills a document.
type composer struct {
	run    *Run
	doc    *page.Document
	sheet  int
	failed map[string]string
	values values
	tables []FullTable
	ids    map[string]bool
	hollow map[string]bool // sections whose cell showed nothing
}

func (c *composer) section(id, title string) {
	c.doc.Sections = append(c.doc.Sections, page.Section{ID: id, Title: title, Sheet: c.sheet})
}

func (c *composer) add(blocks ...page.Block) {
	s := &c.doc.Sections[len(c.doc.Sections)-1]
	s.Blocks = append(s.Blocks, blocks...)
}

func (c *composer) part(p notebooks.Part) {
	switch {
	case p.NewSheet:
		if c.sheet++; c.sheet > 2 {
			c.sheet = 0
		}
		c.section("", "")
	case p.Heading != nil:
		title := strings.Join(p.Heading.Text(c.fill(p.Heading)), " ")
		c.section(c.id("part-"+slug(title)), title)
	case p.Prose != nil:
		fill := c.fill(p.Prose)
		c.add(page.Markup{HTML: p.Prose.HTML(fill), Text: p.Prose.Text(fill)})
	case p.Cell != nil:
		c.cell(p.Cell)
	}
}

// fill is what the links of prose say now; claims are counted in the order met.
func (c *composer) fill(p *notebooks.Prose) []notebooks.Filled {
	filled, claims := c.values.fill(p, c.failed)
	c.run.Claims = append(c.run.Claims, claims...)
	return filled
}

// Fill is what the links of a piece of prose say after the run.
func (r *Run) Fill(p *notebooks.Prose) []notebooks.Filled {
	filled, _ := r.allValues().fill(p, r.failedCells())
	return filled
}

// cell adds what a cell shows, or why it shows nothing.
func (c *composer) cell(cell *notebooks.Cell) {
	got := c.run.Cell(cell.Name)
	switch got.State {
	case Failed:
		c.add(Alert("This part failed. " + got.Err.Error()))
		return
	case NotRun, Stopped:
		c.add(Alert(fmt.Sprintf("Cell %q: %s.", cell.Name, got.Why)))
		return
	}
	for _, t := range got.tables {
		if !c.hasTable(t.ID) {
			c.tables = append(c.tables, t)
		}
	}
	if got.output != nil {
		for _, s := range got.output.Cautions {
			if !slices.Contains(c.doc.Cautions, s) {
				c.doc.Cautions = append(c.doc.Cautions, s)
			}
		}
		if c.doc.Lead == "" {
			c.doc.Lead = got.output.Lead
		}
	}
	if cell.Keys["hide"] == "yes" {
		return
	}
	s := &c.doc.Sections[len(c.doc.Sections)-1]
	s.Beside = s.Beside || cell.Keys["beside"] == "yes"
	c.hollow[s.ID] = len(got.Blocks) == 0
	for _, b := range got.Blocks {
		c.add(c.unique(b))
	}
}

func (c *composer) hasTable(id string) bool {
	for _, t := range c.tables {
		if t.ID == id {
			return true
		}
	}
	return false
}

// unique gives a block that is placed a second time another id.
func (c *composer) unique(b page.Block) page.Block {
	switch b := b.(type) {
	case page.Table:
		b.ID = c.id(b.ID)
		return b
	case page.Figure:
		b.ID = c.id(b.ID)
		if len(b.Data.Columns) > 0 {
			b.Data.ID = c.id(b.Data.ID)
		}
		return b
	case page.Finding:
		b.ID = c.id(b.ID)
		return b
	}
	return b
}

func (c *composer) id(id string) string {
	if id == "" {
		return ""
	}
	for i, want := 2, id; ; i++ {
		if !c.ids[id] {
			c.ids[id] = true
			return id
		}
		id = fmt.Sprintf("%s-%d", want, i)
	}
}

// news puts on top which claims the data do not support.
func (c *composer) news() {
	var lost []string
	for _, k := range c.run.Unsupported() {
		lost = append(lost, fmt.Sprintf("“%s” (line %d): %s", k.Text, k.Line, k.Verdict))
	}
	if len(lost) == 0 {
		return
	}
	f := page.Finding{ID: c.id("claims"), Headline: page.Counted(len(lost), "sentence", "sentences") + " of this notebook " + page.IsAre(len(lost)) + " not supported by these data",
		Detail: lost, Action: "Read the flagged sentences again, and mend the notebook or the decision that rests on them."}
	s := &c.doc.Sections[0]
	s.Blocks = append([]page.Block{f}, s.Blocks...)
}

// finish makes a document whole that has no lead, and says there what an as-of day
// after the newest of the book leaves out.
func (c *composer) finish() {
	if c.doc.Lead == "" && c.run.Notebook.For != "" {
		c.doc.Lead = "For " + c.run.Notebook.For + "."
	}
	c.doc.Lead = strings.TrimSpace(c.doc.Lead + " " + c.run.Facts.Beyond())
}

// Cell is a cell by name; one that is not there was not run.
func (r *Run) Cell(name string) *CellRun {
	for i := range r.Cells {
		if r.Cells[i].Cell.Name == name {
			return &r.Cells[i]
		}
	}
	return &CellRun{State: NotRun, Why: "not run"}
}

// nonEmpty drops sections without blocks that have no title, or whose cell
// showed nothing; but never the first: news may come to stand there.
func (c *composer) nonEmpty() []page.Section {
	out := c.doc.Sections[:1]
	for _, s := range c.doc.Sections[1:] {
		if len(s.Blocks) > 0 || s.Title != "" && !c.hollow[s.ID] {
			out = append(out, s)
		}
	}
	return out
}

// Alert says that something is not as it should be.
func Alert(text string) page.Markup {
	return page.Markup{HTML: []byte("<p><mark>" + html.EscapeString(text) + "</mark></p>"), Text: []string{text}}
}

// slug is a title as an id: small letters and digits, joined by -.
func slug(title string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(title) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String(), "-")
}

// Unrun is the document of a notebook whose cells have not run: its prose with
// the values as they were written.
func Unrun(n *notebooks.Notebook) *Run {
	run := &Run{Notebook: n} // no parameter is bound
	for _, c := range n.Cells {
		run.Cells = append(run.Cells, CellRun{Cell: c, State: NotRun, Why: "not run"})
	}
	run.compose("")
	run.Doc.Provenance = page.Provenance{}
	return run
}
