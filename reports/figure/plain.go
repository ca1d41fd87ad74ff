package figure

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// Intervals are labelled estimates over one scale, for any question.
type Intervals struct {
	ID, Title, Desc string
	Axis            string  // what the scale shows, with its unit
	Scale           float64 // what the estimates are multiplied with; 0 is 1
	Decimals        int
	Zero            float64 // a line across the rows: 0 for differences, 1 for ratios, NaN for none
	Rows            []IntervalRow
}

// An IntervalRow is one estimate; its N stands beside it.
type IntervalRow struct {
	Label string
	E     stats.Estimate
}

// IntervalChart draws Intervals.
func IntervalChart(v Intervals) page.Figure {
	if v.Scale == 0 {
		v.Scale = 1
	}
	t := page.Table{Columns: []page.Column{{Key: "label", Title: "Of"}, {Key: "n", Title: "n", Numeric: true}, {Key: "estimate", Title: v.Axis, Numeric: true}}}
	for _, r := range v.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Count(r.E.N), page.Scaled(r.E, v.Scale, v.Decimals)})
	}
	t.Notes = page.Refusals(t.Rows)
	if len(v.Rows) == 0 {
		return svg.Nothing(v.ID, v.Title, "Nothing to compare.", t).Figure()
	}
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Axis: v.Axis, Zero: v.Zero, Right: "n · estimate"}
	es := estimates{scale: v.Scale, glyph: svg.Glyph(svg.Square, svg.Accent, 4), width: 1.8}
	for i, one := range v.Rows {
		out := svg.Row{Label: one.Label, Right: "n " + page.Thousands(one.E.N)}
		if one.E.Given() {
			out.Right += " · " + strings.ReplaceAll(page.Scaled(one.E, v.Scale, v.Decimals).Text, "-", "−")
			es.add(i, 0, one.E)
		} else {
			out.Words = page.TooFew
		}
		r.Rows = append(r.Rows, out)
	}
	r.Lo, r.Hi = svg.ScaleOver(append(es.points(), v.Zero), es.ends(), 1e-9)
	r.Marks = func(at svg.Place) []plot.Plotter { return es.plotters(at, r.Lo, r.Hi) }
	return r.Figure()
}

// Bars are labelled counts.
type Bars struct {
	ID, Title, Desc string
	Axis            string
	Rows            []Bar
}

// A Bar is one count (or another number that is not negative).
type Bar struct {
	Label string
	Value float64
}

// BarChart draws Bars.
func BarChart(v Bars) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "label", Title: "Of"}, {Key: "value", Title: v.Axis, Numeric: true}}}
	most := 0.0
	for _, b := range v.Rows {
		c := page.Cell{Text: svg.Round(b.Value, 2)}
		if svg.Finite(b.Value) {
			c.Value = b.Value
			most = math.Max(most, b.Value)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(b.Label), c})
	}
	if most <= 0 {
		return svg.Nothing(v.ID, v.Title, "Nothing to count.", t).Figure()
	}
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Axis: v.Axis, Zero: 0, Lo: 0, Hi: most * 1.04}
	r.Marks = func(at svg.Place) []plot.Plotter {
		var bars svg.Boxes
		for i, b := range v.Rows {
			bars = append(bars, svg.Box{X0: 0, X1: math.Max(b.Value, 0), Y0: at(i, -7), Y1: at(i, 7)})
		}
		return []plot.Plotter{bars.Polygon(svg.Accent, draw.LineStyle{})}
	}
	for _, b := range v.Rows {
		r.Rows = append(r.Rows, svg.Row{Label: b.Label, Right: svg.Round(b.Value, 2)})
	}
	return r.Figure()
}
