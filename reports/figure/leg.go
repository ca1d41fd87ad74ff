package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// A Leg shows the girths of both legs over the height of the tape.
type Leg struct {
	ID, Title, Desc string
	Unit            string // of the heights' labels: "in" or "cm"
	UnitMM          float64
	Points          []LegPoint
	Band            []LegBand // what the other numbers leave likely, by height
}

// A LegPoint is one girth.
type LegPoint struct {
	Side       form.Side
	Clothing   form.Clothing
	HeightMM   float64
	GirthMM    float64
	ExpectedMM float64
	Doubt      bool
}

// A LegBand is the likely girth at a height.
type LegBand struct{ HeightMM, Low, High float64 }

// LegChart draws a Leg, standing: height up, girth across.
func LegChart(l Leg) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "side", Title: "Side"}, {Key: "clothing", Title: "Clothing"}, {Key: "height_mm", Title: "Height", Unit: "mm", Numeric: true},
		{Key: "girth_mm", Title: "Girth", Unit: "mm", Numeric: true}, {Key: "expected_mm", Title: "Expected", Unit: "mm", Numeric: true}, {Key: "doubt", Title: "In doubt"}}}
	for _, p := range l.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(p.Side.String()), page.Text(p.Clothing.String()), page.Number(p.HeightMM, 1), page.Number(p.GirthMM, 1), page.Number(p.ExpectedMM, 1), page.YesNo(p.Doubt)})
	}
	if len(l.Points) == 0 {
		return svg.Nothing(l.ID, l.Title, "No leg girths on this form.", t).Figure()
	}
	return svg.Plan{ID: l.ID, Title: l.Title, Desc: l.Desc, Data: t, Keys: l.keys(),
		Heading: "height of the tape, " + l.Unit,
		Height:  func(vg.Length) vg.Length { return 290 },
		Draw:    func(c draw.Canvas) { l.plot().Draw(c) },
	}.Figure()
}

// legSides are how the sides are told apart.
var legSides = []struct {
	side form.Side
	svg.Mark
	svg.Tone
}{{form.Left, svg.Disc, svg.Ink}, {form.Right, svg.Square, svg.Mid}}

func (l Leg) keys() []svg.Key {
	var keys []svg.Key
	for _, s := range legSides {
		keys = append(keys, svg.KeyMark(s.side.String(), s.Mark, s.Tone))
	}
	if slices.ContainsFunc(l.Points, func(p LegPoint) bool { return p.Clothing == form.Tucked }) {
		keys = append(keys, svg.KeyLine("over trousers", svg.Stroke(svg.Ink, 1.4, svg.Dashed)))
	}
	if len(l.Band) > 0 {
		keys = append(keys, svg.KeyBand("where the other numbers put it", svg.Wash))
	}
	if slices.ContainsFunc(l.Points, func(p LegPoint) bool { return p.Doubt }) {
		keys = append(keys, svg.KeyMark("in doubt", svg.Diamond, svg.Accent))
	}
	return keys
}

func (l Leg) plot() *plot.Plot {
	p := svg.NewPlot()
	var lower, upper plotter.XYs
	for _, b := range l.Band {
		if svg.Finite(b.Low) && svg.Finite(b.High) && svg.Finite(b.HeightMM) {
			lower = append(lower, plotter.XY{X: b.Low, Y: b.HeightMM})
			upper = append(upper, plotter.XY{X: b.High, Y: b.HeightMM})
		}
	}
	p.Add(svg.Band(lower, upper)...)
	p.X.Label.Text = "girth, mm, n " + page.Thousands(len(l.Points)) + " numbers"
	p.Y.Tick.Marker = plot.ConstantTicks(l.heights())
	p.Add(&plotter.Grid{Vertical: svg.Stroke(svg.Line, 0.8, nil), Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	for _, s := range legSides {
		for _, clothing := range form.Clothings {
			var girth, doubt plotter.XYs
			for _, q := range l.Points {
				if q.Side != s.side || q.Clothing != clothing || !svg.Finite(q.GirthMM) || !svg.Finite(q.HeightMM) {
					continue
				}
				girth = append(girth, plotter.XY{X: q.GirthMM, Y: q.HeightMM})
				if q.Doubt {
					doubt = append(doubt, plotter.XY{X: q.GirthMM, Y: q.HeightMM})
				}
			}
			sty := svg.Stroke(s.Tone, 1.6, nil)
			if clothing == form.Tucked {
				sty.Dashes = svg.Dashed
			}
			if len(girth) > 0 {
				p.Add(&plotter.Line{XYs: girth, LineStyle: sty}, svg.Scatter(girth, svg.Glyph(s.Mark, s.Tone, 3.8)))
			}
			if len(doubt) > 0 {
				p.Add(svg.Scatter(doubt, svg.Glyph(svg.Diamond, svg.Accent, 5)))
			}
		}
	}
	dx, dy := 0.04*(p.X.Max-p.X.Min), 0.06*(p.Y.Max-p.Y.Min)
	if svg.Finite(dx) && svg.Finite(dy) {
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = p.X.Min-dx, p.X.Max+dx, p.Y.Min-dy, p.Y.Max+dy
	}
	return p
}

// heights are the places of the tape, each once.
func (l Leg) heights() []plot.Tick {
	unit := l.UnitMM
	if !(unit > 0) {
		unit = 10
	}
	var out []plot.Tick
	for _, p := range l.Points {
		if svg.Finite(p.HeightMM) && !slices.ContainsFunc(out, func(t plot.Tick) bool { return math.Abs(t.Value-p.HeightMM) < 8 }) {
			out = append(out, plot.Tick{Value: p.HeightMM, Label: svg.Round(p.HeightMM/unit, 2)})
		}
	}
	return out
}
