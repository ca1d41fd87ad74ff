package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
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
		return nothing(l.ID, l.Title, "No leg girths on this form.", t).figure()
	}
	return plan{id: l.ID, title: l.Title, desc: l.Desc, data: t, keys: l.keys(),
		heading: "height of the tape, " + l.Unit,
		height:  func(vg.Length) vg.Length { return 290 },
		draw:    func(c draw.Canvas) { l.plot().Draw(c) },
	}.figure()
}

// legSides are how the sides are told apart.
var legSides = []struct {
	side form.Side
	mark
	tone
}{{form.Left, disc, ink}, {form.Right, square, mid}}

func (l Leg) keys() []key {
	var keys []key
	for _, s := range legSides {
		keys = append(keys, keyMark(s.side.String(), s.mark, s.tone))
	}
	if slices.ContainsFunc(l.Points, func(p LegPoint) bool { return p.Clothing == form.Tucked }) {
		keys = append(keys, keyLine("over trousers", stroke(ink, 1.4, dashed)))
	}
	if len(l.Band) > 0 {
		keys = append(keys, keyBand("where the other numbers put it", wash))
	}
	if slices.ContainsFunc(l.Points, func(p LegPoint) bool { return p.Doubt }) {
		keys = append(keys, keyMark("in doubt", diamond, accent))
	}
	return keys
}

func (l Leg) plot() *plot.Plot {
	p := newPlot()
	var band, upper plotter.XYs
	for _, b := range l.Band {
		if finite(b.Low) && finite(b.High) && finite(b.HeightMM) {
			band = append(band, plotter.XY{X: b.Low, Y: b.HeightMM})
			upper = append(upper, plotter.XY{X: b.High, Y: b.HeightMM})
		}
	}
	slices.Reverse(upper)
	if band = append(band, upper...); len(band) > 2 {
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{band}, Color: wash})
	}
	p.X.Label.Text = "girth, mm, n " + page.Thousands(len(l.Points)) + " numbers"
	p.Y.Tick.Marker = plot.ConstantTicks(l.heights())
	p.Add(&plotter.Grid{Vertical: stroke(line, 0.8, nil), Horizontal: stroke(line, 0.8, nil)})
	for _, s := range legSides {
		for _, clothing := range form.Clothings {
			var girth, doubt plotter.XYs
			for _, q := range l.Points {
				if q.Side != s.side || q.Clothing != clothing || !finite(q.GirthMM) || !finite(q.HeightMM) {
					continue
				}
				girth = append(girth, plotter.XY{X: q.GirthMM, Y: q.HeightMM})
				if q.Doubt {
					doubt = append(doubt, plotter.XY{X: q.GirthMM, Y: q.HeightMM})
				}
			}
			sty := stroke(s.tone, 1.6, nil)
			if clothing == form.Tucked {
				sty.Dashes = dashed
			}
			if len(girth) > 0 {
				p.Add(&plotter.Line{XYs: girth, LineStyle: sty}, scatter(girth, glyph(s.mark, s.tone, 3.8)))
			}
			if len(doubt) > 0 {
				p.Add(scatter(doubt, glyph(diamond, accent, 5)))
			}
		}
	}
	dx, dy := 0.04*(p.X.Max-p.X.Min), 0.06*(p.Y.Max-p.Y.Min)
	if finite(dx) && finite(dy) {
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
		if finite(p.HeightMM) && !slices.ContainsFunc(out, func(t plot.Tick) bool { return math.Abs(t.Value-p.HeightMM) < 8 }) {
			out = append(out, plot.Tick{Value: p.HeightMM, Label: round(p.HeightMM/unit, 2)})
		}
	}
	return out
}
