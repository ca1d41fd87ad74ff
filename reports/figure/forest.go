package figure

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// A Forest shows differences with their intervals, a group a row: the crude
// one and, where there is one, the adjusted one under it.
type Forest struct {
	ID, Title, Desc string
	Axis            string  // "more remakes per 100 orders with the fault than without"
	Scale           float64 // what the differences are multiplied with for the axis: 100
	Rows            []ForestRow
}

// A ForestRow is one group of a Forest.
type ForestRow struct {
	Label                string
	N                    int // orders with it
	Events               int
	Crude, Adjusted      stats.Estimate // an Estimate without a method: none was made
	Behind, BehindEvents page.Ref       // the orders of N and of Events
}

// ForestChart draws a Forest.
func ForestChart(f Forest) page.Figure {
	data := forestTable(f)
	if len(f.Rows) == 0 {
		return svg.Nothing(f.ID, f.Title, "Nothing to compare yet.", data).Figure()
	}
	crude := estimates{scale: f.Scale, glyph: svg.Glyph(svg.Ring, svg.Soft, 4), width: 1.2}
	adjusted := estimates{scale: f.Scale, glyph: svg.Glyph(svg.Square, svg.Accent, 4), width: 2}
	r := svg.Rows{ID: f.ID, Title: f.Title, Desc: f.Desc, Data: data, Axis: f.Axis, Zero: 0,
		Right: "remade of those with it · difference", Keys: []svg.Key{{Label: "as counted", Thumb: svg.Scatter(nil, crude.glyph)}}}
	for i, one := range f.Rows {
		both := one.Adjusted.Method != "" && one.Adjusted.Given()
		best, shift := one.Crude, 0.0
		if both {
			best, shift = one.Adjusted, 6
			adjusted.add(i, -shift, one.Adjusted)
		}
		crude.add(i, shift, one.Crude)
		out := svg.Row{Label: one.Label, Right: page.Thousands(one.Events) + " of " + page.Thousands(one.N)}
		if best.Given() {
			out.Right += " · " + strings.ReplaceAll(page.Scaled(best, f.Scale, 1).Text, "-", "−")
		} else {
			out.Words = page.TooFew
		}
		r.Rows = append(r.Rows, out)
	}
	if len(adjusted.of) > 0 {
		r.Keys = append(r.Keys, svg.Key{Label: "adjusted for the other faults and the order", Thumb: svg.Scatter(nil, adjusted.glyph)})
	}
	r.Lo, r.Hi = svg.ScaleOver(append(crude.points(), adjusted.points()...), append(crude.ends(), adjusted.ends()...), 2)
	r.Marks = func(at svg.Place) []plot.Plotter {
		return append(adjusted.plotters(at, r.Lo, r.Hi), crude.plotters(at, r.Lo, r.Hi)...)
	}
	return r.Figure()
}

// estimates are points with their intervals, at most one a row, all of one
// look.
type estimates struct {
	scale float64
	glyph draw.GlyphStyle
	width vg.Length
	of    []struct {
		row   int
		shift float64
		stats.Estimate
	}
}

func (es *estimates) add(row int, shift float64, e stats.Estimate) {
	if e.Given() {
		es.of = append(es.of, struct {
			row   int
			shift float64
			stats.Estimate
		}{row, shift, e})
	}
}

func (es *estimates) points() (out []float64) {
	for _, e := range es.of {
		out = append(out, e.Point*es.scale)
	}
	return out
}

func (es *estimates) ends() (out []float64) {
	for _, e := range es.of {
		out = append(out, e.Low*es.scale, e.High*es.scale)
	}
	return out
}

// plotters are the intervals and the points; a point beyond the scale is left
// to its arrow.
func (es *estimates) plotters(at svg.Place, lo, hi float64) []plot.Plotter {
	spans := svg.Whiskers{LineStyle: draw.LineStyle{Color: es.glyph.Color, Width: es.width}}
	points := svg.Scatter(nil, es.glyph)
	for _, e := range es.of {
		y := at(e.row, e.shift)
		spans.Spans = append(spans.Spans, svg.Span{Lo: e.Low * es.scale, Hi: e.High * es.scale, Y: y})
		if p := e.Point * es.scale; p >= lo && p <= hi {
			points.XYs = append(points.XYs, plotter.XY{X: p, Y: y})
		}
	}
	return []plot.Plotter{spans, points}
}

