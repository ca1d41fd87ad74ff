package figure

import (
	"bytes"
	"fmt"
	"html"
	"strconv"
	"strings"

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

func narrow(w vg.Length) bool { return w < 500 }

// A plan is a figure before it is drawn: what it says, and how to draw it at
// any width. From top to bottom stand the heading, the legend, what draw draws
// within height, and the foot.
type plan struct {
	id, title, desc string
	data            page.Table
	heading         string // what the vertical scale shows
	keys            []key
	foot            string
	height          func(w vg.Length) vg.Length
	draw            func(c draw.Canvas)
}

// figure draws the plan at both widths.
func (p plan) figure() page.Figure {
	if p.data.ID == "" {
		p.data.ID = p.id + "-data"
	}
	if p.data.Caption == "" {
		p.data.Caption = p.title
	}
	return page.Figure{
		ID: p.id, Title: p.title, Desc: p.desc, Data: p.data,
		SVG: p.svg(wideWidth, "wide"), Narrow: p.svg(narrowWidth, "narrow"),
	}
}

func (p plan) svg(w vg.Length, suffix string) []byte {
	const textLine, gap = vg.Length(20), vg.Length(6)
	top := legendHeight(p.keys, w)
	if p.heading != "" {
		top += textLine
	}
	bottom := vg.Length(0)
	if p.foot != "" {
		bottom = textLine
	}
	h := top + gap + p.height(w) + bottom
	svg := vgsvg.New(w, h)
	c := draw.New(svg)
	y := h
	if p.heading != "" {
		c.FillText(lettering(small, soft, alignLeft, alignTop), vg.Point{Y: y - 2}, fit(p.heading, small, w))
		y -= textLine
	}
	drawLegend(draw.Crop(c, 0, 0, 0, y-h), p.keys)
	p.draw(draw.Crop(c, 0, 0, bottom, -top-gap))
	if p.foot != "" {
		c.FillText(lettering(small, soft, alignLeft, alignBottom), vg.Point{Y: 4}, fit(p.foot, small, w))
	}
	var raw bytes.Buffer
	_, _ = svg.WriteTo(&raw) // a buffer takes all
	return p.accessible(raw.Bytes(), w, h, suffix)
}

// nothing is the plan of a figure that has nothing to draw, and says why.
func nothing(id, title, why string, data page.Table) plan {
	lines := func(w vg.Length) []string { return broken(why, normal, w-28, 6) }
	return plan{
		id: id, title: title, desc: why, data: data,
		height: func(w vg.Length) vg.Length { return 30 + 16*vg.Length(len(lines(w))) },
		draw: func(c draw.Canvas) {
			c.SetColor(wash)
			c.Fill(c.Rectangle.Path())
			c.FillText(lettering(normal, soft, alignLeft, alignMiddle), vg.Point{X: c.Min.X + 14, Y: c.Center().Y}, strings.Join(lines(c.Max.X-c.Min.X), "\n"))
		},
	}
}

// accessible makes of the SVG that vgsvg writes one that a page can hold: no
// prologue and no fixed size; role, title and description; instead of inline
// styles, which a strict content policy forbids, each colour as a class, which
// a style sheet can answer so that dark mode works, and as a plain attribute,
// so that the figure stands alone. Text carries its length, so that another
// font of the reader's does not cut or overlap it.
func (p plan) accessible(raw []byte, w, h vg.Length, suffix string) []byte {
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
			fmt.Fprintf(&b, ` font-size="%s" textLength="%.5g" lengthAdjust="spacingAndGlyphs"`, size, lengthOf(html.UnescapeString(words), size, d["font-weight"]))
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
	id := html.EscapeString(p.id + "-" + suffix)
	return fmt.Appendf(nil, `<svg xmlns="http://www.w3.org/2000/svg" class="fig" role="img" preserveAspectRatio="xMinYMin" viewBox="0 0 %g %g" font-family="Liberation Sans, Arial, Helvetica, sans-serif" aria-labelledby="%s-title %s-desc">
<title id="%s-title">%s</title>
<desc id="%s-desc">%s</desc>
%s`, w.Points(), h.Points(), id, id, id, html.EscapeString(p.title), id, html.EscapeString(p.desc), b.String())
}

func lengthOf(words, size, weight string) float64 {
	points, _ := strconv.ParseFloat(size, 64)
	sty := lettering(vg.Length(points), ink, alignLeft, alignTop)
	if weight == "bold" {
		sty = bold(sty)
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
