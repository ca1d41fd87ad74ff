package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// Curves are cumulative shares over the days since shipping, one small panel a
// group, each over the same reference.
type Curves struct {
	ID, Title, Desc string
	What            string // the share: "remade, % of orders"
	Reference       Curve  // drawn dotted in every panel; no points: none
	Panels          []Panel
	Days            float64 // right end of the scale
}

// A Panel is one group with its curve and, beside it, another estimate.
type Panel struct {
	Label  string
	N      int
	Main   Curve
	Beside Curve // dashed; no points: none
}

// A Curve is a step function: from Day[i] on the share is Share[i]. Low and
// High may be nil.
type Curve struct {
	Label                 string
	Day, Share, Low, High []float64
}

// mostPanels is how many panels are drawn: the newest; the table has all.
const mostPanels = 12

// CurvePanels draws Curves.
func CurvePanels(c Curves) page.Figure {
	data := curveTable(c)
	if len(c.Panels) == 0 {
		return svg.Nothing(c.ID, c.Title, "No quarter with shipped orders yet: nothing to draw.", data).Figure()
	}
	if n := len(c.Panels); n > mostPanels {
		c.Desc += " Drawn are the newest " + page.Thousands(mostPanels) + " of " + page.Thousands(n) + "; the table has all."
		c.Panels = c.Panels[n-mostPanels:]
	}
	hi := c.highest()
	c.Reference = c.Reference.thin(hi)
	return svg.Plan{
		ID: c.ID, Title: c.Title, Desc: c.Desc, Data: data, Keys: c.keys(hi),
		Heading: c.What, Foot: "across: days since shipping",
		Height: func(w vg.Length) vg.Length { rows, _ := c.grid(w); return 122 * vg.Length(rows) },
		Draw: func(dc draw.Canvas) {
			rows, cols := c.grid(dc.Max.X - dc.Min.X)
			plots := make([][]*plot.Plot, rows)
			for i := range rows * cols {
				if i < len(c.Panels) {
					plots[i/cols] = append(plots[i/cols], c.plot(c.Panels[i], hi, i%cols == 0, dc.Max.X/vg.Length(cols)))
				} else {
					plots[i/cols] = append(plots[i/cols], nil)
				}
			}
			tiles := plot.Align(plots, draw.Tiles{Rows: rows, Cols: cols, PadX: 12, PadY: 8}, dc)
			for i := range c.Panels {
				plots[i/cols][i%cols].Draw(tiles[i/cols][i%cols])
			}
		},
	}.Figure()
}

func (c Curves) grid(w vg.Length) (rows, cols int) {
	cols = 4
	if svg.Narrow(w) {
		cols = 2
	}
	cols = min(cols, len(c.Panels))
	return (len(c.Panels) + cols - 1) / cols, cols
}

// highest is the top of the scale: all curves and, as far as they do not
// flatten these, their intervals.
func (c Curves) highest() float64 {
	hi := 0.04
	note := func(vs []float64) {
		for _, v := range vs {
			if svg.Finite(v) {
				hi = math.Max(hi, v)
			}
		}
	}
	for _, p := range c.Panels {
		note(p.Main.Share)
		note(p.Beside.Share)
		for i, v := range p.Main.High {
			if i < len(p.Main.Share) && svg.Finite(v) {
				hi = math.Max(hi, math.Min(v, 2.5*math.Max(p.Main.Share[i], 0.04)))
			}
		}
	}
	note(c.Reference.Share)
	return math.Min(hi*1.05, 1)
}

var (
	curveMain      = svg.Stroke(svg.Ink, 1.8, nil)
	curveBeside    = svg.Stroke(svg.Accent, 1.6, svg.Dashed)
	curveReference = svg.Stroke(svg.Mid, 1.4, svg.Dotted)
	goesOn         = draw.GlyphStyle{Color: svg.Soft, Radius: 3.5, Shape: draw.PyramidGlyph{}}
)

func (c Curves) keys(hi float64) []svg.Key {
	keys := []svg.Key{svg.KeyLine(c.Panels[0].Main.Label, curveMain), svg.KeyBand("its 95 % interval", svg.Wash)}
	if i := slices.IndexFunc(c.Panels, func(p Panel) bool { return len(p.Beside.Day) > 0 }); i >= 0 {
		keys = append(keys, svg.KeyLine(c.Panels[i].Beside.Label, curveBeside))
	}
	if len(c.Reference.Day) > 0 {
		keys = append(keys, svg.KeyLine(c.Reference.Label, curveReference))
	}
	if slices.ContainsFunc(c.Panels, func(p Panel) bool { return len(p.Main.thin(hi).over(hi)) > 0 }) {
		keys = append(keys, svg.Key{Label: "the interval goes on upwards", Thumb: svg.Scatter(nil, goesOn)})
	}
	return keys
}

// thin drops steps that are too small to be seen, so that the drawing of a large
// shop is no larger than that of a small one. The first and last stay.
func (c Curve) thin(hi float64) Curve {
	out := Curve{Label: c.Label}
	last := math.NaN()
	banded := len(c.Low) == len(c.Day) && len(c.High) == len(c.Day)
	for i := range c.Day {
		if i >= len(c.Share) || i > 0 && i+1 < len(c.Day) && math.Abs(c.Share[i]-last) < hi/200 {
			continue
		}
		last = c.Share[i]
		out.Day, out.Share = append(out.Day, c.Day[i]), append(out.Share, c.Share[i])
		if banded {
			out.Low, out.High = append(out.Low, c.Low[i]), append(out.High, c.High[i])
		}
	}
	return out
}

