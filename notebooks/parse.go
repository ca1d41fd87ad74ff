package notebooks

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"lastroom/analysis/nearest"

	"github.com/yuin/goldmark/ast"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
)

// Limits of a notebook, far above what a person writes: a Markdown parser's work
// grows faster than its text, and a table's rows are filled up to its head.
const (
	MaxSource    = 64 << 10 // bytes
	maxMarks     = 200      // column marks in a line of prose
	deepestQuote = 20       // of quotes and lists in each other
	maxParts     = 300      // cells, headings and pieces of prose
)

// Parse reads a notebook. Its findings must be of analyses in the catalogue.
// Every error is an *Error that names the line.
func Parse(name string, src []byte, cat Catalogue) (*Notebook, error) {
	n := &Notebook{Name: name, Source: src}
	if len(src) > MaxSource {
		return nil, &Error{File: n.File(), Why: fmt.Sprintf("the file is larger than %d bytes", MaxSource)}
	}
	if i := firstBad(src); i >= 0 {
		return nil, &Error{File: n.File(), Line: 1 + bytes.Count(src[:i], []byte("\n")), Why: "the text is not UTF-8, or holds a character no text has", Do: "save it as UTF-8"}
	}
	src = bytes.ReplaceAll(src, []byte("\r\n"), []byte("\n"))
	head, body, skip, ok := splitFront(src)
	if !ok {
		return nil, &Error{File: n.File(), Line: 1, Why: "the notebook has no front matter", Do: "start with a line ---, then title: …, then a line ---"}
	}
	if err := n.readFront(head); err != nil {
		return nil, err
	}
	if line, why := tooMuch(body); why != "" {
		return nil, &Error{File: n.File(), Line: skip + line, Why: why}
	}
	p := reader{n: n, src: body, skip: skip, cat: cat}
	if err := p.parts(); err != nil {
		return nil, err
	}
	if len(n.Parts) > maxParts {
		return nil, &Error{File: n.File(), Why: fmt.Sprintf("the notebook has more than %d cells, headings and pieces of prose", maxParts), Do: "make two of it"}
	}
	return n, n.checkLinks()
}

// tooMuch finds a line that no person writes, without parsing it; "" where there
// is none. Code between fences is left alone, but for its quotes in front.
func tooMuch(body []byte) (line int, why string) {
	fenced := false
	for row := range bytes.Lines(body) {
		line++
		if bytes.HasPrefix(row, []byte("```")) {
			fenced = !fenced
		}
		if !fenced && bytes.Count(row, []byte("|")) > maxMarks {
			return line, fmt.Sprintf("a table has more than %d column marks in a line", maxMarks)
		}
		inner := 0
		for marks := bytes.Fields(bytes.ReplaceAll(row[:min(len(row), 1000)], []byte(">"), []byte("> "))); inner < len(marks) && isBlockMark(marks[inner]); {
			inner++
		}
		if inner > deepestQuote {
			return line, "quotes and lists stand in each other too deep"
		}
	}
	return 0, ""
}

// isBlockMark reports whether a word begins a quote or an item of a list.
func isBlockMark(word []byte) bool {
	return len(word) == 1 && bytes.ContainsAny(word, ">-*+") || len(word) > 1 && len(bytes.Trim(word, "0123456789")) == 1 && bytes.ContainsAny(word[len(word)-1:], ".)")
}

// firstBad is the place of the first byte that is no text: invalid UTF-8, NUL,
// or a private-use character that marks links inside.
func firstBad(src []byte) int {
	for i := 0; i < len(src); {
		r, size := utf8.DecodeRune(src[i:])
		if r == utf8.RuneError && size == 1 || r == 0 || r == markOpen || r == markShut {
			return i
		}
		i += size
	}
	return -1
}

// A reader walks the top level of a notebook's body.
type reader struct {
	n    *Notebook
	src  []byte
	skip int // lines before src
	cat  Catalogue
}

