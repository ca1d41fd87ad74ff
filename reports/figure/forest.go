package figure

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
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
	Label           string
	N               int // orders with it
	Events          int
	Crude, Adjusted stats.Estimate // an Estimate without a method: none was made
}

// ForestChart draws a Forest.
func ForestChart(f Forest) page.Figure {
	data := forestTable(f)
	if len(f.Rows) == 0 {
		return nothing(f.ID, f.Title, "Nothing to compare yet.", data).figure()
	}
	crude := estimates{scale: f.Scale, glyph: glyph(ring, soft, 4), width: 1.2}
	adjusted := estimates{scale: f.Scale, glyph: glyph(square, accent, 4), width: 2}
	r := rows{id: f.ID, title: f.Title, desc: f.Desc, data: data, axis: f.Axis, zero: 0,
		right: "remade of those with it · difference", keys: []key{{"as counted", scatter(nil, crude.glyph)}}}
	for i, one := range f.Rows {
		both := one.Adjusted.Method != "" && one.Adjusted.Given()
		best, shift := one.Crude, 0.0
		if both {
			best, shift = one.Adjusted, 6
			adjusted.add(i, -shift, one.Adjusted)
		}
		crude.add(i, shift, one.Crude)
		out := row{label: one.Label, right: page.Thousands(one.Events) + " of " + page.Thousands(one.N)}
		if best.Given() {
			out.right += " · " + strings.ReplaceAll(page.Scaled(best, f.Scale, 1).Text, "-", "−")
		} else {
			out.words = page.TooFew
		}
		r.rows = append(r.rows, out)
	}
	if len(adjusted.of) > 0 {
		r.keys = append(r.keys, key{"adjusted for the other faults and the order", scatter(nil, adjusted.glyph)})
	}
	r.lo, r.hi = scaleOver(append(crude.points(), adjusted.points()...), append(crude.ends(), adjusted.ends()...), 2)
	r.marks = func(at place) []plot.Plotter {
		return append(adjusted.plotters(at, r.lo, r.hi), crude.plotters(at, r.lo, r.hi)...)
	}
	return r.figure()
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
func (es *estimates) plotters(at place, lo, hi float64) []plot.Plotter {
	spans := whiskers{LineStyle: draw.LineStyle{Color: es.glyph.Color, Width: es.width}}
	points := scatter(nil, es.glyph)
	for _, e := range es.of {
		y := at(e.row, e.shift)
		spans.spans = append(spans.spans, span{e.Low * es.scale, e.High * es.scale, y})
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
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Count(r.N), page.Count(r.Events), page.Scaled(r.Crude, f.Scale, 1), adj})
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
	Label        string
	Held, Caught int
	HeldShare    stats.Estimate
	Sensitivity  stats.Estimate
}

// ScorecardChart draws a Scorecard.
func ScorecardChart(c Scorecard) page.Figure {
	t := page.Table{Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "held", Title: "Forms held", Numeric: true}, {Key: "held_share", Title: "Share held", Unit: "%", Numeric: true},
		{Key: "caught", Title: "Remakes caught", Numeric: true}, {Key: "sensitivity", Title: "Share caught", Unit: "%", Numeric: true},
	}}
	for _, r := range c.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Count(r.Held), page.Percent(r.HeldShare), page.Count(r.Caught), page.Percent(r.Sensitivity)})
	}
	t.Notes = page.Refusals(t.Rows)
	if len(c.Rows) == 0 {
		return nothing(c.ID, c.Title, "No rule to score.", t).figure()
	}
	held := estimates{scale: 100, glyph: glyph(ring, soft, 4)}
	caught := estimates{scale: 100, glyph: glyph(square, accent, 4), width: 1.8}
	r := rows{id: c.ID, title: c.Title, desc: c.Desc, data: t, zero: math.NaN(), axis: "% of first forms, % of remakes", right: "held · remakes caught",
		keys: []key{{"share of first forms it holds (work)", scatter(nil, held.glyph)}, {"share of remakes among them (worth)", scatter(nil, caught.glyph)}}}
	for i, one := range c.Rows {
		out := row{label: one.Label, right: page.Thousands(one.Held) + " held · " + page.Thousands(one.Caught) + " caught"}
		if !one.HeldShare.Given() && !one.Sensitivity.Given() {
			out.words = page.TooFew
		}
		r.rows = append(r.rows, out)
		caught.add(i, 0, one.Sensitivity)
		held.add(i, 0, one.HeldShare)
	}
	_, hi := scaleOver(append(held.points(), caught.points()...), caught.ends(), 10)
	r.lo, r.hi = 0, math.Min(hi, 100)
	r.marks = func(at place) []plot.Plotter {
		return append(caught.plotters(at, 0, r.hi), held.plotters(at, 0, r.hi)[1])
	}
	return r.figure()
}
