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

// A Calibration holds forecasts of a share to what came: as a smooth curve, and by
// groups of subjects whose forecasts are close together.
type Calibration struct {
	ID, Title, Desc string
	N               int
	Curve, Groups   []Foreseen
}

// A Foreseen is a forecast with what came of such subjects.
type Foreseen struct {
	Forecast float64
	Observed stats.Estimate
}

var (
	foreseenCurve = svg.Stroke(svg.Ink, 1.8, nil)
	foreseenRight = svg.Stroke(svg.Mid, 1.4, svg.Dotted)
	foreseenGroup = svg.Glyph(svg.Disc, svg.Accent, 3.5)
)

// CalibrationChart draws a Calibration.
func CalibrationChart(v Calibration) page.Figure {
	data := page.Table{Columns: []page.Column{{Key: "kind", Title: "What"}, {Key: "forecast", Title: "Foreseen", Unit: "%", Numeric: true}, {Key: "observed", Title: "Remade", Unit: "%", Numeric: true}}}
	for _, g := range v.Groups {
		data.Rows = append(data.Rows, []page.Cell{page.Text("a tenth of the orders"), page.Share(g.Forecast), page.Percent(g.Observed)})
	}
	for _, c := range v.Curve {
		data.Rows = append(data.Rows, []page.Cell{page.Text("curve"), page.Share(c.Forecast), page.Percent(c.Observed)})
	}
	if len(v.Curve) == 0 && len(v.Groups) == 0 {
		return svg.Nothing(v.ID, v.Title, "No later order to hold the risks to: nothing to draw.", data).Figure()
	}
	return svg.Plan{
		ID: v.ID, Title: v.Title, Desc: v.Desc, Data: data,
		Keys: []svg.Key{svg.KeyLine("smooth curve of what came", foreseenCurve), svg.KeyBand("its 95 % interval", svg.Wash),
			{Label: "a tenth of the orders, with its interval", Thumb: svg.Scatter(nil, foreseenGroup)}, svg.KeyLine("where risks are right", foreseenRight)},
		Heading: "% remade so far", Foot: "across: % foreseen, n " + page.Thousands(v.N) + " orders",
		Height: func(vg.Length) vg.Length { return 280 },
		Draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.Figure()
}

func (v Calibration) plot() *plot.Plot {
	p := svg.NewPlot()
	right, top := 0.0, 0.0
	for _, g := range slices.Concat(v.Curve, v.Groups) {
		right = math.Max(right, g.Forecast)
		if svg.Finite(g.Observed.Point) {
			top = math.Max(top, g.Observed.Point)
		}
	}
	for _, g := range v.Groups { // intervals, as far as they do not flatten the rest
		if svg.Finite(g.Observed.High) {
			top = math.Max(top, math.Min(g.Observed.High, 1.6*math.Max(g.Observed.Point, right)))
		}
	}
	right, top = math.Max(1e-3, 1.04*right), math.Min(1, 1.04*math.Max(top, right))
	p.X.Tick.Marker, p.Y.Tick.Marker = svg.Rounds{Scale: 100}, svg.Rounds{Scale: 100}
	var low, high plotter.XYs
	at, share := []float64{}, []float64{}
	for _, c := range v.Curve {
		at, share = append(at, c.Forecast), append(share, c.Observed.Point)
		if c.Observed.Bounded() {
			low = append(low, plotter.XY{X: c.Forecast, Y: math.Min(top, c.Observed.Low)})
			high = append(high, plotter.XY{X: c.Forecast, Y: math.Min(top, c.Observed.High)})
		}
	}
	p.Add(svg.Band(low, high)...)
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	end := math.Min(right, top)
	p.Add(&plotter.Line{XYs: plotter.XYs{{}, {X: end, Y: end}}, LineStyle: foreseenRight})
	for _, g := range v.Groups {
		if g.Observed.Bounded() {
			p.Add(&plotter.Line{XYs: plotter.XYs{{X: g.Forecast, Y: g.Observed.Low}, {X: g.Forecast, Y: math.Min(top, g.Observed.High)}}, LineStyle: svg.Stroke(svg.Accent, 1.2, nil)})
		}
	}
	var groups plotter.XYs
	for _, g := range v.Groups {
		if svg.Finite(g.Observed.Point) {
			groups = append(groups, plotter.XY{X: g.Forecast, Y: g.Observed.Point})
		}
	}
	p.Add(svg.Lines(at, share, foreseenCurve)...)
	p.Add(svg.Scatter(groups, foreseenGroup))
	var beyond plotter.XYs
	for _, g := range v.Groups {
		if svg.Finite(g.Observed.High) && g.Observed.High > top {
			beyond = append(beyond, plotter.XY{X: g.Forecast, Y: top})
		}
	}
	p.Add(svg.Scatter(beyond, svg.Glyph(svg.Up, svg.Accent, 3.5)))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, right, 0, top
	return p
}

// Decisions are decision curves: what each way to decide brings at each threshold
// of risk.
type Decisions struct {
	ID, Title, Desc string
	N               int
	Curves          []DecisionCurve
}

// A DecisionCurve is one way to decide; the first one drawn has its interval.
type DecisionCurve struct {
	Label     string
	Threshold []float64
	Benefit   []stats.Estimate
}

var decisionStyles = []draw.LineStyle{
	svg.Stroke(svg.Ink, 2, nil), svg.Stroke(svg.Accent, 1.7, svg.Dashed), svg.Stroke(svg.Step3, 1.7, svg.Dotted), svg.Stroke(svg.Mid, 1.7, []vg.Length{7, 2, 1.5, 2}),
	svg.Stroke(svg.Step4, 1.5, []vg.Length{9, 2, 2, 2, 2, 2}), svg.Stroke(svg.Soft, 1.3, []vg.Length{9, 4}), svg.Stroke(svg.Mid, 1.1, nil),
	svg.Stroke(svg.Step2, 1.6, []vg.Length{1, 3}),
}

// DecisionChart draws Decisions. Holding none brings nothing: that is the line at 0.
func DecisionChart(v Decisions) page.Figure {
	data := page.Table{Columns: []page.Column{{Key: "decides", Title: "Held by"}, {Key: "threshold", Title: "From a risk of", Unit: "%", Numeric: true}, {Key: "net_benefit", Title: "Net benefit per 100", Numeric: true}}}
	var keys []svg.Key
	for i, c := range v.Curves {
		for k, t := range c.Threshold {
			data.Rows = append(data.Rows, []page.Cell{page.Text(c.Label), page.Share(t), page.Plain(c.Benefit[k], 2)})
		}
		keys = append(keys, svg.KeyLine(c.Label, decisionStyles[i%len(decisionStyles)]))
		if i == 0 {
			keys = append(keys, svg.KeyBand("its 95 % interval", svg.Wash))
		}
	}
	if len(v.Curves) == 0 {
		return svg.Nothing(v.ID, v.Title, "No later order to decide on: nothing to draw.", data).Figure()
	}
	return svg.Plan{
		ID: v.ID, Title: v.Title, Desc: v.Desc, Data: data, Keys: keys,
		Heading: "net benefit per 100 orders", Foot: "across: % risk from which a call-back is worth its trouble, n " + page.Thousands(v.N) + " orders",
		Height: func(vg.Length) vg.Length { return 280 },
		Draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.Figure()
}

func (v Decisions) plot() *plot.Plot {
	p := svg.NewPlot()
	right, top := 0.0, 1e-3
	for _, c := range v.Curves {
		for k, t := range c.Threshold {
			right = math.Max(right, t)
			if svg.Finite(c.Benefit[k].Point) {
				top = math.Max(top, c.Benefit[k].Point)
			}
		}
	}
	most := 1.5 * top // intervals, as far as they do not flatten the rest
	for k := range v.Curves[0].Threshold {
		if e := v.Curves[0].Benefit[k]; e.Bounded() {
			top = math.Max(top, math.Min(e.High, most))
		}
	}
	// Below, only as much is drawn as tells that a way to decide does harm.
	top *= 1.05
	bottom := -0.35 * top
	p.X.Tick.Marker = svg.Rounds{Scale: 100}
	var low, high, above, below plotter.XYs // the last two: where the interval goes on
	for k, t := range v.Curves[0].Threshold {
		if e := v.Curves[0].Benefit[k]; e.Bounded() {
			if e.High > top {
				above = append(above, plotter.XY{X: t, Y: top})
			}
			if e.Low < bottom {
				below = append(below, plotter.XY{X: t, Y: bottom})
			}
			low = append(low, plotter.XY{X: t, Y: math.Max(bottom, math.Min(top, e.Low))})
			high = append(high, plotter.XY{X: t, Y: math.Max(bottom, math.Min(top, e.High))})
		}
	}
	p.Add(svg.Band(low, high)...)
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)}, &plotter.Line{XYs: plotter.XYs{{}, {X: right}}, LineStyle: svg.Stroke(svg.Mid, 1, nil)})
	for i := len(v.Curves) - 1; i >= 0; i-- {
		at, benefit := cutBelow(v.Curves[i], bottom)
		p.Add(svg.Lines(at, benefit, decisionStyles[i%len(decisionStyles)])...)
	}
	p.Add(svg.Scatter(thinned(above), svg.Glyph(svg.Up, svg.Mid, 3.5)), svg.Scatter(thinned(below), svg.Glyph(svg.Down, svg.Mid, 3.5)))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1.02*right, bottom, top
	return p
}

// arrowsMost is how many arrows say that a band goes on beyond an edge.
const arrowsMost = 4

func thinned(points plotter.XYs) (out plotter.XYs) {
	step := (len(points) + arrowsMost - 1) / arrowsMost
	for k := step / 2; k < len(points); k += step {
		out = append(out, points[k])
	}
	return out
}

// cutBelow ends a curve where it goes below the scale.
func cutBelow(c DecisionCurve, bottom float64) (at, benefit []float64) {
	for k, t := range c.Threshold {
		y := c.Benefit[k].Point
		if !svg.Finite(y) {
			continue
		}
		if y < bottom {
			if n := len(at); n > 0 && benefit[n-1] > bottom {
				share := (benefit[n-1] - bottom) / (benefit[n-1] - y)
				at, benefit = append(at, at[n-1]+share*(t-at[n-1])), append(benefit, bottom)
			}
			break
		}
		at, benefit = append(at, t), append(benefit, y)
	}
	return at, benefit
}