func (p *reader) parts() error {
	var prose []ast.Node
	flush := func() {
		if len(prose) > 0 {
			p.add(Part{Prose: p.prose(prose...)})
			prose = nil
		}
	}
	root := markdown.Parser().Parse(text.NewReader(p.src))
	for node := root.FirstChild(); node != nil; node = node.NextSibling() {
		if fence, ok := node.(*ast.FencedCodeBlock); ok {
			cell, err := p.cell(fence)
			if err != nil {
				return err
			}
			if cell != nil {
				flush()
				p.n.Cells = append(p.n.Cells, cell)
				p.add(Part{Cell: cell})
				continue
			}
		}
		switch h, isHeading := node.(*ast.Heading); {
		case isHeading && h.Level <= 2:
			flush()
			p.add(Part{Heading: p.prose(node)})
		case node.Kind() == ast.KindThematicBreak:
			flush()
			p.add(Part{NewSheet: true})
		default:
			prose = append(prose, node)
		}
	}
	flush()
	return nil
}

func (p *reader) add(part Part) { p.n.Parts = append(p.n.Parts, part) }

// cell reads a fenced block as a cell; nil where it is plain code.
func (p *reader) cell(fence *ast.FencedCodeBlock) (*Cell, error) {
	if fence.Info == nil {
		return nil, nil
	}
	info := strings.TrimSpace(string(fence.Info.Segment.Value(p.src)))
	word, rest, _ := strings.Cut(info, " ")
	c := &Cell{Kind: Kind(word), Line: p.lineAt(fence.Info.Segment.Start)}
	bad := func(why, do string) error {
		return &Error{File: p.n.File(), Line: c.Line, Cell: c.Name, Why: why, Do: do}
	}
	keys, ok := kinds[c.Kind]
	if !ok {
		if strings.Contains(rest, "=") {
			return nil, bad(fmt.Sprintf("there is no kind of cell %q", word), nearest.Meant(word, kindNames()))
		}
		return nil, nil
	}
	attrs, err := readKeys(rest)
	if err != nil {
		return nil, bad(err.Error(), "")
	}
	c.Keys = attrs
	c.Name = attrs["name"]
	delete(attrs, "name")
	if c.Name == "" {
		c.Name = fmt.Sprintf("%s_%d", c.Kind, len(p.n.Cells)+1)
	}
	if !plainName.MatchString(c.Name) {
		return nil, bad("that is no name for a cell", "use small letters, digits and _")
	}
	if err := p.free(c.Name); err != nil {
		return nil, bad(err.Error(), "")
	}
	if err := p.keysKnown(c, keys, bad); err != nil {
		return nil, err
	}
	if err := p.dollarsKnown(attrs); err != nil {
		return nil, bad(err.Error(), "")
	}
	lines := fence.Lines()
	for i := range lines.Len() {
		seg := lines.At(i)
		c.Body += string(seg.Value(p.src))
	}
	if err := p.uses(c); err != nil {
		return nil, bad(err.Error(), "")
	}
	return c, nil
}

// keysKnown checks that a cell has only the keys of its kind and, where it is a
// finding, of its analysis.
func (p *reader) keysKnown(c *Cell, keys []string, bad func(why, do string) error) error {
	if c.Kind == Finding {
		of, ok := p.cat[c.Keys["of"]]
		if !ok {
			return bad(fmt.Sprintf("there is no analysis %q", c.Keys["of"]), nearest.Meant(c.Keys["of"], slices.Sorted(maps.Keys(p.cat))))
		}
		keys = append(keys[:len(keys):len(keys)], of.keyNames()...)
	}
	for _, k := range slices.Sorted(maps.Keys(c.Keys)) {
		if !slices.Contains(keys, k) {
			return bad(fmt.Sprintf("a %s cell knows no %q", c.Kind, k), nearest.Meant(k, keys))
		}
	}
	return nil
}

// free checks that a name is not taken by a cell or a parameter.
func (p *reader) free(name string) error {
	if _, taken := p.n.cell(name); taken {
		return fmt.Errorf("two cells are called %q", name)
	}
	for _, q := range p.n.Params {
		if q.Name == name {
			return fmt.Errorf("a parameter is called %q too", name)
		}
	}
	if name == "as_of" {
		return errors.New("as_of is the day of the extract; take another name")
	}
	return nil
}

