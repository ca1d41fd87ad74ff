package notebooks

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/nearest"

	"github.com/microcosm-cc/bluemonday"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/util"
)

// Prose is text between cells. Its value and claim links are filled in when
// the cells have run.
type Prose struct {
	Links []Link
	nodes []ast.Node
	src   []byte
}

// A Link asks for a value or makes a claim. In CommonMark it is a link whose
// destination starts with value: or claim:
//
//	[8 in 100](value:marks.rate_with)
//	[Missing marks go with more remakes](claim:marks.risk_ratio "above 1")
type Link struct {
	Line   int
	Claim  bool
	Target string // behind the scheme: cell.value, or a parameter
	Test   string // the link's title
	Text   string // the words between the brackets
}

// markdown is CommonMark with GFM tables; raw HTML is left out by the renderer.
var markdown = goldmark.New(
	goldmark.WithExtensions(extension.Table),
	goldmark.WithRendererOptions(renderer.WithNodeRenderers(util.Prioritized(linkRenderer{}, 1))),
)

// Two private-use characters stand around the number of a link while prose is
// rendered and sanitised; Parse refuses text that holds them.
const (
	markOpen = '\ue000'
	markShut = '\ue001'
)

var marked = regexp.MustCompile(string(markOpen) + `(\d+)` + string(markShut))

// prose takes nodes as one piece of prose, and lists their links.
func (p *reader) prose(nodes ...ast.Node) *Prose {
	pr := &Prose{nodes: nodes, src: p.src}
	line := p.skip + 1
	for _, n := range nodes {
		line = p.lineOf(n)
		_ = ast.Walk(n, func(n ast.Node, enter bool) (ast.WalkStatus, error) {
			if t, ok := n.(*ast.Text); ok && enter {
				line = p.lineAt(t.Segment.Start)
			}
			l, ok := n.(*ast.Link)
			if !ok || !enter {
				return ast.WalkContinue, nil
			}
			scheme, target, _ := strings.Cut(string(l.Destination), ":")
			if scheme != "value" && scheme != "claim" {
				return ast.WalkContinue, nil
			}
			if t := firstText(l); t != nil {
				line = p.lineAt(t.Segment.Start)
			}
			pr.Links = append(pr.Links, Link{line, scheme == "claim", target, string(l.Title), plain(l, p.src)})
			l.SetAttributeString("lastroom", len(pr.Links)-1)
			return ast.WalkSkipChildren, nil
		})
	}
	return pr
}

func firstText(n ast.Node) *ast.Text {
	for c := n.FirstChild(); c != nil; c = c.FirstChild() {
		if t, ok := c.(*ast.Text); ok {
			return t
		}
	}
	return nil
}

// checkLinks checks that every link names a parameter or a cell, and that the
// test of a claim can be read.
func (n *Notebook) checkLinks() error {
	known := n.dollars()
	for _, c := range n.Cells {
		known = append(known, c.Name)
	}
	for _, part := range n.Parts {
		for _, pr := range []*Prose{part.Prose, part.Heading} {
			if pr == nil {
				continue
			}
			for _, l := range pr.Links {
				first, _, _ := strings.Cut(l.Target, ".")
				bad := func(why, do string) error { return &Error{File: n.File(), Line: l.Line, Why: why, Do: do} }
				if !slices.Contains(known, first) {
					return bad(fmt.Sprintf("%q names no parameter and no cell", l.Target), nearest.Meant(first, known))
				}
				if !l.Claim && l.Test != "" && !slices.Contains(valueForms, l.Test) {
					return bad(fmt.Sprintf("a value can't be shown as %q", l.Test), nearest.Meant(l.Test, valueForms))
				}
				if l.Claim {
					if _, err := parseTest(l.Test); err != nil {
						return bad(fmt.Sprintf("the claim %q: %v", l.Text, err), "")
					}
				}
			}
		}
	}
	return nil
}

// linkRenderer writes a marker for value and claim links, and an ordinary link
// only where it leads to a page of the book's own service or the web.
type linkRenderer struct{}

