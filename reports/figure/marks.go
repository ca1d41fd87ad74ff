package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A mark is the shape of a point. Shape always goes with a tone, so that
// neither colour nor grey has to carry a meaning alone.
type mark uint8

const (
	disc mark = iota
	ring
	square
	diamond
	hollowDiamond
	triangle     // points up
	downTriangle // points down
)

// mark draws a shape of radius r around x, y. Hollow shapes are filled with
// paper, so that lines under them do not show.
func (s *sheet) mark(m mark, t tone, x, y, r float64) {
	hollow := m == ring || m == hollowDiamond
	switch m {
	case disc, ring:
		var p vg.Path
		p.Move(vg.Point{X: vg.Length(x + r), Y: vg.Length(y)})
		p.Arc(vg.Point{X: vg.Length(x), Y: vg.Length(y)}, vg.Length(r), 0, 2*math.Pi)
		p.Close()
		s.shape(p, t, hollow)
	case square:
		s.outline(t, hollow, x-r, y-r, x+r, y-r, x+r, y+r, x-r, y+r)
	case diamond, hollowDiamond:
		q := 1.35 * r
		s.outline(t, hollow, x, y-q, x+q, y, x, y+q, x-q, y)
	case triangle:
		s.outline(t, hollow, x-1.2*r, y-r, x+1.2*r, y-r, x, y+1.2*r)
	case downTriangle:
		s.outline(t, hollow, x-1.2*r, y+r, x+1.2*r, y+r, x, y-1.2*r)
	}
}

func (s *sheet) outline(t tone, hollow bool, xy ...float64) {
	var p vg.Path
	for i, q := range points(xy) {
		if i == 0 {
			p.Move(q)
		} else {
			p.Line(q)
		}
	}
	p.Close()
	s.shape(p, t, hollow)
}

func (s *sheet) shape(p vg.Path, t tone, hollow bool) {
	if !hollow {
		s.SetColor(t)
		s.Fill(p)
		return
	}
	s.SetColor(paper)
	s.Fill(p)
	s.SetLineStyle(draw.LineStyle{Color: t, Width: 1.6})
	s.Stroke(p)
}

// A key is one entry of a legend: the label and its little drawing in a space
// of 22 by 12 around x, y.
type key struct {
	label string
	draw  func(s *sheet, x, y float64)
}

func keyMark(label string, m mark, t tone) key {
	return key{label, func(s *sheet, x, y float64) { s.mark(m, t, x+11, y, 4) }}
}

func keyLine(label string, t tone, width float64, dash []vg.Length) key {
	return key{label, func(s *sheet, x, y float64) { s.stroke(t, width, dash, x, y, x+22, y) }}
}

func keyBand(label string, t tone) key {
	return key{label, func(s *sheet, x, y float64) { s.box(t, x, y-5, x+22, y+5) }}
}

// legendRows says on how many rows the keys stand at a width.
func legendRows(keys []key, w float64) int {
	rows, x := 1, 0.0
	for _, k := range keys {
		need := 28 + textWidth(k.label, small)
		if x > 0 && x+need > w {
			rows, x = rows+1, 0
		}
		x += need + 18
	}
	return rows
}

// legend draws the keys in rows from the top y downwards, 18 a row.
func (s *sheet) legend(keys []key, y float64) {
	x := 0.0
	for _, k := range keys {
		need := 28 + textWidth(k.label, small)
		if x > 0 && x+need > s.w {
			x, y = 0, y-18
		}
		k.draw(s, x, y)
		s.text(x+28, y, fit(k.label, small, s.w-28), soft, small, draw.XLeft)
		x += need + 18
	}
}