// dollarsKnown checks that each $name among the keys is a parameter.
func (p *reader) dollarsKnown(attrs map[string]string) error {
	for _, k := range slices.Sorted(maps.Keys(attrs)) {
		if name, ok := strings.CutPrefix(attrs[k], "$"); ok {
			if !slices.Contains(p.n.dollars(), name) {
				return fmt.Errorf("%s=$%s: no parameter is called %q; %s", k, name, name, nearest.Meant(name, p.n.dollars()))
			}
		}
	}
	return nil
}

// dollars are the names that may stand behind a dollar sign.
func (n *Notebook) dollars() []string {
	names := []string{"as_of"}
	for _, q := range n.Params {
		names = append(names, q.Name)
	}
	return names
}

// uses notes the earlier cells a cell names, and checks what each kind needs.
func (p *reader) uses(c *Cell) error {
	earlier := make([]string, len(p.n.Cells))
	for i, e := range p.n.Cells {
		earlier[i] = e.Name
	}
	for _, key := range []string{"from", "with"} {
		for _, name := range strings.FieldsFunc(c.Keys[key], func(r rune) bool { return r == ',' }) {
			if !slices.Contains(earlier, name) {
				return fmt.Errorf("%s=%s: no earlier cell is called %q; %s", key, c.Keys[key], name, nearest.Meant(name, earlier))
			}
			c.Uses = append(c.Uses, name)
		}
	}
	blank := strings.TrimSpace(c.Body) == ""
	switch {
	case c.Kind == SQL && blank:
		return errors.New("the query is empty")
	case c.Kind != SQL && !blank:
		return fmt.Errorf("a %s cell has nothing between its fences", c.Kind)
	case c.Kind == SQL:
		return p.parametersKnown(c)
	case (c.Kind == Figure || c.Kind == Show) && len(c.Uses) != 1:
		return fmt.Errorf("a %s cell needs from=, the name of one earlier cell", c.Kind)
	case c.Kind == Show && c.Keys["part"] != "":
		return p.partKnown(c)
	}
	return nil
}

// partKnown checks that the part a cell shows is one of its finding's.
func (p *reader) partKnown(c *Cell) error {
	from, _ := p.n.cell(c.Uses[0])
	part := c.Keys["part"]
	if from.Kind != Finding {
		return fmt.Errorf("part=%s: cell %q is no finding; only a finding has parts", part, from.Name)
	}
	if parts := p.cat[from.Keys["of"]].Parts; !slices.Contains(parts, part) {
		return fmt.Errorf("part=%s: a finding of %s has no such part; %s", part, from.Keys["of"], nearest.Meant(part, parts))
	}
	return nil
}

// parametersKnown checks that each $name in a query is a parameter.
func (p *reader) parametersKnown(c *Cell) error {
	known := p.n.dollars()
	for _, d := range SQLParameters(c.Body) {
		if !slices.Contains(known, d) {
			return fmt.Errorf("no parameter is called %q; %s", d, nearest.Meant(d, known))
		}
	}
	return nil
}

// lineAt is the line in the file of a place in the body.
func (p *reader) lineAt(at int) int {
	return p.skip + 1 + bytes.Count(p.src[:min(at, len(p.src))], []byte("\n"))
}

// lineOf is the line in the file where a node starts.
func (p *reader) lineOf(node ast.Node) int {
	for n := node; n != nil; n = n.FirstChild() {
		if n.Type() == ast.TypeBlock && n.Lines().Len() > 0 {
			return p.lineAt(n.Lines().At(0).Start)
		}
		if t, ok := n.(*ast.Text); ok {
			return p.lineAt(t.Segment.Start)
		}
		if n.Kind() == extast.KindTableCell && n.Lines().Len() > 0 {
			return p.lineAt(n.Lines().At(0).Start)
		}
	}
	return p.skip + 1
}

func kindNames() []string {
	var names []string
	for k := range kinds {
		names = append(names, string(k))
	}
	slices.Sort(names)
	return names
}
