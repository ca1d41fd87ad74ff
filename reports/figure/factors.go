package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// Factors shows a share that rests on an assumption, along the factor that says
// how strong it is: a line a group, the first with its interval as a band.
type Factors struct {
	ID, Title, Desc string
	Y, X            string // what the scales show
	At              []float64
	Lines           []FactorLine
}

// A FactorLine is a group's share at each factor.
type FactorLine struct {
	Label  string
	N      int // what it rests on
	Shares []stats.Estimate
}

// FactorChart draws Factors.
func FactorChart(v Factors) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "factor", Title: v.X, Numeric: true}}}
	for _, l := range v.Lines {
		t.Columns = append(t.Columns, page.Column{Key: l.Label, Title: l.Label + ", n " + page.Thousands(l.N), Unit: "%", Numeric: true})
	}
	for k, at := range v.At {
		row := []page.Cell{{Text: round(at, 2), Value: at}}
		for _, l := range v.Lines {
			row = append(row, page.Percent(l.Shares[k]))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = page.Refusals(t.Rows)
	if len(v.At) < 2 || len(v.Lines) == 0 || !slices.ContainsFunc(v.Lines[0].Shares[1:], stats.Estimate.Given) {
		return nothing(v.ID, v.Title, "Too few remakes to tell: nothing to draw.", t).figure()
	}
	return plan{
		id: v.ID, title: v.Title, desc: v.Desc, data: t, keys: v.keys(), heading: v.Y, foot: "across: " + v.X,
		height: func(vg.Length) vg.Length { return 230 },
		draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.figure()
}

// factorStrokes tell the lines apart, by dash and weight besides tone.
var factorStrokes = []draw.LineStyle{
	stroke(ink, 2, nil), stroke(accent, 1.6, dashed), stroke(soft, 1.6, dotted), stroke(mid, 1.6, []vg.Length{9, 3, 2, 3}), stroke(step2, 1.6, []vg.Length{3, 2}),
}

// drawn are as many lines as can be told apart; the table has all.
func (v Factors) drawn() []FactorLine { return v.Lines[:min(len(v.Lines), len(factorStrokes))] }

func (v Factors) keys() []key {
	var keys []key
	for i, l := range v.drawn() {
		keys = append(keys, keyLine(l.Label+", n "+page.Thousands(l.N), factorStrokes[i]))
	}
	return append(keys, keyBand("95 % interval, "+v.Lines[0].Label, wash))
}

func (v Factors) plot() *plot.Plot {
	p := newPlot()
	p.X.Min, p.X.Max = v.At[0], v.At[len(v.At)-1]
	p.Y.Min, p.Y.Max = 0, 0.02
	var lower, upper plotter.XYs
	for i, l := range v.drawn() {
		for k, e := range l.Shares {
			if e.Given() {
				p.Y.Max = math.Max(p.Y.Max, 1.05*e.Point)
			}
			if i == 0 && e.Given() && e.Bounded() {
				p.Y.Max = math.Max(p.Y.Max, 1.05*e.High)
				lower, upper = append(lower, plotter.XY{X: v.At[k], Y: e.Low}), append(upper, plotter.XY{X: v.At[k], Y: e.High})
			}
		}
	}
	top := math.Min(1, p.Y.Max)
	slices.Reverse(upper)
	if len(lower) > 1 {
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{append(lower, upper...)}, Color: wash})
	}
	p.Y.Tick.Marker = rounds{scale: 100}
	p.Add(&plotter.Grid{Horizontal: stroke(line, 0.8, nil)})
	for i, l := range slices.Backward(v.drawn()) {
		y := make([]float64, len(l.Shares))
		for k, e := range l.Shares {
			y[k] = e.Point
		}
		p.Add(lines(v.At, y, factorStrokes[i])...)
	}
	p.Y.Max = top
	return p
}

// Turns shows how far an assumption may go before a conclusion turns, a
// conclusion a row.
type Turns struct {
	ID, Title, Desc string
	Axis            string // what the factor is
	Most            float64
	Drawn           float64 // right end of the scale; further turns lie beyond
	Groups          []string
	Rows            []TurnRow
}

// A TurnRow is one conclusion.
type TurnRow struct {
	Label, Said, To string
	At              float64   // NaN: none up to Most
	Groups          []float64 // in one group only, as the groups of Turns; NaN: none
}

// turnMarks tell the groups apart.
var turnMarks = []draw.GlyphStyle{glyph(ring, soft, 4), glyph(square, soft, 3.5), glyph(disc, mid, 3.5), glyph(diamond, mid, 3.5)}

// TurnChart draws Turns.
func TurnChart(v Turns) page.Figure {
	t := v.table()
	if len(v.Rows) == 0 {
		return nothing(v.ID, v.Title, "No conclusion that could turn.", t).figure()
	}
	all := glyph(diamond, accent, 4)
	r := rows{id: v.ID, title: v.Title, desc: v.Desc, data: t, axis: v.Axis, zero: 1, lo: 0, hi: v.Drawn,
		keys: []key{{"it turns here", scatter(nil, all)}}}
	for g, name := range v.Groups[:min(len(v.Groups), len(turnMarks))] {
		r.keys = append(r.keys, key{"only " + name, scatter(nil, turnMarks[g])})
	}
	for _, one := range v.Rows {
		right := "does not turn up to " + round(v.Most, 0)
		if finite(one.At) {
			right = "turns at " + round(one.At, 2)
		}
		r.rows = append(r.rows, row{label: one.Label, right: right})
	}
	r.marks = func(at place) []plot.Plotter {
		spans, ends := whiskers{LineStyle: stroke(accent, 2, nil)}, scatter(nil, all)
		groups := make([]*plotter.Scatter, min(len(v.Groups), len(turnMarks)))
		for g := range groups {
			groups[g] = scatter(nil, turnMarks[g])
		}
		for i, one := range v.Rows {
			to := one.At
			if !finite(to) {
				to = 2 * v.Drawn
			}
			spans.spans = append(spans.spans, span{0, to, at(i, 6)})
			if to <= v.Drawn {
				ends.XYs = append(ends.XYs, plotter.XY{X: to, Y: at(i, 6)})
			}
			for g := range groups {
				if g < len(one.Groups) && one.Groups[g] <= v.Drawn {
					groups[g].XYs = append(groups[g].XYs, plotter.XY{X: one.Groups[g], Y: at(i, -7)})
				}
			}
		}
		out := []plot.Plotter{spans, ends}
		for _, g := range groups {
			out = append(out, g)
		}
		return out
	}
	return r.figure()
}

func (v Turns) table() page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "what", Title: "Finding"}, {Key: "said", Title: "As counted"}, {Key: "factor", Title: "Turns at", Numeric: true}, {Key: "to", Title: "Then"},
	}}
	for _, g := range v.Groups {
		t.Columns = append(t.Columns, page.Column{Key: "only_" + g, Title: "Only " + g, Numeric: true})
	}
	turn := func(x float64) page.Cell {
		if !finite(x) {
			return page.Cell{Text: "not up to " + round(v.Most, 0)}
		}
		return page.Cell{Text: round(x, 2), Value: x}
	}
	for _, one := range v.Rows {
		row := []page.Cell{page.Text(one.Label), page.Text(one.Said), turn(one.At), page.Text(one.To)}
		for _, x := range one.Groups {
			row = append(row, turn(x))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
