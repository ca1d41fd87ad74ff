package figure

import (
	"fmt"
	"html"
	"math"
	"strings"
	"unicode/utf8"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// Widths of the two drawings of each figure: for a page and for a phone.
const (
	wideWidth   = 720
	narrowWidth = 350
)

// A plan is a figure before it is drawn: what it says, and how to draw it on a
// sheet of any width.
type plan struct {
	id, title, desc string
	data            page.Table
	height          func(w float64) float64
	draw            func(*sheet)
}

// figure draws the plan for both widths.
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

func (p plan) svg(w float64, suffix string) []byte {
	h := p.height(w)
	c := newCanvas(h)
	s := &sheet{Canvas: draw.NewCanvas(c, vg.Length(w), vg.Length(h)), w: w, h: h}
	p.draw(s)
	id := html.EscapeString(p.id + "-" + suffix)
	return fmt.Appendf(nil, `<svg xmlns="http://www.w3.org/2000/svg" class="fig" role="img" preserveAspectRatio="xMinYMin" viewBox="0 0 %s %s" font-family="Liberation Sans, Arial, Helvetica, sans-serif" aria-labelledby="%s-title %s-desc">
<title id="%s-title">%s</title>
<desc id="%s-desc">%s</desc>
%s</svg>`, num(w), num(h), id, id, id, html.EscapeString(p.title), id, html.EscapeString(p.desc), c.body.String())
}

// nothing is the plan of a figure that has nothing to draw, and says why.
func nothing(id, title, why string, data page.Table) plan {
	return plan{
		id: id, title: title, desc: why, data: data,
		height: func(w float64) float64 { return 30 + 18*float64(len(broken(why, normal, w-28, 6))) },
		draw: func(s *sheet) {
			s.box(wash, 0, 0, s.w, s.h)
			for i, l := range broken(why, normal, s.w-28, 6) {
				s.text(14, s.h-24-18*float64(i), l, soft, normal, draw.XLeft)
			}
		},
	}
}

// A sheet is what a figure is drawn on. Coordinates run up from the lower left
// corner.
type sheet struct {
	draw.Canvas
	w, h float64
}

func (s *sheet) narrow() bool { return s.w < 500 }

// lift raises text so that its small letters stand level with a mark at y.
const lift = 1.8

func (s *sheet) text(x, y float64, str string, t tone, size float64, align draw.XAlignment) {
	sty := lettering(size, t, false)
	sty.XAlign = align
	s.FillText(sty, vg.Point{X: vg.Length(x), Y: vg.Length(y + lift)}, str)
}

func (s *sheet) bold(x, y float64, str string, t tone, size float64, align draw.XAlignment) {
	sty := lettering(size, t, true)
	sty.XAlign = align
	s.FillText(sty, vg.Point{X: vg.Length(x), Y: vg.Length(y + lift)}, str)
}

func (s *sheet) stroke(t tone, width float64, dash []vg.Length, xy ...float64) {
	s.StrokeLines(draw.LineStyle{Color: t, Width: vg.Length(width), Dashes: dash}, points(xy))
}

func (s *sheet) fill(t tone, xy ...float64) {
	s.FillPolygon(t, points(xy))
}

func (s *sheet) box(t tone, x0, y0, x1, y1 float64) { s.fill(t, x0, y0, x1, y0, x1, y1, x0, y1) }

func points(xy []float64) []vg.Point {
	pts := make([]vg.Point, len(xy)/2)
	for i := range pts {
		pts[i] = vg.Point{X: vg.Length(xy[2*i]), Y: vg.Length(xy[2*i+1])}
	}
	return pts
}

// area is a plot without axes of its own on a part of the sheet. The layers
// are called with the two scales, from data to the sheet.
func (s *sheet) area(left, bottom, right, top float64, x, y [2]float64, layers ...func(x, y func(float64) float64)) {
	p := plot.New()
	p.BackgroundColor = nil
	p.HideAxes()
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x[0], x[1], y[0], y[1]
	for _, l := range layers {
		p.Add(layer(l))
	}
	p.Draw(draw.Crop(s.Canvas, vg.Length(left), vg.Length(right-s.w), vg.Length(bottom), vg.Length(top-s.h)))
}

// A layer is a plotter that only needs the two scales.
type layer func(x, y func(float64) float64)

// Plot makes a layer a plot.Plotter.
func (l layer) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	l(func(v float64) float64 { return x(v).Points() }, func(v float64) float64 { return y(v).Points() })
}

// A tick is a labelled place on a scale.
type tick struct {
	at    float64
	label string
}

// ticks are three to seven round places within lo to hi, written with scale
// times their value.
func ticks(lo, hi, scale float64, unit string) []tick {
	lo, hi = lo*scale, hi*scale
	if !finite(lo) || !finite(hi) || !(hi > lo) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/3)))
	for _, k := range []float64{5, 2.5, 2} {
		if (hi-lo)/(k*step) >= 3 {
			step *= k
			break
		}
	}
	places := max(0, 1-int(math.Floor(math.Log10(step))))
	var out []tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step && len(out) < 20; k++ {
		out = append(out, tick{k * step / scale, round(k*step, places) + unit})
	}
	return out
}

// trimmed writes x with at most two decimals.
func trimmed(x float64) string { return round(x, 2) }

// round writes x with at most the given decimals, none that is a closing zero.
func round(x float64, decimals int) string {
	s := page.Fixed(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return strings.Replace(s, "-", "−", 1)
}

// fit cuts str to the room, with an ellipsis.
func fit(str string, size, room float64) string {
	if textWidth(str, size) <= room {
		return str
	}
	for str != "" {
		_, n := utf8.DecodeLastRuneInString(str)
		str = strings.TrimRight(str[:len(str)-n], " ")
		if textWidth(str+"…", size) <= room {
			return str + "…"
		}
	}
	return ""
}

// broken breaks str at blanks into at most most lines that fit the room; what
// is left over is cut.
func broken(str string, size, room float64, most int) []string {
	var lines []string
	cur := ""
	words := strings.Fields(str)
	for i, w := range words {
		try := strings.TrimSpace(cur + " " + w)
		if cur == "" || textWidth(try, size) <= room {
			cur = try
			continue
		}
		if len(lines) == most-1 {
			cur = strings.Join(append([]string{cur}, words[i:]...), " ")
			break
		}
		lines = append(lines, fit(cur, size, room))
		cur = w
	}
	return append(lines, fit(cur, size, room))
}
