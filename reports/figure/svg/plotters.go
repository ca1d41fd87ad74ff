package svg

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Mark is the shape of a point, a draw.GlyphDrawer. Shape always goes with a
// tone, so that neither colour nor grey has to carry a meaning alone. Hollow
// shapes are filled with paper, so that lines under them do not show.
type Mark struct {
	corners int // 0: round; 4: standing on a side, -4: on a corner; 3: an arrow up, -3: down
	hollow  bool
}

// The shapes.
var (
	Disc    = Mark{}
	Ring    = Mark{hollow: true}
	Square  = Mark{corners: 4}
	Diamond = Mark{corners: -4}
	Up      = Mark{corners: 3}
	Down    = Mark{corners: -3}
)

// DrawGlyph draws the shape around a point.
func (m Mark) DrawGlyph(c *draw.Canvas, sty draw.GlyphStyle, pt vg.Point) {
	r := sty.Radius
	var p vg.Path
	corners := []vg.Point{{X: -r, Y: -r}, {X: r, Y: -r}, {X: r, Y: r}, {X: -r, Y: r}}
	switch m.corners { // arrows point at the edge, and lie within it
	case 3:
		corners = []vg.Point{{}, {X: r, Y: -1.6 * r}, {X: -r, Y: -1.6 * r}}
	case -3:
		corners = []vg.Point{{}, {X: r, Y: 1.6 * r}, {X: -r, Y: 1.6 * r}}
	case -4:
		r *= 1.35
		corners = []vg.Point{{Y: -r}, {X: r}, {Y: r}, {X: -r}}
	}
	if m.corners == 0 {
		p.Move(vg.Point{X: pt.X + r, Y: pt.Y})
		p.Arc(pt, r, 0, 2*math.Pi)
	} else {
		p.Move(pt.Add(corners[0]))
		for _, q := range corners[1:] {
			p.Line(pt.Add(q))
		}
	}
	p.Close()
	if !m.hollow {
		c.SetColor(sty.Color)
		c.Fill(p)
		return
	}
	c.SetColor(Paper)
	c.Fill(p)
	c.SetLineStyle(draw.LineStyle{Color: sty.Color, Width: 1.6})
	c.Stroke(p)
}

// Glyph is a mark in a tone.
func Glyph(m Mark, t Tone, radius vg.Length) draw.GlyphStyle {
	return draw.GlyphStyle{Color: t, Radius: radius, Shape: m}
}

// XYs pairs two columns; a pair that is not finite is left out.
func XYs(x, y []float64) plotter.XYs {
	var out plotter.XYs
	for i := range min(len(x), len(y)) {
		if Finite(x[i]) && Finite(y[i]) {
			out = append(out, plotter.XY{X: x[i], Y: y[i]})
		}
	}
	return out
}

// Lines join neighbouring finite points, broken where one is not finite.
func Lines(x, y []float64, sty draw.LineStyle) []plot.Plotter {
	var out []plot.Plotter
	from := 0
	for i := 0; i <= len(x); i++ {
		if i < len(x) && i < len(y) && Finite(x[i]) && Finite(y[i]) {
			continue
		}
		if i-from > 1 {
			out = append(out, &plotter.Line{XYs: XYs(x[from:i], y[from:i]), LineStyle: sty})
		}
		from = i + 1
		if i >= len(y) {
			break
		}
	}
	return out
}

// Band fills what lies between two lines, each from left to right or from the bottom
// up; nothing where they have fewer than two points.
func Band(lower, upper plotter.XYs) []plot.Plotter {
	if len(lower) < 2 {
		return nil
	}
	round := slices.Clone(lower)
	for _, q := range slices.Backward(upper) {
		round = append(round, q)
	}
	return []plot.Plotter{&plotter.Polygon{XYs: []plotter.XYs{round}, Color: Wash}}
}

// Across is a line over the whole width at y.
func Across(p *plot.Plot, y float64, sty draw.LineStyle) plot.Plotter {
	return &plotter.Line{XYs: plotter.XYs{{X: p.X.Min, Y: y}, {X: p.X.Max, Y: y}}, LineStyle: sty}
}

// Scatter is one mark at each point; without points it is the mark of a key.
func Scatter(pts plotter.XYs, sty draw.GlyphStyle) *plotter.Scatter {
	return &plotter.Scatter{XYs: pts, GlyphStyle: sty}
}

// A Box is a rectangle by its four sides.
type Box struct{ X0, X1, Y0, Y1 float64 }

// Boxes are filled rectangles of one look.
type Boxes []Box

// Polygon fills the boxes that have four sides.
func (b Boxes) Polygon(t Tone, edge draw.LineStyle) *plotter.Polygon {
	out := &plotter.Polygon{Color: t, LineStyle: edge}
	for _, r := range b {
		if Finite(r.X0) && Finite(r.X1) && Finite(r.Y0) && Finite(r.Y1) {
			out.XYs = append(out.XYs, plotter.XYs{{X: r.X0, Y: r.Y0}, {X: r.X1, Y: r.Y0}, {X: r.X1, Y: r.Y1}, {X: r.X0, Y: r.Y1}})
		}
	}
	return out
}

// A Span is a range of values in a row at y.
type Span struct{ Lo, Hi, Y float64 }

// Whiskers are intervals with end strokes. Where one goes on beyond the scale
// it ends in an arrow.
type Whiskers struct {
	Spans []Span
	draw.LineStyle
}

