package svg

import (
	"bytes"
	"fmt"
	"html"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"lastroom/reports/page"
)

// Widths of the two drawings of each figure: for a page and for a phone.
const (
	wideWidth   = 720
	narrowWidth = 350
)

// Narrow tells whether a drawing of the width w is the one for a phone.
func Narrow(w vg.Length) bool { return w < 500 }

// A Plan is a figure before it is drawn: what it says, and how to draw it at
// any width. From top to bottom stand the heading, the legend, what Draw draws
// within Height, and the foot.
type Plan struct {
	ID, Title, Desc string
	Data            page.Table
	Heading         string // what the vertical scale shows
	Keys            []Key
	Foot            string
	Height          func(w vg.Length) vg.Length
	Draw            func(c draw.Canvas)
}

// Figure draws the plan at both widths.
func (p Plan) Figure() page.Figure {
	if p.Data.ID == "" {
		p.Data.ID = p.ID + "-data"
	}
	if p.Data.Caption == "" {
		p.Data.Caption = p.Title
	}
	return page.Figure{
		ID: p.ID, Title: p.Title, Desc: p.Desc, Data: p.Data,
		SVG: p.svg(wideWidth, "wide"), Narrow: p.svg(narrowWidth, "narrow"),
	}
}

func (p Plan) svg(w vg.Length, suffix string) []byte {
	const textLine, gap = vg.Length(20), vg.Length(6)
	top := legendHeight(p.Keys, w)
	if p.Heading != "" {
		top += textLine
	}
	bottom := vg.Length(0)
	if p.Foot != "" {
		bottom = textLine
	}
	h := top + gap + p.Height(w) + bottom
	sheet := &paper{Canvas: vgsvg.New(w, h)}
	c := draw.New(sheet)
	y := h
	if p.Heading != "" {
		c.FillText(Lettering(Small, Soft, AlignLeft, alignTop), vg.Point{Y: y - 2}, Fit(p.Heading, Small, w))
		y -= textLine
	}
	drawLegend(draw.Crop(c, 0, 0, 0, y-h), p.Keys)
	p.Draw(draw.Crop(c, 0, 0, bottom, -top-gap))
	if p.Foot != "" {
		c.FillText(Lettering(Small, Soft, AlignLeft, alignBottom), vg.Point{Y: 4}, Fit(p.Foot, Small, w))
	}
	var raw bytes.Buffer
	_, _ = sheet.WriteTo(&raw) // a buffer takes all
	return p.accessible(raw.Bytes(), sheet.hung, w, h, suffix)
}

// A paper is what a figure is drawn on. It notes for each text where it hangs: vgsvg writes
// all as if they hung by their left ends, and then a longer text, as in another language,
// would run over its right neighbour wherever it belongs.
type paper struct {
	*vgsvg.Canvas
	hangs draw.XAlignment // the text that is being drawn
	hung  []draw.XAlignment
}

// FillString draws a line of text where it hangs, not where it begins.
func (p *paper) FillString(f font.Face, at vg.Point, s string) {
	at.X -= vg.Length(p.hangs) * f.Width(s)
	p.hung = append(p.hung, p.hangs)
	p.Canvas.FillString(f, at, s)
}

// A hand writes a text and tells the paper where it hangs.
type hand struct{ text.Handler }

func (h hand) Draw(c vg.Canvas, s string, sty text.Style, at vg.Point) {
	sheet := c
	for {
		switch inner := sheet.(type) {
		case *draw.Canvas:
			sheet = inner.Canvas
			continue
		case draw.Canvas:
			sheet = inner.Canvas
			continue
		case *paper:
			inner.hangs = sty.XAlign
		}
		break
	}
	h.Handler.Draw(c, s, sty, at)
}

