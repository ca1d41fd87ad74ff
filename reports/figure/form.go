package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// FormNumbers shows one form's numbers, each between the ends that all the
// other numbers and the published range leave for it.
type FormNumbers struct {
	ID, Title, Desc string
	Rows            []FormNumber
}

// A FormNumber is one number of a form. P1 and P99 are the published range,
// Low and High what the other numbers of the form leave likely; NaN: not
// given.
type FormNumber struct {
	Label               string
	Written             string
	MM                  float64
	Expected, Low, High float64
	P1, P99             float64
	Doubt               bool
}

// FormChart draws FormNumbers.
func FormChart(v FormNumbers) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "number", Title: "Number"}, {Key: "written", Title: "As written"},
		{Key: "value_mm", Title: "Value", Unit: "mm", Numeric: true}, {Key: "expected_mm", Title: "Expected", Unit: "mm", Numeric: true},
		{Key: "low_mm", Title: "From", Unit: "mm", Numeric: true}, {Key: "high_mm", Title: "To", Unit: "mm", Numeric: true}, {Key: "doubt", Title: "In doubt"}}}
	r := rows{id: v.ID, title: v.Title, desc: v.Desc, lo: 0, hi: 1, zero: math.NaN(), unscaled: true, axis: "each row has a scale of its own",
		right: "written · expected, mm", keys: []key{keyBand("people, 1st to 99th percentile", wash),
			keyLine("where the form's other numbers put it", stroke(ink, 2, nil)), keyMark("as written", disc, ink), keyMark("in doubt", diamond, accent)}}
	for _, n := range v.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(n.Label), page.Text(n.Written), page.Number(n.MM, 1), page.Number(n.Expected, 1), page.Number(n.Low, 1), page.Number(n.High, 1), page.YesNo(n.Doubt)})
		out := row{label: n.Label, right: n.Written}
		if finite(n.Expected) {
			out.right += " · " + page.Fixed(n.Expected, 0)
		}
		if _, ok := n.scale(); !ok {
			out.words = "no number"
		}
		r.rows = append(r.rows, out)
	}
	if len(v.Rows) == 0 {
		return nothing(v.ID, v.Title, "No numbers on this form.", t).figure()
	}
	r.data, r.marks = t, v.marks
	return r.figure()
}

// scale maps the number's millimetres to 0..1: all that is known of it, with
// room.
func (n FormNumber) scale() (at func(float64) float64, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range []float64{n.MM, n.Low, n.High, n.P1, n.P99} {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	pad := math.Max(0.1*(hi-lo), 1)
	return func(v float64) float64 { return (v - lo + pad) / (hi - lo + 2*pad) }, lo <= hi
}

func (v FormNumbers) marks(at place) []plot.Plotter {
	var people boxes
	likely := whiskers{LineStyle: stroke(ink, 2, nil)}
	written, doubt := scatter(nil, glyph(disc, ink, 4)), scatter(nil, glyph(diamond, accent, 5))
	for i, n := range v.Rows {
		x, ok := n.scale()
		if !ok {
			continue
		}
		people = append(people, box{x(n.P1), x(n.P99), at(i, -10), at(i, 10)})
		likely.spans = append(likely.spans, span{x(n.Low), x(n.High), at(i, 0)})
		if !finite(n.MM) {
			continue
		}
		p := plotter.XY{X: x(n.MM), Y: at(i, 0)}
		if n.Doubt {
			doubt.XYs = append(doubt.XYs, p)
		} else {
			written.XYs = append(written.XYs, p)
		}
	}
	return []plot.Plotter{people.polygon(wash, draw.LineStyle{}), likely, written, doubt}
}