// Plot makes whiskers a plot.Plotter.
func (w Whiskers) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	end := w.LineStyle
	end.Dashes = nil
	for _, s := range w.Spans {
		lo, hi := math.Max(s.Lo, p.X.Min), math.Min(s.Hi, p.X.Max)
		if !(lo <= hi) || !Finite(s.Y) {
			continue
		}
		at := y(s.Y)
		c.StrokeLine2(w.LineStyle, x(lo), at, x(hi), at)
		if s.Lo < p.X.Min {
			c.FillPolygon(w.Color, []vg.Point{{X: x(lo) - 4, Y: at}, {X: x(lo) + 3, Y: at + 4}, {X: x(lo) + 3, Y: at - 4}})
		} else {
			c.StrokeLine2(end, x(lo), at-4, x(lo), at+4)
		}
		if s.Hi > p.X.Max {
			c.FillPolygon(w.Color, []vg.Point{{X: x(hi) + 4, Y: at}, {X: x(hi) - 3, Y: at + 4}, {X: x(hi) - 3, Y: at - 4}})
		} else {
			c.StrokeLine2(end, x(hi), at-4, x(hi), at+4)
		}
	}
}

// Labels are words at places, on a strip of paper where lines would cross them.
type Labels struct {
	plotter.Labels
	OnPaper bool
}

// Add adds words, if there are any.
func (l *Labels) Add(x, y float64, s string, sty text.Style) {
	if s != "" {
		l.XYs, l.Labels.Labels, l.TextStyle = append(l.XYs, plotter.XY{X: x, Y: y}), append(l.Labels.Labels, s), append(l.TextStyle, sty)
	}
}

// Plot makes labels a plot.Plotter.
func (l *Labels) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for i, s := range l.Labels.Labels {
		if l.OnPaper {
			r := l.TextStyle[i].Rectangle(s).Add(vg.Point{X: x(l.XYs[i].X), Y: y(l.XYs[i].Y)}).Add(l.Offset)
			r.Min.X, r.Max.X = r.Min.X-2, r.Max.X+2
			c.SetColor(Paper)
			c.Fill(r.Path())
		}
	}
	l.Labels.Plot(c, p)
}

// Names are labels beside points; one that would cover another or stick out is
// left to the table. Names that come first have the right of way.
type Names struct {
	at     plotter.XYs
	labels []string
	styles []text.Style
}

// Add adds the name of a point.
func (n *Names) Add(at plotter.XY, label string, sty text.Style) {
	n.at, n.labels, n.styles = append(n.at, at), append(n.labels, label), append(n.styles, sty)
}

// Plot makes names a plot.Plotter.
func (n Names) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var taken []vg.Rectangle
	for i, s := range n.labels {
		w := n.styles[i].Width(s)
		for _, dx := range []vg.Length{9, -9 - w} {
			pt := vg.Point{X: x(n.at[i].X) + dx, Y: y(n.at[i].Y)}
			r := vg.Rectangle{Min: pt.Add(vg.Point{Y: -7}), Max: pt.Add(vg.Point{X: w, Y: 7})}
			if r.Min.X < c.Min.X || r.Max.X > c.Max.X || slices.ContainsFunc(taken, func(o vg.Rectangle) bool {
				return r.Min.X < o.Max.X && o.Min.X < r.Max.X && r.Min.Y < o.Max.Y && o.Min.Y < r.Max.Y
			}) {
				continue
			}
			c.FillText(n.styles[i], pt, s)
			taken = append(taken, r)
			break
		}
	}
}

// A Key is one entry of a legend.
type Key struct {
	Label string
	Thumb plot.Thumbnailer
}

// KeyMark is the entry of a mark.
func KeyMark(label string, m Mark, t Tone) Key {
	return Key{label, Scatter(nil, Glyph(m, t, 4))}
}

// KeyLine is the entry of a line.
func KeyLine(label string, sty draw.LineStyle) Key {
	return Key{label, &plotter.Line{LineStyle: sty}}
}

// KeyBand is the entry of a filled band.
func KeyBand(label string, t Tone) Key {
	return Key{label, &plotter.Polygon{Color: t}}
}

// inset keeps the thumbnail of a key off its label.
type inset struct{ plot.Thumbnailer }

// Thumbnail makes inset a plot.Thumbnailer.
func (i inset) Thumbnail(c *draw.Canvas) {
	at := draw.Crop(*c, 0, -3, 0, 0)
	i.Thumbnailer.Thumbnail(&at)
}

const legendRow = vg.Length(18)

// flow places keys side by side in rows of the width w.
func flow(keys []Key, w vg.Length, place func(k Key, x, y vg.Length)) (rows int) {
	x := vg.Length(0)
	for _, k := range keys {
		need := 28 + TextWidth(k.Label, Small)
		if rows == 0 || x > 0 && x+need > w {
			rows, x = rows+1, 0
		}
		if place != nil {
			place(k, x, legendRow*vg.Length(rows-1))
		}
		x += need + 18
	}
	return rows
}

func legendHeight(keys []Key, w vg.Length) vg.Length {
	return legendRow * vg.Length(flow(keys, w, nil))
}

// drawLegend draws each key as a legend of one entry, so that they can stand
// side by side.
func drawLegend(c draw.Canvas, keys []Key) {
	w := c.Max.X - c.Min.X
	flow(keys, w, func(k Key, x, y vg.Length) {
		l := plot.NewLegend()
		l.TextStyle = Lettering(Small, Soft, AlignLeft, alignBottom)
		l.Top, l.Left, l.ThumbnailWidth = true, true, 25
		l.YPosition = draw.PosCenter
		l.Add(Fit(k.Label, Small, w-28), inset{k.Thumb})
		l.Draw(draw.Crop(c, x, 0, 0, -y))
	})
}
