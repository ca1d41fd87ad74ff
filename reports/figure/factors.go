package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
	"lastroom/reports/figure/svg"
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
		row := []page.Cell{{Text: svg.Round(at, 2), Value: at}}
		for _, l := range v.Lines {
			row = append(row, page.Percent(l.Shares[k]))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = page.Refusals(t.Rows)
	if len(v.At) < 2 || len(v.Lines) == 0 || !slices.ContainsFunc(v.Lines[0].Shares[1:], stats.Estimate.Given) {
		return svg.Nothing(v.ID, v.Title, "Too few remakes to tell: nothing to draw.", t).Figure()
	}
	return svg.Plan{
		ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Keys: v.keys(), Heading: v.Y, Foot: "across: " + v.X,
		Height: func(vg.Length) vg.Length { return 230 },
		Draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.Figure()
}

// factorStrokes tell the lines apart, by dash and weight besides tone.
var factorStrokes = []draw.LineStyle{
	svg.Stroke(svg.Ink, 2, nil), svg.Stroke(svg.Accent, 1.6, svg.Dashed), svg.Stroke(svg.Soft, 1.6, svg.Dotted), svg.Stroke(svg.Mid, 1.6, []vg.Length{9, 3, 2, 3}), svg.Stroke(svg.Step2, 1.6, []vg.Length{3, 2}),
}

// drawn are as many lines as can be told apart; the table has all.
func (v Factors) drawn() []FactorLine { return v.Lines[:min(len(v.Lines), len(factorStrokes))] }

func (v Factors) keys() []svg.Key {
	var keys []svg.Key
	for i, l := range v.drawn() {
		keys = append(keys, svg.KeyLine(l.Label+", n "+page.Thousands(l.N), factorStrokes[i]))
	}
	return append(keys, svg.KeyBand("95 % interval, "+v.Lines[0].Label, svg.Wash))
}

func (v Factors) plot() *plot.Plot {
	p := svg.NewPlot()
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
	p.Add(svg.Band(lower, upper)...)
	p.Y.Tick.Marker = svg.Rounds{Scale: 100}
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	for i, l := range slices.Backward(v.drawn()) {
		y := make([]float64, len(l.Shares))
		for k, e := range l.Shares {
			y[k] = e.Point
		}
		p.Add(svg.Lines(v.At, y, factorStrokes[i])...)
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
var turnMarks = []draw.GlyphStyle{svg.Glyph(svg.Ring, svg.Soft, 4), svg.Glyph(svg.Square, svg.Soft, 3.5), svg.Glyph(svg.Disc, svg.Mid, 3.5), svg.Glyph(svg.Diamond, svg.Mid, 3.5)}

// TurnChart draws Turns.
func TurnChart(v Turns) page.Figure {
	t := v.table()
	if len(v.Rows) == 0 {
		return svg.Nothing(v.ID, v.Title, "No conclusion that could turn.", t).Figure()
	}
	all := svg.Glyph(svg.Diamond, svg.Accent, 4)
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Axis: v.Axis, Zero: 1, Lo: 0, Hi: v.Drawn,
		Keys: []svg.Key{{Label: "it turns here", Thumb: svg.Scatter(nil, all)}}}
	for g, name := range v.Groups[:min(len(v.Groups), len(turnMarks))] {
		r.Keys = append(r.Keys, svg.Key{Label: "only " + name, Thumb: svg.Scatter(nil, turnMarks[g])})
	}
	for _, one := range v.Rows {
		right := "does not turn up to " + svg.Round(v.Most, 0)
		if svg.Finite(one.At) {
			right = "turns at " + svg.Round(one.At, 2)
		}
		r.Rows = append(r.Rows, svg.Row{Label: one.Label, Right: right})
	}
	r.Marks = func(at svg.Place) []plot.Plotter {
		spans, ends := svg.Whiskers{LineStyle: svg.Stroke(svg.Accent, 2, nil)}, svg.Scatter(nil, all)
		groups := make([]*plotter.Scatter, min(len(v.Groups), len(turnMarks)))
		for g := range groups {
			groups[g] = svg.Scatter(nil, turnMarks[g])
		}
		for i, one := range v.Rows {
			to := one.At
			if !svg.Finite(to) {
				to = 2 * v.Drawn
			}
			spans.Spans = append(spans.Spans, svg.Span{Lo: 0, Hi: to, Y: at(i, 6)})
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
	return r.Figure()
}

func (v Turns) table() page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "what", Title: "Finding"}, {Key: "said", Title: "As counted"}, {Key: "factor", Title: "Turns at", Numeric: true}, {Key: "to", Title: "Then"},
	}}
	for _, g := range v.Groups {
		t.Columns = append(t.Columns, page.Column{Key: "only_" + g, Title: "Only " + g, Numeric: true})
	}
	turn := func(x float64) page.Cell {
		if !svg.Finite(x) {
			return page.Cell{Text: "not up to " + svg.Round(v.Most, 0)}
		}
		return page.Cell{Text: svg.Round(x, 2), Value: x}
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
