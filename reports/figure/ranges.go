package figure

import (
	"fmt"
	"math"

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
	r := rows{id: v.ID, title: v.Title, desc: v.Desc, data: t, lo: 0, hi: 1, zero: math.NaN(),
		axis: "each row has a scale of its own", right: "n · the shop's middle, people's middle",
		keys: []key{keyBand("people, 1st to 99th percentile", wash), keyLine("people's middle", mid, 1.6, dashed),
			keyLine("the shop, 5th to 95th", ink, 2, nil), {"the shop's middle half", keyHalf}, keyMark("its middle", disc, accent)}}
	for _, one := range v.Rows {
		r.rows = append(r.rows, one.row())
	}
	return r.figure()
}

func keyHalf(s *sheet, x, y float64) { s.halfBox(x, x+22, y) }

func (s *sheet) halfBox(x0, x1, y float64) {
	s.box(awash, x0, y-5, x1, y+5)
	s.stroke(ink, 1, nil, x0, y-5, x1, y-5, x1, y+5, x0, y+5, x0, y-5)
}

func (one RangeRow) row() row {
	out := row{label: one.Label, right: "n " + page.Thousands(one.N)}
	if !one.Published.given() || !finite(one.Published.P1) || !finite(one.Published.P99) {
		out.words = "no published range"
		return out
	}
	at := one.scale()
	out.right += fmt.Sprintf(" · %s, %s %s", short(one.Shop.P50), short(one.Published.P50), one.Unit)
	out.draw = func(s *sheet, x func(float64) float64, y float64) {
		pos := func(v float64) float64 { return x(math.Min(math.Max(at(v), 0), 1)) }
		s.box(wash, pos(one.Published.P1), y-10, pos(one.Published.P99), y+10)
		s.stroke(mid, 1.6, dashed, pos(one.Published.P50), y-10, pos(one.Published.P50), y+10)
		if !one.Shop.given() {
			s.onPaper(x(0)+4, y, page.TooFew, soft, small)
			return
		}
		s.stroke(ink, 2, nil, pos(one.Shop.P5), y, pos(one.Shop.P95), y)
		if finite(one.Shop.P25) && finite(one.Shop.P75) {
			s.halfBox(pos(one.Shop.P25), pos(one.Shop.P75), y)
		}
		s.mark(disc, accent, pos(one.Shop.P50), y, 3.6)
	}
	return out
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

// short writes a middle with as many decimals as a person wants.
func short(x float64) string {
	if !finite(x) {
		return "–"
	}
	if math.Abs(x) < 10 {
		return page.Fixed(x, 2)
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
