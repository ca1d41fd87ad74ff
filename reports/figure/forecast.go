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
	foreseenCurve = stroke(ink, 1.8, nil)
	foreseenRight = stroke(mid, 1.4, dotted)
	foreseenGroup = glyph(disc, accent, 3.5)
)

// CalibrationChart draws a Calibration.
func CalibrationChart(v Calibration) page.Figure {
	data := page.Table{Columns: []page.Column{{Key: "kind", Title: "What"}, {Key: "forecast", Title: "Foreseen", Unit: "%", Numeric: true}, {Key: "observed", Title: "Remade", Unit: "%", Numeric: true}}}
	for _, g := range v.Groups {
		data.Rows = append(data.Rows, []page.Cell{page.Text("a tenth of the orders"), percent(g.Forecast), page.Percent(g.Observed)})
	}
	for _, c := range v.Curve {
		data.Rows = append(data.Rows, []page.Cell{page.Text("curve"), percent(c.Forecast), page.Percent(c.Observed)})
	}
	if len(v.Curve) == 0 && len(v.Groups) == 0 {
		return nothing(v.ID, v.Title, "No later order to hold the risks to: nothing to draw.", data).figure()
	}
	return plan{
		id: v.ID, title: v.Title, desc: v.Desc, data: data,
		keys: []key{keyLine("smooth curve of what came", foreseenCurve), keyBand("its 95 % interval", wash),
			{"a tenth of the orders, with its interval", scatter(nil, foreseenGroup)}, keyLine("where risks are right", foreseenRight)},
		heading: "% remade so far", foot: "across: % foreseen, n " + page.Thousands(v.N) + " orders",
		height: func(vg.Length) vg.Length { return 280 },
		draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.figure()
}

func (v Calibration) plot() *plot.Plot {
	p := newPlot()
	right, top := 0.0, 0.0
	for _, g := range slices.Concat(v.Curve, v.Groups) {
		right = math.Max(right, g.Forecast)
		if finite(g.Observed.Point) {
			top = math.Max(top, g.Observed.Point)
		}
	}
	for _, g := range v.Groups { // intervals, as far as they do not flatten the rest
		if finite(g.Observed.High) {
			top = math.Max(top, math.Min(g.Observed.High, 1.6*math.Max(g.Observed.Point, right)))
		}
	}
	right, top = math.Max(1e-3, 1.04*right), math.Min(1, 1.04*math.Max(top, right))
	p.X.Tick.Marker, p.Y.Tick.Marker = rounds{scale: 100}, rounds{scale: 100}
	var low, band plotter.XYs
	at, share := []float64{}, []float64{}
	for _, c := range v.Curve {
		at, share = append(at, c.Forecast), append(share, c.Observed.Point)
		if c.Observed.Bounded() {
			low = append(low, plotter.XY{X: c.Forecast, Y: math.Min(top, c.Observed.Low)})
			band = append(band, plotter.XY{X: c.Forecast, Y: math.Min(top, c.Observed.High)})
		}
	}
	slices.Reverse(band)
	if len(low) > 1 {
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{append(low, band...)}, Color: wash})
	}
	p.Add(&plotter.Grid{Horizontal: stroke(line, 0.8, nil)})
	end := math.Min(right, top)
	p.Add(&plotter.Line{XYs: plotter.XYs{{}, {X: end, Y: end}}, LineStyle: foreseenRight})
	for _, g := range v.Groups {
		if g.Observed.Bounded() {
			p.Add(&plotter.Line{XYs: plotter.XYs{{X: g.Forecast, Y: g.Observed.Low}, {X: g.Forecast, Y: math.Min(top, g.Observed.High)}}, LineStyle: stroke(accent, 1.2, nil)})
		}
	}
	var groups plotter.XYs
	for _, g := range v.Groups {
		if finite(g.Observed.Point) {
			groups = append(groups, plotter.XY{X: g.Forecast, Y: g.Observed.Point})
		}
	}
	p.Add(lines(at, share, foreseenCurve)...)
	p.Add(scatter(groups, foreseenGroup))
	var beyond plotter.XYs
	for _, g := range v.Groups {
		if finite(g.Observed.High) && g.Observed.High > top {
			beyond = append(beyond, plotter.XY{X: g.Forecast, Y: top})
		}
	}
	p.Add(scatter(beyond, glyph(up, accent, 3.5)))
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
	stroke(ink, 2, nil), stroke(accent, 1.7, dashed), stroke(step3, 1.7, dotted), stroke(mid, 1.7, []vg.Length{7, 2, 1.5, 2}),
	stroke(step4, 1.5, []vg.Length{9, 2, 2, 2, 2, 2}), stroke(soft, 1.3, []vg.Length{9, 4}), stroke(mid, 1.1, nil),
	stroke(step2, 1.6, []vg.Length{1, 3}),
}

