package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed style.css
var style string

//go:embed page.tmpl
var pageText string

// Style is the style sheet of every page of the tool. It asks for nothing: no
// font, no picture, no other sheet.
func Style() string { return style }

// A Link gives the address that opens what a Ref points at, or "" for none.
type Link func(Ref) string

// Policy locks a self-contained file: no request, no script, and of styles only this
// one, by its hash.
func Policy(css string) string {
	sum := sha256.Sum256([]byte(css))
	return "default-src 'none'; base-uri 'none'; form-action 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// HTML writes the document as one self-contained file: no script, no request,
// the style inside, locked by a content security policy that names its hash.
func HTML(w io.Writer, d *Document) error {
	css := style + footer(d)
	v := fileView{
		docView: viewOf(d, nil),
		Style:   template.CSS(css),
		Policy:  Policy(css),
	}
	return render(w, "file", v)
}

// BodyHTML writes what stands between the body tags of HTML: the document for
// a page of the service, which brings its own head and style. With a Link,
// counts and ids open what stands behind them.
func BodyHTML(w io.Writer, d *Document, link Link) error {
	return render(w, "body", viewOf(d, link))
}

// BlockHTML writes one block alone.
func BlockHTML(w io.Writer, b Block, link Link) error {
	return render(w, "block", blockView{Block: b, link: link})
}

func render(w io.Writer, name string, v any) error { return Fill(w, pages.Lookup(name), v) }

// Fill writes a template with what it shows. It fills a buffer first, so that a page
// that fails is never sent half.
func Fill(w io.Writer, t *template.Template, v any) error {
	var buf bytes.Buffer
	if err := t.Execute(&buf, v); err != nil {
		return err
	}
	_, err := w.Write(buf.Bytes())
	return err
}

// footer is the style of what stands at the foot of each sheet.
func footer(d *Document) string {
	return "\n@page{@bottom-left{content:" + CSSString(cmp.Or(d.Foot, FootOf(d, strings.Clone))) + "}}\n"
}

// FootOf is a document's title and where it comes from, each as say says it; its parameters
// stand in the document.
func FootOf(d *Document, say func(string) string) string {
	p := d.Provenance
	p.Parameters = nil
	return strings.TrimSuffix(say(d.Title)+" · "+say(p.Line()), " · ")
}

// CSSString quotes s for a style sheet; what could end the string or the
// element is written as an escape.
func CSSString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range clean(s) {
		switch r {
		case '"', '\\', '<', '>', '&', '\'':
			fmt.Fprintf(&b, `\%02x `, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
