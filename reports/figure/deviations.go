package figure

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/stats"
	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// Deviations are numbers as differences from a reference, one row each who took
// them, with what is tolerated drawn behind.
type Deviations struct {
	ID, Title, Desc string
	Axis            string
	Rows            []DeviationRow
}

// A DeviationRow is the differences of one person, or at one place, with their mean.
type DeviationRow struct {
	Label     string
	Person    bool    // the label is a person's name
	Tolerance float64 // to either side of 0
	Values    []float64
	Mean      stats.Estimate
}

// DeviationChart draws Deviations.
func DeviationChart(v Deviations) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "who", Title: "Of"}, {Key: "n", Title: "numbers", Numeric: true}, {Key: "mean", Title: "mean, " + v.Axis, Numeric: true},
		{Key: "least", Title: "least", Numeric: true}, {Key: "greatest", Title: "greatest", Numeric: true}, {Key: "outside", Title: "beyond the tolerance", Numeric: true}}}
	if len(v.Rows) == 0 {
		return svg.Nothing(v.ID, v.Title, "No number beside the instructor's yet.", t).Figure()
	}
	r := svg.Rows{ID: v.ID, Title: v.Title, Desc: v.Desc, Axis: v.Axis, Zero: 0, Right: "numbers · mean",
		Keys: []svg.Key{svg.KeyBand("tolerated", svg.Wash), svg.KeyMark("one number", svg.Ring, svg.Soft), svg.KeyMark("mean, with its interval", svg.Square, svg.Accent)}}
	es := estimates{scale: 1, glyph: svg.Glyph(svg.Square, svg.Accent, 4), width: 1.8}
	var all []float64
	for i, one := range v.Rows {
		lo, hi, outside := math.Inf(1), math.Inf(-1), 0
		for _, x := range one.Values {
			lo, hi = math.Min(lo, x), math.Max(hi, x)
			if math.Abs(x) > one.Tolerance {
				outside++
			}
		}
		all = append(append(all, one.Values...), -one.Tolerance, one.Tolerance)
		out := svg.Row{Label: one.Label, Right: page.Thousands(len(one.Values))}
		if one.Mean.Given() {
			out.Right += " · " + strings.ReplaceAll(page.Fixed(one.Mean.Point, 1), "-", "−")
			es.add(i, 0, one.Mean)
		}
		if len(one.Values) == 0 {
			out.Words = page.TooFew
		}
		r.Rows = append(r.Rows, out)
		t.Rows = append(t.Rows, []page.Cell{{Text: one.Label, Value: one.Label, AsIs: one.Person}, page.Count(len(one.Values)), page.Plain(one.Mean, 1), page.Number(lo, 1), page.Number(hi, 1), page.Count(outside)})
	}
	t.Notes = page.Refusals(t.Rows)
	r.Data = t
	r.Lo, r.Hi = svg.ScaleOver(all, es.ends(), 1e-9)
	r.Marks = func(at svg.Place) []plot.Plotter {
		band := svg.Boxes{}
		dots := svg.Scatter(nil, svg.Glyph(svg.Ring, svg.Soft, 3))
		for i, one := range v.Rows {
			band = append(band, svg.Box{X0: -one.Tolerance, X1: one.Tolerance, Y0: at(i, -13), Y1: at(i, 13)})
			for k, x := range one.Values {
				if svg.Finite(x) { // apart by a little, so that equal ones do not hide each other
					dots.XYs = append(dots.XYs, plotter.XY{X: x, Y: at(i, float64(6*(k%3)-6))})
				}
			}
		}
		return append([]plot.Plotter{band.Polygon(svg.Wash, draw.LineStyle{}), dots}, es.plotters(at, r.Lo, r.Hi)...)
	}
	return r.Figure()
}
