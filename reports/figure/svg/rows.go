package svg

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// Rows is a figure of labelled rows over one scale: the label on the left, the
// marks in the middle, a few words on the right. On a phone the label and the
// words stand above their row.
type Rows struct {
	ID, Title, Desc string
	Data            page.Table
	Keys            []Key
	Lo, Hi          float64
	Unscaled        bool    // each row has a scale of its own: no ticks
	Zero            float64 // a line across all rows; NaN: none
	Axis            string  // what the scale shows
	Right           string  // what the words on the right say
	Rows            []Row
	// Marks are the plotters of all rows; at tells the place of each.
	Marks func(at Place) []plot.Plotter
}

// A Row is one line of Rows.
type Row struct {
	Label string
	Right string
	Words string // stands in place of marks
}

// A Place is where a row lies on the vertical scale, px above its middle.
type Place func(row int, px float64) float64

const (
	rowHeight = 34
	tallRow   = 62 // label and words above the marks
	rowLabel  = vg.Length(172)
)

// Figure draws the rows at both widths.
func (r Rows) Figure() page.Figure {
	return Plan{
		ID: r.ID, Title: r.Title, Desc: r.Desc, Data: r.Data, Keys: r.Keys,
		Height: func(w vg.Length) vg.Length {
			h := vg.Length(rowHeight)
			if Narrow(w) {
				h = tallRow
			}
			return 44 + h*vg.Length(len(r.Rows))
		},
		Draw: func(c draw.Canvas) { r.plot(c.Max.X - c.Min.X).Draw(c) },
	}.Figure()
}

func (r Rows) plot(w vg.Length) *plot.Plot {
	p := NewPlot()
	n := float64(len(r.Rows))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = r.Lo, r.Hi, -0.5, n-0.5
	p.Y.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	p.X.Label.Text = Fit(r.Axis, Small, w)
	p.Y.Tick.Label = Lettering(Normal, Ink, AlignRight, draw.YCenter)
	if r.Unscaled {
		p.X.Tick.Marker = plot.ConstantTicks{}
	}
	at := Place(func(row int, px float64) float64 { return float64(row) - px/rowHeight })
	if Narrow(w) {
		at = func(row int, px float64) float64 { return float64(row) + (16-px)/tallRow }
	}
	p.Add(&plotter.Grid{Vertical: Stroke(Line, 0.8, nil)})
	if Finite(r.Zero) {
		p.Add(&plotter.Line{XYs: plotter.XYs{{X: r.Zero, Y: p.Y.Min}, {X: r.Zero, Y: p.Y.Max}}, LineStyle: Stroke(Mid, 1.3, nil)})
	}
	var marks []plot.Plotter
	if r.Marks != nil {
		marks = r.Marks(at)
	}
	if Narrow(w) {
		p.Y.Tick.Marker = plot.ConstantTicks{}
		p.Add(r.above(w))
	} else {
		p.Y.Tick.Marker = plot.ConstantTicks(r.labels())
		p.Add(r.beside(w))
	}
	p.Add(marks...)
	words := &Labels{OnPaper: true}
	for i, one := range r.Rows {
		words.Add(r.Lo, at(i, 0), Fit(one.Words, Small, w/2), Lettering(Small, Soft, AlignLeft, AlignMiddle))
	}
	words.Offset.X = 4
	p.Add(words)
	return p
}

// labels are the names of the rows as ticks of the vertical axis.
func (r Rows) labels() []plot.Tick {
	var out []plot.Tick
	for i, one := range r.Rows {
		out = append(out, plot.Tick{Value: float64(i), Label: strings.Join(broken(one.Label, Normal, rowLabel, 2), "\n")})
	}
	return out
}

// beside are the words on the right, set flush right in a column as wide as
// the widest, their head above them.
func (r Rows) beside(w vg.Length) plot.Plotter {
	sty := Lettering(Small, Ink, AlignRight, AlignMiddle)
	out := &Labels{}
	for i, one := range r.Rows {
		s := Fit(one.Right, Small, w/3)
		out.Offset.X = max(out.Offset.X, sty.Width(s)+12)
		out.Add(r.Hi, float64(i), s, sty)
	}
	head := Lettering(Small, Soft, AlignRight, alignBottom)
	out.Add(r.Hi, -0.5, Fit(r.Right, Small, w-rowLabel-30), head)
	return out
}

// above are labels and words of the rows on a phone.
func (r Rows) above(w vg.Length) plot.Plotter {
	out := &Labels{OnPaper: true}
	for i, one := range r.Rows {
		out.Add(r.Lo, float64(i)-22.0/tallRow, Fit(one.Label, Normal, w-16), Lettering(Normal, Ink, AlignLeft, AlignMiddle))
		out.Add(r.Lo, float64(i)-7.5/tallRow, Fit(one.Right, Small, w-16), Lettering(Small, Soft, AlignLeft, AlignMiddle))
	}
	return out
}

// ScaleOver is a scale that holds the points and, as far as they do not stretch
// it beyond three times that, the intervals.
func ScaleOver(points, ends []float64, least float64) (lo, hi float64) {
	lo, hi = 0, least
	for _, v := range points {
		if Finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	far := 3 * (hi - lo)
	low, high := lo, hi
	for _, v := range ends {
		if Finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	lo, hi = math.Max(low, hi-far), math.Min(high, lo+far)
	pad := 0.03 * (hi - lo)
	return lo - pad, hi + pad
}
