package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

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

func (q Quantiles) given() bool { return finite(q.P5) && finite(q.P50) && finite(q.P95) }

// RangeChart draws Ranges.
func RangeChart(v Ranges) page.Figure {
	t := rangeTable(v)
	if len(v.Rows) == 0 {
		return nothing(v.ID, v.Title, "No numbers to lay over the published range yet.", t).figure()
	}
	r := rows{id: v.ID, title: v.Title, desc: v.Desc, data: t, lo: 0, hi: 1, zero: math.NaN(), unscaled: true,
		axis: "each row has a scale of its own", right: "n · the shop's middle, people's middle", marks: v.marks,
		keys: []key{keyBand("people, 1st to 99th percentile", wash), keyLine("people's middle", stroke(mid, 1.6, dashed)),
			keyLine("the shop, 5th to 95th", stroke(ink, 2, nil)), {"the shop's middle half", boxes{}.polygon(awash, stroke(ink, 1, nil))}, keyMark("its middle", disc, accent)}}
	for _, one := range v.Rows {
		out := row{label: one.Label, right: "n " + page.Thousands(one.N)}
		switch {
		case !one.drawable():
			out.words = "no published range"
		case !one.Shop.given():
			out.words = page.TooFew
		default:
			out.right += fmt.Sprintf(" · %s, %s %s", short(one.Shop.P50), short(one.Published.P50), one.Unit)
		}
		r.rows = append(r.rows, out)
	}
	return r.figure()
}

// drawable tells whether there is a published range to lay numbers over.
func (one RangeRow) drawable() bool {
	return one.Published.given() && finite(one.Published.P1) && finite(one.Published.P99)
}

func (v Ranges) marks(at place) []plot.Plotter {
	var people, halves boxes
	var out []plot.Plotter
	shop, middles := whiskers{LineStyle: stroke(ink, 2, nil)}, scatter(nil, glyph(disc, accent, 3.6))
	for i, one := range v.Rows {
		if !one.drawable() {
			continue
		}
		x := one.scale()
		people = append(people, box{x(one.Published.P1), x(one.Published.P99), at(i, -10), at(i, 10)})
		middle := x(one.Published.P50)
		out = append(out, lines([]float64{middle, middle}, []float64{at(i, -10), at(i, 10)}, stroke(mid, 1.6, dashed))...)
		if !one.Shop.given() {
			continue
		}
		shop.spans = append(shop.spans, span{x(one.Shop.P5), x(one.Shop.P95), at(i, 0)})
		halves = append(halves, box{x(one.Shop.P25), x(one.Shop.P75), at(i, -5), at(i, 5)})
		middles.XYs = append(middles.XYs, plotter.XY{X: x(one.Shop.P50), Y: at(i, 0)})
	}
	out = append([]plot.Plotter{people.polygon(wash, draw.LineStyle{})}, out...)
	return append(out, shop, halves.polygon(awash, stroke(ink, 1, nil)), middles)
}

// scale maps the row's unit to 0..1: what both distributions span, with room.
func (one RangeRow) scale() func(float64) float64 {
	lo, hi := one.Published.P1, one.Published.P99
	for _, v := range []float64{one.Shop.P5, one.Shop.P95} {
		if finite(v) {
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
	if !finite(x) {
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
