package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// A Frontier is how many remakes the best set of rules avoids for each number of
// call-backs a month.
type Frontier struct {
	ID, Title, Desc string
	N               int // first forms that it rests on
	Points          []FrontierPoint
	// Chosen is where the chosen set stands; Budget is the number of call-backs
	// that can be made. NaN: none.
	ChosenHeld, ChosenAvoided, Budget float64
}

// A FrontierPoint is the best set at a number of call-backs.
type FrontierPoint struct {
	Held, Avoided, Low, High float64
	Rules                    string
}

var (
	frontierLine   = stroke(ink, 1.8, nil)
	frontierPoint  = glyph(disc, ink, 3.5)
	frontierChosen = glyph(diamond, accent, 6)
	frontierBudget = stroke(accent, 1.4, dashed)
)

// FrontierChart draws a Frontier.
func FrontierChart(f Frontier) page.Figure {
	data := frontierTable(f)
	if len(f.Points) == 0 {
		return nothing(f.ID, f.Title, "No rule avoids anything, as far as these orders tell: nothing to draw.", data).figure()
	}
	keys := []key{keyLine("best set for so many call-backs", frontierLine), keyBand("its 95 % interval", wash)}
	if finite(f.ChosenHeld) && finite(f.ChosenAvoided) {
		keys = append(keys, key{"the set that is chosen", scatter(nil, frontierChosen)})
	}
	if finite(f.Budget) {
		keys = append(keys, keyLine("call-backs that can be made", frontierBudget))
	}
	return plan{
		id: f.ID, title: f.Title, desc: f.Desc, data: data, keys: keys,
		heading: "remakes avoided per 100 orders", foot: "across: first forms held a month, n " + page.Thousands(f.N) + " first forms",
		height: func(vg.Length) vg.Length { return 230 },
		draw:   func(c draw.Canvas) { f.plot().Draw(c) },
	}.figure()
}

func (f Frontier) plot() *plot.Plot {
	p := newPlot()
	at, avoided := []float64{0}, []float64{0}
	low, high := plotter.XYs{{}}, plotter.XYs{{}}
	for _, q := range f.Points {
		if !finite(q.Held) || !finite(q.Avoided) {
			continue
		}
		at, avoided = append(at, q.Held), append(avoided, q.Avoided)
		if finite(q.Low) && finite(q.High) {
			low, high = append(low, plotter.XY{X: q.Held, Y: q.Low}), append(high, plotter.XY{X: q.Held, Y: q.High})
		}
	}
	p.X.Min, p.X.Max = 0, 0
	p.Y.Min, p.Y.Max = 0, 0
	for _, q := range append(low, high...) {
		p.Y.Min, p.Y.Max = math.Min(p.Y.Min, q.Y), math.Max(p.Y.Max, q.Y)
	}
	for i := range at {
		p.X.Max, p.Y.Max = math.Max(p.X.Max, at[i]), math.Max(p.Y.Max, avoided[i])
	}
	if finite(f.Budget) {
		p.X.Max = math.Max(p.X.Max, math.Min(f.Budget, 1.5*p.X.Max))
	}
	p.X.Max, p.Y.Max = 1.04*p.X.Max, math.Max(1e-3, 1.06*p.Y.Max)
	right, top, bottom := p.X.Max, p.Y.Max, p.Y.Min
	band := append(plotter.XYs{}, low...)
	for i := len(high) - 1; i >= 0; i-- {
		band = append(band, high[i])
	}
	p.Add(&plotter.Polygon{XYs: []plotter.XYs{band}, Color: wash}, &plotter.Grid{Horizontal: stroke(line, 0.8, nil)})
	if finite(f.Budget) && f.Budget <= right {
		p.Add(&plotter.Line{XYs: plotter.XYs{{X: f.Budget, Y: bottom}, {X: f.Budget, Y: top}}, LineStyle: frontierBudget})
	}
	p.Add(&plotter.Line{XYs: xys(at, avoided), LineStyle: frontierLine}, scatter(xys(at[1:], avoided[1:]), frontierPoint))
	if finite(f.ChosenHeld) && finite(f.ChosenAvoided) {
		p.Add(scatter(plotter.XYs{{X: f.ChosenHeld, Y: f.ChosenAvoided}}, frontierChosen))
	}
	p.X.Max, p.Y.Max, p.Y.Min = right, top, bottom
	return p
}

func frontierTable(f Frontier) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "held_a_month", Title: "First forms held a month", Numeric: true}, {Key: "avoided_per_100", Title: "Avoided", Unit: "per 100", Numeric: true},
		{Key: "low_per_100", Title: "from", Unit: "per 100", Numeric: true}, {Key: "high_per_100", Title: "to", Unit: "per 100", Numeric: true}, {Key: "rules", Title: "Rules"},
	}}
	for _, q := range f.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Number(q.Held, 1), page.Number(q.Avoided, 2), page.Number(q.Low, 2), page.Number(q.High, 2), page.Text(q.Rules)})
	}
	return t
}