func (linkRenderer) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(ast.KindLink, func(w util.BufWriter, src []byte, n ast.Node, enter bool) (ast.WalkStatus, error) {
		if no, ok := n.AttributeString("lastroom"); ok {
			if enter {
				fmt.Fprintf(w, "%c%d%c", markOpen, no.(int), markShut)
			}
			return ast.WalkSkipChildren, nil
		}
		l := n.(*ast.Link)
		if enter {
			fmt.Fprintf(w, `<a href="%s">`, html.EscapeString(string(l.Destination)))
		} else {
			_, _ = w.WriteString("</a>")
		}
		return ast.WalkContinue, nil
	})
}

// policy is what prose may hold after sanitising. No image: a page makes no
// request. Links lead to other pages only when clicked.
var policy = func() *bluemonday.Policy {
	p := bluemonday.NewPolicy()
	p.AllowElements("p", "br", "hr", "h3", "h4", "h5", "h6", "em", "strong", "code", "pre", "blockquote",
		"ul", "ol", "li", "table", "thead", "tbody", "tr", "th", "td")
	p.AllowAttrs("start").Matching(bluemonday.Integer).OnElements("ol")
	p.AllowAttrs("href").OnElements("a")
	p.AllowURLSchemes("https", "mailto")
	p.AllowRelativeURLs(true)
	p.RequireNoReferrerOnLinks(true)
	return p
}()

// Filled is what a link has become.
type Filled struct {
	HTML []byte // made by code that escapes
	Text string
}

// HTML renders the prose with its links filled in: first sanitised, then the
// links put in.
func (pr *Prose) HTML(fill []Filled) []byte {
	var b bytes.Buffer
	for _, n := range pr.nodes {
		if err := markdown.Renderer().Render(&b, pr.src, n); err != nil {
			return []byte(html.EscapeString(err.Error())) // a bytes.Buffer takes every write
		}
	}
	clean := policy.SanitizeBytes(b.Bytes())
	// A long line of code scrolls; the keyboard has to reach it.
	clean = bytes.ReplaceAll(clean, []byte("<pre>"), []byte(`<pre tabindex="0">`))
	return marked.ReplaceAllFunc(clean, func(m []byte) []byte {
		no, _ := strconv.Atoi(string(marked.FindSubmatch(m)[1]))
		return fill[no].HTML
	})
}

// Text is the prose without markup, one paragraph an entry.
func (pr *Prose) Text(fill []Filled) []string {
	var out []string
	var walk func(n ast.Node, prefix string)
	walk = func(n ast.Node, prefix string) {
		switch n.Kind() {
		case ast.KindListItem:
			prefix += "- "
		case extast.KindTableRow, extast.KindTableHeader:
			var cells []string
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				cells = append(cells, plain(c, pr.src))
			}
			out = append(out, prefix+strings.Join(cells, " | "))
			return
		case ast.KindFencedCodeBlock, ast.KindCodeBlock:
			out = append(out, prefix+string(bytes.TrimRight(n.Lines().Value(pr.src), "\n")))
			return
		case ast.KindHTMLBlock, ast.KindThematicBreak:
			return
		case ast.KindParagraph, ast.KindTextBlock, ast.KindHeading:
			out = append(out, prefix+plain(n, pr.src))
			return
		}
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			walk(c, prefix)
		}
	}
	for _, n := range pr.nodes {
		walk(n, "")
	}
	for i, s := range out {
		out[i] = marked.ReplaceAllStringFunc(s, func(m string) string {
			no, _ := strconv.Atoi(marked.FindStringSubmatch(m)[1])
			return fill[no].Text
		})
	}
	return out
}

// plain is the text of the inline nodes below n, with link markers.
func plain(n ast.Node, src []byte) string {
	var b strings.Builder
	_ = ast.Walk(n, func(c ast.Node, enter bool) (ast.WalkStatus, error) {
		if !enter {
			return ast.WalkContinue, nil
		}
		if no, ok := c.AttributeString("lastroom"); ok {
			fmt.Fprintf(&b, "%c%d%c", markOpen, no.(int), markShut)
			return ast.WalkSkipChildren, nil
		}
		switch t := c.(type) {
		case *ast.Text:
			b.Write(t.Segment.Value(src))
			if t.SoftLineBreak() || t.HardLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.String:
			b.Write(t.Value)
		case *ast.AutoLink:
			b.Write(t.Label(src))
		case *ast.RawHTML:
			return ast.WalkSkipChildren, nil
		}
		return ast.WalkContinue, nil
	})
	return html.UnescapeString(b.String())
}
