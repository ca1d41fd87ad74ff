package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// Ranges lays the shop's numbers over the published range of people, one
// measure a row, each on a scale of its own.
type Ranges struct {
	ID, Title, Desc string
	Source          string // of the published range
	Rows            []RangeRow
}

// A RangeRow is one measure: quantiles in its own unit, NaN where not given.
type RangeRow struct {
	Label     string
	Unit      string
	Published Quantiles
	Shop      Quantiles
	N         int
}

// Quantiles of a distribution.
type Quantiles struct{ P1, P5, P25, P50, P75, P95, P99 float64 }

func (q Quantiles) given() bool { return svg.Finite(q.P5) && svg.Finite(q.P50) && svg.Finite(q.P95) }

// RangeChart draws Ranges.
func RangeChart(v Ranges) page.Figure {
	t := rangeTable(v)
	if len(v.Rows) == 0 {
		return svg.Nothing(v.ID, v.Title, "No numbers to lay over the published range yet.", t).Figure()
	}
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Lo: 0, Hi: 1, Zero: math.NaN(), Unscaled: true,
		Axis: "each row has a scale of its own", Right: "n · the shop's middle, people's middle", Marks: v.marks,
		Keys: []svg.Key{svg.KeyBand("people, 1st to 99th percentile", svg.Wash), svg.KeyLine("people's middle", svg.Stroke(svg.Mid, 1.6, svg.Dashed)),
			svg.KeyLine("the shop, 5th to 95th", svg.Stroke(svg.Ink, 2, nil)), {Label: "the shop's middle half", Thumb: svg.Boxes{}.Polygon(svg.Awash, svg.Stroke(svg.Ink, 1, nil))}, svg.KeyMark("its middle", svg.Disc, svg.Accent)}}
	for _, one := range v.Rows {
		out := svg.Row{Label: one.Label, Right: "n " + page.Thousands(one.N)}
		switch {
		case !one.drawable():
			out.Words = "no published range"
		case !one.Shop.given():
			out.Words = page.TooFew
		default:
			out.Right += fmt.Sprintf(" · %s, %s %s", short(one.Shop.P50), short(one.Published.P50), one.Unit)
		}
		r.Rows = append(r.Rows, out)
	}
	return r.Figure()
}

// drawable tells whether there is a published range to lay numbers over.
func (one RangeRow) drawable() bool {
	return one.Published.given() && svg.Finite(one.Published.P1) && svg.Finite(one.Published.P99)
}

func (v Ranges) marks(at svg.Place) []plot.Plotter {
	var people, halves svg.Boxes
	var out []plot.Plotter
	shop, middles := svg.Whiskers{LineStyle: svg.Stroke(svg.Ink, 2, nil)}, svg.Scatter(nil, svg.Glyph(svg.Disc, svg.Accent, 3.6))
	for i, one := range v.Rows {
		if !one.drawable() {
			continue
		}
		x := one.scale()
		people = append(people, svg.Box{X0: x(one.Published.P1), X1: x(one.Published.P99), Y0: at(i, -10), Y1: at(i, 10)})
		middle := x(one.Published.P50)
		out = append(out, svg.Lines([]float64{middle, middle}, []float64{at(i, -10), at(i, 10)}, svg.Stroke(svg.Mid, 1.6, svg.Dashed))...)
		if !one.Shop.given() {
			continue
		}
		shop.Spans = append(shop.Spans, svg.Span{Lo: x(one.Shop.P5), Hi: x(one.Shop.P95), Y: at(i, 0)})
		halves = append(halves, svg.Box{X0: x(one.Shop.P25), X1: x(one.Shop.P75), Y0: at(i, -5), Y1: at(i, 5)})
		middles.XYs = append(middles.XYs, plotter.XY{X: x(one.Shop.P50), Y: at(i, 0)})
	}
	out = append([]plot.Plotter{people.Polygon(svg.Wash, draw.LineStyle{})}, out...)
	return append(out, shop, halves.Polygon(svg.Awash, svg.Stroke(svg.Ink, 1, nil)), middles)
}

// scale maps the row's unit to 0..1: what both distributions span, with room.
func (one RangeRow) scale() func(float64) float64 {
	lo, hi := one.Published.P1, one.Published.P99
	for _, v := range []float64{one.Shop.P5, one.Shop.P95} {
		if svg.Finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	pad := 0.08 * (hi - lo)
	if pad <= 0 {
		pad = 1
	}
	return func(v float64) float64 { return (v - lo + pad) / (hi - lo + 2*pad) }
}

// short writes a middle with as many decimals as show what is drawn: a ratio
// differs in the third.
func short(x float64) string {
	if !svg.Finite(x) {
		return "–"
	}
	if math.Abs(x) < 10 {
		return page.Fixed(x, 3)
	}
	return page.Fixed(x, 0)
}

func rangeTable(v Ranges) page.Table {
	t := page.Table{Columns: []page.Column{{Key: "measure", Title: "Measure"}, {Key: "unit", Title: "Unit"}, {Key: "n", Title: "n", Numeric: true}}}
	for _, who := range []string{"people", "shop"} {
		for _, q := range []string{"p5", "p50", "p95"} {
			t.Columns = append(t.Columns, page.Column{Key: who + "_" + q, Title: who + ", " + q, Numeric: true})
		}
	}
	for _, r := range v.Rows {
		d := 1
		if r.Published.P50 < 10 {
			d = 3
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Text(r.Unit), page.Count(r.N),
			page.Number(r.Published.P5, d), page.Number(r.Published.P50, d), page.Number(r.Published.P95, d),
			page.Number(r.Shop.P5, d), page.Number(r.Shop.P50, d), page.Number(r.Shop.P95, d)})
	}
	if v.Source != "" {
		t.Notes = append(t.Notes, "Published range: "+v.Source)
	}
	return t
}
