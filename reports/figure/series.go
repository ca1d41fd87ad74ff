package figure

import (
	"math"

	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// A Series is a monitored number in the order of time (a CUSUM, an EWMA, a g
// chart), with the limits it is watched against.
type Series struct {
	ID, Title, Desc string
	Y, X            string // what the scales show
	At              []float64
	Label           []string // of each point, for the table and the ends of the scale
	Value           []float64
	Low, High       []float64 // limits at each point; nil: none
	Centre          float64   // NaN: none
	Signal          []bool
	N               int // what the whole rests on
	Of              string
}

// SeriesChart draws a Series.
func SeriesChart(v Series) page.Figure {
	t := seriesTable(v)
	if len(v.Value) == 0 || len(v.At) != len(v.Value) {
		return nothing(v.ID, v.Title, "Nothing observed yet: nothing to draw.", t).figure()
	}
	keys := v.keys()
	return plan{
		id: v.ID, title: v.Title, desc: v.Desc, data: t,
		height: func(w float64) float64 { return 234 + 18*float64(legendRows(keys, w)) },
		draw: func(s *sheet) {
			s.text(0, s.h-8, fit(v.Y, small, s.w), soft, small, draw.XLeft)
			s.legend(keys, s.h-27)
			v.onto(s, s.h-27-18*float64(legendRows(keys, s.w)))
		},
	}.figure()
}

func (v Series) keys() []key {
	keys := []key{keyLine("as observed", ink, 1.6, nil)}
	if len(v.Low) > 0 || len(v.High) > 0 {
		keys = append(keys, keyLine("limit", accent, 1.4, dashed))
	}
	if finite(v.Centre) {
		keys = append(keys, keyLine("expected", mid, 1.3, dotted))
	}
	if anyOf(v.Signal) {
		keys = append(keys, keyMark("signal", diamond, accent))
	}
	return keys
}

func (v Series) onto(s *sheet, top float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, vs := range [][]float64{v.Value, v.Low, v.High, {v.Centre}} {
		for _, f := range vs {
			if finite(f) {
				lo, hi = math.Min(lo, f), math.Max(hi, f)
			}
		}
	}
	if lo > hi {
		lo, hi = 0, 1
	}
	if lo >= 0 && lo < 0.5*hi {
		lo = 0
	}
	pad := 0.06 * (hi - lo)
	if pad == 0 {
		pad = 1
	}
	hi += pad
	if lo != 0 {
		lo -= pad
	}
	from, to := extent(v.At)
	left := 14 + widest(ticks(lo, hi, 1, ""))
	s.area(left, 50, s.w-10, top, [2]float64{from, to}, [2]float64{lo, hi}, func(x, y func(float64) float64) {
		s.gridY(ticks(lo, hi, 1, ""), left, s.w-10, y)
		if finite(v.Centre) {
			s.stroke(mid, 1.3, dotted, x(from), y(v.Centre), x(to), y(v.Centre))
		}
		s.runs(v.At, v.Low, accent, 1.4, dashed, x, y)
		s.runs(v.At, v.High, accent, 1.4, dashed, x, y)
		s.runs(v.At, v.Value, ink, 1.6, nil, x, y)
		for i, f := range v.Value {
			signal := i < len(v.Signal) && v.Signal[i]
			if finite(f) && signal {
				s.mark(diamond, accent, x(v.At[i]), y(f), 4.5)
			} else if finite(f) && len(v.Value) <= 60 {
				s.mark(disc, ink, x(v.At[i]), y(f), 3)
			}
		}
		s.ends(v, x)
	})
	s.text(0, 6, fit(v.X+", n "+page.Thousands(v.N)+" "+v.Of, small, s.w), soft, small, draw.XLeft)
}

// ends labels as many points along the bottom as there is room for.
func (s *sheet) ends(v Series, x func(float64) float64) {
	last := math.Inf(-1)
	for i, l := range v.Label {
		if i >= len(v.At) || l == "" {
			continue
		}
		half := textWidth(l, small) / 2
		at := math.Min(math.Max(x(v.At[i]), half), s.w-half)
		if at-half < last+14 {
			continue
		}
		s.centred(at, 36, l, soft)
		last = at + half
	}
}

// runs draws a line through the finite points, broken where one is not.
func (s *sheet) runs(at, v []float64, t tone, width float64, dash dashes, x, y func(float64) float64) {
	var xy []float64
	flush := func() {
		if len(xy) >= 4 {
			s.stroke(t, width, dash, xy...)
		}
		xy = nil
	}
	for i := range v {
		if i >= len(at) || !finite(v[i]) || !finite(at[i]) {
			flush()
			continue
		}
		xy = append(xy, x(at[i]), y(v[i]))
	}
	flush()
}

func extent(at []float64) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, v := range at {
		if finite(v) {
			from, to = math.Min(from, v), math.Max(to, v)
		}
	}
	if from > to {
		return 0, 1
	}
	if from == to {
		return from - 0.5, to + 0.5
	}
	return from, to
}

func widest(ts []tick) float64 {
	w := 10.0
	for _, t := range ts {
		w = math.Max(w, textWidth(t.label, small))
	}
	return w
}

func anyOf(bs []bool) bool {
	for _, b := range bs {
		if b {
			return true
		}
	}
	return false
}

func seriesTable(v Series) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "at", Title: v.X}, {Key: "value", Title: "Value", Numeric: true},
		{Key: "limit_low", Title: "Limit, low", Numeric: true}, {Key: "limit_high", Title: "Limit, high", Numeric: true}, {Key: "signal", Title: "Signal"},
	}}
	at := func(vs []float64, i int) page.Cell {
		if i < len(vs) {
			return page.Number(vs[i], 3)
		}
		return page.Cell{}
	}
	for i := range v.Value {
		label := ""
		if i < len(v.Label) {
			label = v.Label[i]
		}
		if label == "" && i < len(v.At) {
			label = trimmed(v.At[i])
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(label), at(v.Value, i), at(v.Low, i), at(v.High, i), yesNo(i < len(v.Signal) && v.Signal[i])})
	}
	return t
}