// DecisionChart draws Decisions. Holding none brings nothing: that is the line at 0.
func DecisionChart(v Decisions) page.Figure {
	data := page.Table{Columns: []page.Column{{Key: "decides", Title: "Held by"}, {Key: "threshold", Title: "From a risk of", Unit: "%", Numeric: true}, {Key: "net_benefit", Title: "Net benefit per 100", Numeric: true}}}
	var keys []key
	for i, c := range v.Curves {
		for k, t := range c.Threshold {
			data.Rows = append(data.Rows, []page.Cell{page.Text(c.Label), percent(t), page.Plain(c.Benefit[k], 2)})
		}
		keys = append(keys, keyLine(c.Label, decisionStyles[i%len(decisionStyles)]))
		if i == 0 {
			keys = append(keys, keyBand("its 95 % interval", wash))
		}
	}
	if len(v.Curves) == 0 {
		return nothing(v.ID, v.Title, "No later order to decide on: nothing to draw.", data).figure()
	}
	return plan{
		id: v.ID, title: v.Title, desc: v.Desc, data: data, keys: keys,
		heading: "net benefit per 100 orders", foot: "across: % risk from which a call-back is worth its trouble, n " + page.Thousands(v.N) + " orders",
		height: func(vg.Length) vg.Length { return 280 },
		draw:   func(c draw.Canvas) { v.plot().Draw(c) },
	}.figure()
}

func (v Decisions) plot() *plot.Plot {
	p := newPlot()
	right, top := 0.0, 1e-3
	for _, c := range v.Curves {
		for k, t := range c.Threshold {
			right = math.Max(right, t)
			if finite(c.Benefit[k].Point) {
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
	p.X.Tick.Marker = rounds{scale: 100}
	var low, band, above, below plotter.XYs // the last two: where the interval goes on
	for k, t := range v.Curves[0].Threshold {
		if e := v.Curves[0].Benefit[k]; e.Bounded() {
			if e.High > top {
				above = append(above, plotter.XY{X: t, Y: top})
			}
			if e.Low < bottom {
				below = append(below, plotter.XY{X: t, Y: bottom})
			}
			low = append(low, plotter.XY{X: t, Y: math.Max(bottom, math.Min(top, e.Low))})
			band = append(band, plotter.XY{X: t, Y: math.Max(bottom, math.Min(top, e.High))})
		}
	}
	slices.Reverse(band)
	if len(low) > 1 {
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{append(low, band...)}, Color: wash})
	}
	p.Add(&plotter.Grid{Horizontal: stroke(line, 0.8, nil)}, &plotter.Line{XYs: plotter.XYs{{}, {X: right}}, LineStyle: stroke(mid, 1, nil)})
	for i := len(v.Curves) - 1; i >= 0; i-- {
		at, benefit := cutBelow(v.Curves[i], bottom)
		p.Add(lines(at, benefit, decisionStyles[i%len(decisionStyles)])...)
	}
	p.Add(scatter(every(above, arrowsMost), glyph(up, mid, 3.5)), scatter(every(below, arrowsMost), glyph(down, mid, 3.5)))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1.02*right, bottom, top
	return p
}

// arrowsMost is how many arrows say that a band goes on beyond an edge.
const arrowsMost = 4

// every thins points out, so that at most so many are left.
func every(points plotter.XYs, most int) (out plotter.XYs) {
	step := (len(points) + most - 1) / most
	for k := step / 2; k < len(points); k += step {
		out = append(out, points[k])
	}
	return out
}

// cutBelow ends a curve where it goes below the scale.
func cutBelow(c DecisionCurve, bottom float64) (at, benefit []float64) {
	for k, t := range c.Threshold {
		y := c.Benefit[k].Point
		if !finite(y) {
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
