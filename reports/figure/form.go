package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/figure/svg"
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
// given. Likely is what they make of it, as it would be written.
type FormNumber struct {
	Label               string
	Written, Likely     string
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
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Lo: 0, Hi: 1, Zero: math.NaN(), Unscaled: true, Axis: "each row has a scale of its own",
		Right: "written · expected", Keys: []svg.Key{svg.KeyBand("people, 1st to 99th percentile", svg.Wash),
			svg.KeyLine("where the form's other numbers put it", svg.Stroke(svg.Ink, 2, nil)), svg.KeyMark("as written", svg.Disc, svg.Ink), svg.KeyMark("in doubt", svg.Diamond, svg.Accent)}}
	for _, n := range v.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(n.Label), page.AsIs(n.Written), page.Number(n.MM, 1), page.Number(n.Expected, 1), page.Number(n.Low, 1), page.Number(n.High, 1), page.YesNo(n.Doubt)})
		out := svg.Row{Label: n.Label, Right: n.Written}
		if n.Likely != "" {
			out.Right += " · " + n.Likely
		}
		if _, ok := n.scale(); !ok {
			out.Words = "no number"
		}
		r.Rows = append(r.Rows, out)
	}
	if len(v.Rows) == 0 {
		return svg.Nothing(v.ID, v.Title, "No numbers on this form.", t).Figure()
	}
	r.Data, r.Marks = t, v.marks
	return r.Figure()
}

// scale maps the number's millimetres to 0..1: all that is known of it, with
// room.
func (n FormNumber) scale() (at func(float64) float64, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range []float64{n.MM, n.Low, n.High, n.P1, n.P99} {
		if svg.Finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	pad := math.Max(0.1*(hi-lo), 1)
	return func(v float64) float64 { return (v - lo + pad) / (hi - lo + 2*pad) }, lo <= hi
}

func (v FormNumbers) marks(at svg.Place) []plot.Plotter {
	var people svg.Boxes
	likely := svg.Whiskers{LineStyle: svg.Stroke(svg.Ink, 2, nil)}
	written, doubt := svg.Scatter(nil, svg.Glyph(svg.Disc, svg.Ink, 4)), svg.Scatter(nil, svg.Glyph(svg.Diamond, svg.Accent, 5))
	for i, n := range v.Rows {
		x, ok := n.scale()
		if !ok {
			continue
		}
		people = append(people, svg.Box{X0: x(n.P1), X1: x(n.P99), Y0: at(i, -10), Y1: at(i, 10)})
		likely.Spans = append(likely.Spans, svg.Span{Lo: x(n.Low), Hi: x(n.High), Y: at(i, 0)})
		if !svg.Finite(n.MM) {
			continue
		}
		p := plotter.XY{X: x(n.MM), Y: at(i, 0)}
		if n.Doubt {
			doubt.XYs = append(doubt.XYs, p)
		} else {
			written.XYs = append(written.XYs, p)
		}
	}
	return []plot.Plotter{people.Polygon(svg.Wash, draw.LineStyle{}), likely, written, doubt}
}