func forestTable(f Forest) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "group", Title: "Group"}, {Key: "orders_with", Title: "Orders with it", Numeric: true}, {Key: "remade_with", Title: "Remade", Numeric: true},
		{Key: "crude", Title: "Difference as counted", Unit: "per 100 orders", Numeric: true},
		{Key: "adjusted", Title: "Difference adjusted", Unit: "per 100 orders", Numeric: true},
	}}
	for _, r := range f.Rows {
		adj := page.Cell{Text: "not made"}
		if r.Adjusted.Method != "" {
			adj = page.Scaled(r.Adjusted, f.Scale, 1)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.CountOf(r.N, r.Behind), page.CountOf(r.Events, r.BehindEvents), page.Scaled(r.Crude, f.Scale, 1), adj})
	}
	t.Notes = page.Refusals(t.Rows)
	return t
}

// A Scorecard shows rules: the share of first forms each holds, and the share
// of remakes it would have caught. The further the second lies to the right of
// the first, the better the rule earns its work.
type Scorecard struct {
	ID, Title, Desc string
	Rows            []ScoreRow
}

// A ScoreRow is one rule of a Scorecard.
type ScoreRow struct {
	Label                string
	Held, Caught         int
	HeldShare            stats.Estimate
	Sensitivity          stats.Estimate
	Behind, BehindCaught page.Ref // the orders of Held and of Caught
}

// ScorecardChart draws a Scorecard.
func ScorecardChart(c Scorecard) page.Figure {
	t := page.Table{Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "held", Title: "Forms held", Numeric: true}, {Key: "held_share", Title: "Share held", Unit: "%", Numeric: true},
		{Key: "caught", Title: "Remakes caught", Numeric: true}, {Key: "sensitivity", Title: "Share caught", Unit: "%", Numeric: true},
	}}
	for _, r := range c.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.CountOf(r.Held, r.Behind), page.Percent(r.HeldShare), page.CountOf(r.Caught, r.BehindCaught), page.Percent(r.Sensitivity)})
	}
	t.Notes = page.Refusals(t.Rows)
	if len(c.Rows) == 0 {
		return svg.Nothing(c.ID, c.Title, "No rule to score.", t).Figure()
	}
	held := estimates{scale: 100, glyph: svg.Glyph(svg.Ring, svg.Soft, 4)}
	caught := estimates{scale: 100, glyph: svg.Glyph(svg.Square, svg.Accent, 4), width: 1.8}
	r := svg.Rows{ID: c.ID, Title: c.Title, Desc: c.Desc, Data: t, Zero: math.NaN(), Axis: "% of first forms, % of remakes", Right: "held · remakes caught",
		Keys: []svg.Key{{Label: "share of first forms it holds (work)", Thumb: svg.Scatter(nil, held.glyph)}, {Label: "share of remakes among them (worth)", Thumb: svg.Scatter(nil, caught.glyph)}}}
	for i, one := range c.Rows {
		out := svg.Row{Label: one.Label, Right: page.Thousands(one.Held) + " held · " + page.Thousands(one.Caught) + " caught"}
		if !one.HeldShare.Given() && !one.Sensitivity.Given() {
			out.Words = page.TooFew
		}
		r.Rows = append(r.Rows, out)
		caught.add(i, 0, one.Sensitivity)
		held.add(i, 0, one.HeldShare)
	}
	_, hi := svg.ScaleOver(append(held.points(), caught.points()...), caught.ends(), 10)
	r.Lo, r.Hi = 0, math.Min(hi, 100)
	r.Marks = func(at svg.Place) []plot.Plotter {
		return append(caught.plotters(at, 0, r.Hi), held.plotters(at, 0, r.Hi)[1])
	}
	return r.Figure()
}
