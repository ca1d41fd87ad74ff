package figure

import (
	"math"

	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// rows is a figure of labelled rows over one scale: a label on the left, marks
// in the middle, a few words on the right. On a phone the label and the words
// stand above their row.
type rows struct {
	id, title, desc string
	data            page.Table
	keys            []key
	lo, hi          float64
	ticks           []tick
	zero            float64 // a line across all rows; NaN: none
	axis            string  // what the scale shows
	right           string  // what the words on the right say
	rows            []row
}

type row struct {
	label string
	right string
	words string // stands in place of marks
	draw  func(s *sheet, x func(float64) float64, y float64)
}

const (
	labelRoom = 186.0
	rightRoom = 176.0
	rowHeight = 34.0
	tallRow   = 62.0
)

func (r rows) figure() page.Figure {
	return plan{
		id: r.id, title: r.title, desc: r.desc, data: r.data,
		height: func(w float64) float64 {
			h := rowHeight
			if w < 500 {
				h = tallRow
			}
			foot := 62.0
			if len(r.ticks) == 0 {
				foot = 44
			}
			return foot + r.legendRoom(w) + h*float64(len(r.rows))
		},
		draw: r.onto,
	}.figure()
}

func (r rows) legendRoom(w float64) float64 {
	if len(r.keys) == 0 {
		return 0
	}
	return 18 * float64(legendRows(r.keys, w))
}

func (r rows) onto(s *sheet) {
	if len(r.keys) > 0 {
		s.legend(r.keys, s.h-9)
	}
	top := s.h - r.legendRoom(s.w) - 22
	left, right, h := labelRoom, s.w-rightRoom, rowHeight
	if s.narrow() {
		left, right, h = 8, s.w-8, tallRow
	} else if r.right != "" {
		s.text(s.w, top+12, fit(r.right, small, s.w-left), soft, small, draw.XRight)
	}
	bottom := top - h*float64(len(r.rows))
	s.area(left, bottom, right, top, [2]float64{r.lo, r.hi}, [2]float64{0, float64(max(1, len(r.rows)))},
		func(x, y func(float64) float64) {
			s.gridX(r.ticks, bottom, top, x)
			if finite(r.zero) {
				s.stroke(mid, 1.3, nil, x(r.zero), bottom, x(r.zero), top)
			}
			for i, one := range r.rows {
				s.oneRow(one, top-h*float64(i), h, left, right, x)
			}
		})
	foot := bottom - 28
	if len(r.ticks) == 0 {
		foot = bottom - 10
	}
	s.text((left+right)/2, foot, fit(r.axis, small, s.w), soft, small, draw.XCenter)
}

func (s *sheet) oneRow(one row, top, h, left, right float64, x func(float64) float64) {
	y := top - h/2
	if s.narrow() {
		s.onPaper(0, top-11, fit(one.label, normal, s.w), ink, normal)
		s.onPaper(0, top-26, fit(one.right, small, s.w), soft, small)
		y = top - 46
	} else {
		s.twoLines(0, y, left-14, one.label)
		s.text(s.w, y, fit(one.right, small, rightRoom-8), ink, small, draw.XRight)
	}
	if one.words != "" {
		s.onPaper(left+4, y, fit(one.words, small, right-left-8), soft, small)
		return
	}
	if one.draw != nil {
		one.draw(s, x, y)
	}
}

// onPaper writes text over a strip of paper, so that lines under it do not
// cross it.
func (s *sheet) onPaper(x, y float64, str string, t tone, size float64) {
	if str == "" {
		return
	}
	s.box(paper, x-2, y-7, x+textWidth(str, size)+3, y+7)
	s.text(x, y, str, t, size, draw.XLeft)
}

func (s *sheet) twoLines(x, y, room float64, str string) {
	ls := broken(str, normal, room, 2)
	for i, l := range ls {
		s.text(x, y+7*float64(len(ls)-1)-14*float64(i), l, ink, normal, draw.XLeft)
	}
}

// interval draws a line from lo to hi within the ends of the scale, with an
// arrow where it goes on beyond one.
func (s *sheet) interval(t tone, width float64, lo, hi, from, to, y float64) {
	if !finite(lo) || !finite(hi) {
		return
	}
	a, b := math.Max(lo, from), math.Min(hi, to)
	if a > b {
		return
	}
	s.stroke(t, width, nil, a, y, b, y)
	if lo < from {
		s.fill(t, from-4, y, from+3, y+4, from+3, y-4)
	} else {
		s.stroke(t, width, nil, a, y-4, a, y+4)
	}
	if hi > to {
		s.fill(t, to+4, y, to-3, y+4, to-3, y-4)
	} else {
		s.stroke(t, width, nil, b, y-4, b, y+4)
	}
}

// span is a scale that holds the points and, as far as they do not stretch it
// beyond three times that, the intervals.
func span(points, ends []float64, least float64) (lo, hi float64) {
	lo, hi = 0, least
	for _, v := range points {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	far := 3 * (hi - lo)
	low, high := lo, hi
	for _, v := range ends {
		if finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	lo, hi = math.Max(low, hi-far), math.Min(high, lo+far)
	pad := 0.03 * (hi - lo)
	return lo - pad, hi + pad
}