// Nothing is the plan of a figure that has nothing to draw, and says why.
func Nothing(id, title, why string, data page.Table) Plan {
	lines := func(w vg.Length) []string { return broken(why, Normal, w-28, 6) }
	return Plan{
		ID: id, Title: title, Desc: why, Data: data,
		Height: func(w vg.Length) vg.Length { return 30 + 16*vg.Length(len(lines(w))) },
		Draw: func(c draw.Canvas) {
			c.SetColor(Wash)
			c.Fill(c.Rectangle.Path())
			c.FillText(Lettering(Normal, Soft, AlignLeft, AlignMiddle), vg.Point{X: c.Min.X + 14, Y: c.Center().Y}, strings.Join(lines(c.Max.X-c.Min.X), "\n"))
		},
	}
}

// accessible makes of the SVG that vgsvg writes one that a page can hold: no
// prologue and no fixed size; role, title and description; instead of inline
// styles, which a strict content policy forbids, each colour as a class, which
// a style sheet can answer so that dark mode works, and as a plain attribute,
// so that the figure stands alone. Text carries its length and where it hangs, so
// that another font of the reader's does not cut or overlap it.
func (p Plan) accessible(raw []byte, hung []draw.XAlignment, w, h vg.Length, suffix string) []byte {
	_, body, _ := strings.Cut(string(raw), "<svg")
	_, body, _ = strings.Cut(body, ">")
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(body, `style="`)
		b.WriteString(strings.TrimSpace(before))
		if !found {
			break
		}
		style, rest, _ := strings.Cut(rest, `"`)
		d := declarations(style)
		if size := strings.TrimSuffix(d["font-size"], "px"); size != "" {
			words, _, _ := strings.Cut(strings.TrimPrefix(rest, ">"), "<")
			fmt.Fprintf(&b, ` font-size="%s" textLength="%.5g" lengthAdjust="spacingAndGlyphs"`, size, Length(html.UnescapeString(words), size, d["font-weight"]))
			b.WriteString(anchors[hung[0]])
			hung = hung[1:]
			if d["font-weight"] == "bold" {
				b.WriteString(` font-weight="600"`)
			}
		}
		b.WriteString(paint("fill", d["fill"]) + paint("stroke", d["stroke"]))
		for _, k := range []string{"stroke-width", "stroke-dasharray"} {
			if v := d[k]; v != "" {
				fmt.Fprintf(&b, ` %s="%s"`, k, v)
			}
		}
		body = rest
	}
	id := html.EscapeString(p.ID + "-" + suffix)
	return fmt.Appendf(nil, `<svg xmlns="http://www.w3.org/2000/svg" class="fig" role="img" preserveAspectRatio="xMinYMin" viewBox="0 0 %g %g" font-family="Liberation Sans, Arial, Helvetica, sans-serif" aria-labelledby="%s-title %s-desc">
<title id="%s-title">%s</title>
<desc id="%s-desc">%s</desc>
%s`, w.Points(), h.Points(), id, id, id, html.EscapeString(p.Title), id, html.EscapeString(p.Desc), b.String())
}

var anchors = map[draw.XAlignment]string{AlignCentre: ` text-anchor="middle"`, AlignRight: ` text-anchor="end"`}

// Length is how long words are in a figure, in its points, at a font size as it stands in the
// figure; weight is bold, or anything else.
func Length(words, size, weight string) float64 {
	points, _ := strconv.ParseFloat(size, 64)
	sty := Lettering(vg.Length(points), Ink, AlignLeft, alignTop)
	if weight == "bold" {
		sty = Bold(sty)
	}
	return max(sty.Width(words).Points(), 0.1)
}

func declarations(style string) map[string]string {
	out := map[string]string{}
	for _, d := range strings.Split(style, ";") {
		if k, v, ok := strings.Cut(d, ":"); ok {
			out[k] = v
		}
	}
	return out
}

// paint writes a fill or stroke as class and attribute.
func paint(what, colour string) string {
	if colour == "" || colour == "none" {
		if what == "fill" && colour == "none" {
			return ` fill="none"`
		}
		return ""
	}
	colour = strings.ToLower(colour)
	for _, t := range tones {
		if t.plain == colour {
			return fmt.Sprintf(` class="%c-%s" %s="%s"`, what[0], t.name, what, colour)
		}
	}
	return fmt.Sprintf(` %s="%s"`, what, colour)
}
