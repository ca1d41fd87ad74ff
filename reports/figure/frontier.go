package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/figure/svg"
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
	frontierLine   = svg.Stroke(svg.Ink, 1.8, nil)
	frontierPoint  = svg.Glyph(svg.Disc, svg.Ink, 3.5)
	frontierChosen = svg.Glyph(svg.Diamond, svg.Accent, 6)
	frontierBudget = svg.Stroke(svg.Accent, 1.4, svg.Dashed)
)

// FrontierChart draws a Frontier.
func FrontierChart(f Frontier) page.Figure {
	data := frontierTable(f)
	if len(f.Points) == 0 {
		return svg.Nothing(f.ID, f.Title, "No rule avoids anything, as far as these orders tell: nothing to draw.", data).Figure()
	}
	keys := []svg.Key{svg.KeyLine("best set for so many call-backs", frontierLine), svg.KeyBand("its 95 % interval", svg.Wash)}
	if svg.Finite(f.ChosenHeld) && svg.Finite(f.ChosenAvoided) {
		keys = append(keys, svg.Key{Label: "the set that is chosen", Thumb: svg.Scatter(nil, frontierChosen)})
	}
	if svg.Finite(f.Budget) {
		keys = append(keys, svg.KeyLine("call-backs that can be made", frontierBudget))
	}
	return svg.Plan{
		ID: f.ID, Title: f.Title, Desc: f.Desc, Data: data, Keys: keys,
		Heading: "remakes avoided per 100 orders", Foot: "across: first forms held a month, n " + page.Thousands(f.N) + " first forms",
		Height: func(vg.Length) vg.Length { return 230 },
		Draw:   func(c draw.Canvas) { f.plot().Draw(c) },
	}.Figure()
}

func (f Frontier) plot() *plot.Plot {
	p := svg.NewPlot()
	at, avoided := []float64{0}, []float64{0}
	low, high := plotter.XYs{{}}, plotter.XYs{{}}
	for _, q := range f.Points {
		if !svg.Finite(q.Held) || !svg.Finite(q.Avoided) {
			continue
		}
		at, avoided = append(at, q.Held), append(avoided, q.Avoided)
		if svg.Finite(q.Low) && svg.Finite(q.High) {
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
	if svg.Finite(f.Budget) {
		p.X.Max = math.Max(p.X.Max, math.Min(f.Budget, 1.5*p.X.Max))
	}
	p.X.Max, p.Y.Max = 1.04*p.X.Max, math.Max(1e-3, 1.06*p.Y.Max)
	right, top, bottom := p.X.Max, p.Y.Max, p.Y.Min
	p.Add(svg.Band(low, high)...)
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	if svg.Finite(f.Budget) && f.Budget <= right {
		p.Add(&plotter.Line{XYs: plotter.XYs{{X: f.Budget, Y: bottom}, {X: f.Budget, Y: top}}, LineStyle: frontierBudget})
	}
	p.Add(&plotter.Line{XYs: svg.XYs(at, avoided), LineStyle: frontierLine}, svg.Scatter(svg.XYs(at[1:], avoided[1:]), frontierPoint))
	if svg.Finite(f.ChosenHeld) && svg.Finite(f.ChosenAvoided) {
		p.Add(svg.Scatter(plotter.XYs{{X: f.ChosenHeld, Y: f.ChosenAvoided}}, frontierChosen))
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
