package figure

import (
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// A canvas is a vg.Canvas that writes SVG for a web page: no prologue, no
// fixed size, each colour both as a class (which a style sheet can answer, so
// that dark mode works) and as a plain attribute (which stands alone and needs
// no inline style, so that a strict content policy holds). Text carries its
// length, so that another font of the reader's does not cut or overlap it.
//
// What is not finite is not drawn.
type canvas struct {
	body  strings.Builder
	h     float64
	stack []state
}

type state struct {
	ink        color.Color
	width      float64
	dash       []vg.Length
	a, b, c, d float64 // x' = ax + cy + e
	e, f       float64 // y' = bx + dy + f
}

func newCanvas(h float64) *canvas {
	return &canvas{h: h, stack: []state{{ink: ink, width: 1, a: 1, d: 1}}}
}

func (c *canvas) top() *state { return &c.stack[len(c.stack)-1] }

func (c *canvas) SetLineWidth(w vg.Length) { c.top().width = w.Points() }

func (c *canvas) SetLineDash(dash []vg.Length, _ vg.Length) { c.top().dash = dash }

func (c *canvas) SetColor(clr color.Color) {
	if clr == nil {
		clr = ink
	}
	c.top().ink = clr
}

func (c *canvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.multiply(cos, sin, -sin, cos, 0, 0)
}

func (c *canvas) Translate(p vg.Point) { c.multiply(1, 0, 0, 1, p.X.Points(), p.Y.Points()) }

func (c *canvas) Scale(x, y float64) { c.multiply(x, 0, 0, y, 0, 0) }

func (c *canvas) multiply(a, b, cc, d, e, f float64) {
	t := c.top()
	n := *t
	n.a, n.b = t.a*a+t.c*b, t.b*a+t.d*b
	n.c, n.d = t.a*cc+t.c*d, t.b*cc+t.d*d
	n.e, n.f = t.a*e+t.c*f+t.e, t.b*e+t.d*f+t.f
	*t = n
}

func (c *canvas) Push() { c.stack = append(c.stack, *c.top()) }

func (c *canvas) Pop() {
	if len(c.stack) > 1 {
		c.stack = c.stack[:len(c.stack)-1]
	}
}

// at maps a point to SVG coordinates, whose y runs down.
func (c *canvas) at(p vg.Point) (x, y float64) {
	t, px, py := c.top(), p.X.Points(), p.Y.Points()
	return t.a*px + t.c*py + t.e, c.h - (t.b*px + t.d*py + t.f)
}

func (c *canvas) Stroke(p vg.Path) {
	t := c.top()
	d, ok := c.path(p)
	if !ok || t.width <= 0 {
		return
	}
	fmt.Fprintf(&c.body, `<path d="%s" fill="none" %s stroke-width="%s"`, d, paint("stroke", t.ink), num(t.width))
	if len(t.dash) > 0 {
		parts := make([]string, len(t.dash))
		for i, l := range t.dash {
			parts[i] = num(l.Points())
		}
		fmt.Fprintf(&c.body, ` stroke-dasharray="%s"`, strings.Join(parts, " "))
	}
	c.body.WriteString("/>\n")
}

func (c *canvas) Fill(p vg.Path) {
	if d, ok := c.path(p); ok {
		fmt.Fprintf(&c.body, `<path d="%s" %s/>`+"\n", d, paint("fill", c.top().ink))
	}
}

// path writes path data. It reports false for a path that is empty or has a
// coordinate that is not finite.
func (c *canvas) path(p vg.Path) (string, bool) {
	var b strings.Builder
	ok := len(p) > 0
	point := func(q vg.Point) {
		x, y := c.at(q)
		ok = ok && finite(x) && finite(y)
		b.WriteString(num(x) + "," + num(y))
	}
	for _, s := range p {
		switch s.Type {
		case vg.MoveComp:
			b.WriteByte('M')
			point(s.Pos)
		case vg.LineComp:
			b.WriteByte('L')
			point(s.Pos)
		case vg.ArcComp:
			c.arc(&b, s, point)
		case vg.CurveComp:
			b.WriteByte("QC"[min(len(s.Control), 2)-1])
			for _, q := range s.Control {
				point(q)
				b.WriteByte(' ')
			}
			point(s.Pos)
		case vg.CloseComp:
			b.WriteByte('Z')
		}
	}
	return b.String(), ok
}

// arc writes an arc in steps of at most a quarter turn; only plain scaling is
// used in this package, so the radius stays one number.
func (c *canvas) arc(b *strings.Builder, s vg.PathComp, point func(vg.Point)) {
	on := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: s.Pos.X + s.Radius*vg.Length(cos), Y: s.Pos.Y + s.Radius*vg.Length(sin)}
	}
	if b.Len() == 0 {
		b.WriteByte('M')
	} else {
		b.WriteByte('L')
	}
	point(on(s.Start))
	steps := max(1, int(math.Ceil(math.Abs(s.Angle)/(math.Pi/2)-1e-9)))
	sweep := 0
	if s.Angle < 0 {
		sweep = 1
	}
	r := num(s.Radius.Points())
	for k := 1; k <= steps; k++ {
		fmt.Fprintf(b, "A%s,%s 0 0 %d ", r, r, sweep)
		point(on(s.Start + s.Angle*float64(k)/float64(steps)))
	}
}

func (c *canvas) FillString(f font.Face, p vg.Point, s string) {
	x, y := c.at(p)
	size := f.Font.Size.Points()
	if s == "" || size <= 0 || !finite(x) || !finite(y) {
		return
	}
	t := c.top()
	fmt.Fprintf(&c.body, `<text x="%s" y="%s" font-size="%s" textLength="%s" lengthAdjust="spacingAndGlyphs" %s`,
		num(x), num(y), num(size), num(max(f.Width(s).Points(), 0.1)), paint("fill", t.ink))
	if f.Font.Weight > 0 {
		c.body.WriteString(` font-weight="600"`)
	}
	if t.b != 0 {
		fmt.Fprintf(&c.body, ` transform="rotate(%s %s %s)"`, num(-math.Atan2(t.b, t.a)*180/math.Pi), num(x), num(y))
	}
	fmt.Fprintf(&c.body, ">%s</text>\n", html.EscapeString(s))
}

// DrawImage draws nothing: no figure of this package holds a picture.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}

func paint(what string, clr color.Color) string {
	if t, ok := clr.(tone); ok {
		return fmt.Sprintf(`class="%c-%s" %s="%s"`, what[0], t.name, what, t.plain)
	}
	r, g, b, _ := clr.RGBA()
	return fmt.Sprintf(`%s="#%02x%02x%02x"`, what, r>>8, g>>8, b>>8)
}

// num writes a coordinate, to a hundredth.
func num(x float64) string {
	s := strconv.FormatFloat(x, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