func (c Curves) plot(panel Panel, hi float64, first bool, w vg.Length) *plot.Plot {
	p := svg.NewPlot()
	p.Title.Text = svg.Fit(panel.Label, svg.Normal, w-80) + ", n " + page.Thousands(panel.N)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, c.Days, 0, hi
	p.X.Tick.Marker = c.days(w)
	p.Y.Tick.Marker = svg.Rounds{Scale: 100, Few: true}
	main := panel.Main.thin(hi)
	p.Add(main.band(hi)...)
	for _, t := range p.Y.Tick.Marker.Ticks(0, hi) {
		p.Add(svg.Across(p, t.Value, svg.Stroke(svg.Line, 0.8, nil)))
	}
	if !first {
		p.Y.Tick.Marker = plot.ConstantTicks{}
	}
	for _, one := range []struct {
		c   Curve
		sty draw.LineStyle
	}{{c.Reference, curveReference}, {main, curveMain}, {panel.Beside.thin(hi), curveBeside}} {
		if xy := one.c.from(c.Days); len(xy) > 1 {
			p.Add(&plotter.Line{XYs: xy, StepStyle: plotter.PostStep, LineStyle: one.sty})
		}
	}
	p.X.Max, p.Y.Max = c.Days, hi
	if over := main.over(hi); len(over) > 0 {
		p.Add(svg.Scatter(over[:1], goesOn))
	}
	if len(main.Day) == 0 {
		l := &svg.Labels{}
		l.Add(0, hi/2, " "+page.TooFew, svg.Lettering(svg.Small, svg.Soft, svg.AlignLeft, svg.AlignMiddle))
		p.Add(l)
	}
	return p
}

// days are the ends of quarters of a year, as far as there is room.
func (c Curves) days(w vg.Length) plot.ConstantTicks {
	var out plot.ConstantTicks
	for _, d := range []float64{0, 90, 180, 270, 365} {
		if d <= c.Days && (w > 200 || d != 90 && d != 270) {
			out = append(out, plot.Tick{Value: d, Label: svg.Round(d, 0)})
		}
	}
	return out
}

// from are the steps up to a day, beginning with nothing on day 0.
func (c Curve) from(end float64) plotter.XYs {
	out := plotter.XYs{{}}
	for _, q := range svg.XYs(c.Day, c.Share) {
		if q.X <= end {
			out = append(out, q)
		}
	}
	return out
}

// band is what lies between the limits of a step function, as far as they are
// given.
func (c Curve) band(hi float64) []plot.Plotter {
	var lower, upper plotter.XYs
	if len(c.Low) == len(c.Day) && len(c.High) == len(c.Day) {
		for i := range len(c.Day) - 1 {
			if svg.Finite(c.Low[i]) && svg.Finite(c.High[i]) {
				lo, up := math.Min(c.Low[i], hi), math.Min(c.High[i], hi)
				lower = append(lower, plotter.XY{X: c.Day[i], Y: lo}, plotter.XY{X: c.Day[i+1], Y: lo})
				upper = append(upper, plotter.XY{X: c.Day[i], Y: up}, plotter.XY{X: c.Day[i+1], Y: up})
			}
		}
	}
	return svg.Band(lower, upper)
}

// over are the places where the interval goes on beyond the scale.
func (c Curve) over(hi float64) plotter.XYs {
	var out plotter.XYs
	for i := range min(len(c.Day), len(c.High)) {
		if svg.Finite(c.High[i]) && c.High[i] > hi {
			out = append(out, plotter.XY{X: c.Day[i], Y: hi})
		}
	}
	return out
}

func curveTable(c Curves) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "group", Title: "Group"}, {Key: "n", Title: "Orders", Numeric: true}, {Key: "estimate", Title: "Estimate"},
		{Key: "day", Title: "Day", Numeric: true}, {Key: "share", Title: "Share", Unit: "%", Numeric: true},
		{Key: "low", Title: "Low", Unit: "%", Numeric: true}, {Key: "high", Title: "High", Unit: "%", Numeric: true},
	}}
	at := func(vs []float64, i int) page.Cell {
		if i < len(vs) {
			return page.Share(vs[i])
		}
		return page.Cell{}
	}
	for _, p := range c.Panels {
		for _, cv := range []Curve{p.Main, p.Beside} {
			for _, i := range milestones(cv.Day) {
				t.Rows = append(t.Rows, []page.Cell{page.Text(p.Label), page.Count(p.N), page.Text(cv.Label),
					page.Number(cv.Day[i], 0), at(cv.Share, i), at(cv.Low, i), at(cv.High, i)})
			}
		}
	}
	return t
}

// milestones picks the last step of each 30 days, so that the table of a
// curve stays readable.
func milestones(day []float64) []int {
	var out []int
	for i := range day {
		if i+1 == len(day) || math.Floor(day[i]/30) != math.Floor(day[i+1]/30) {
			out = append(out, i)
		}
	}
	return out
}
