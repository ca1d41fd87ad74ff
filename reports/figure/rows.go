package figure

import (
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// rows is a figure of labelled rows over one scale: the label on the left, the
// marks in the middle, a few words on the right. On a phone the label and the
// words stand above their row.
type rows struct {
	id, title, desc string
	data            page.Table
	keys            []key
	lo, hi          float64
	unscaled        bool    // each row has a scale of its own: no ticks
	zero            float64 // a line across all rows; NaN: none
	axis            string  // what the scale shows
	right           string  // what the words on the right say
	rows            []row
	// marks are the plotters of all rows; a place tells where a row lies on
	// the vertical scale, px above its middle.
	marks func(at place) []plot.Plotter
}

type row struct {
	label string
	right string
	words string // stands in place of marks
}

type place func(row int, px float64) float64

const (
	rowHeight = 34
	tallRow   = 62 // label and words above the marks
	rowLabel  = vg.Length(172)
)

func (r rows) figure() page.Figure {
	return plan{
		id: r.id, title: r.title, desc: r.desc, data: r.data, keys: r.keys,
		height: func(w vg.Length) vg.Length {
			h := vg.Length(rowHeight)
			if narrow(w) {
				h = tallRow
			}
			return 44 + h*vg.Length(len(r.rows))
		},
		draw: func(c draw.Canvas) { r.plot(c.Max.X - c.Min.X).Draw(c) },
	}.figure()
}

func (r rows) plot(w vg.Length) *plot.Plot {
	p := newPlot()
	n := float64(len(r.rows))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = r.lo, r.hi, -0.5, n-0.5
	p.Y.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	p.X.Label.Text = fit(r.axis, small, w)
	p.Y.Tick.Label = lettering(normal, ink, alignRight, draw.YCenter)
	if r.unscaled {
		p.X.Tick.Marker = plot.ConstantTicks{}
	}
	at := place(func(row int, px float64) float64 { return float64(row) - px/rowHeight })
	if narrow(w) {
		at = func(row int, px float64) float64 { return float64(row) + (16-px)/tallRow }
	}
	p.Add(&plotter.Grid{Vertical: stroke(line, 0.8, nil)})
	if finite(r.zero) {
		p.Add(&plotter.Line{XYs: plotter.XYs{{X: r.zero, Y: p.Y.Min}, {X: r.zero, Y: p.Y.Max}}, LineStyle: stroke(mid, 1.3, nil)})
	}
	var marks []plot.Plotter
	if r.marks != nil {
		marks = r.marks(at)
	}
	if narrow(w) {
		p.Y.Tick.Marker = plot.ConstantTicks{}
		p.Add(r.above(w))
	} else {
		p.Y.Tick.Marker = plot.ConstantTicks(r.labels())
		p.Add(r.beside(w))
	}
	p.Add(marks...)
	words := &labels{onPaper: true}
	for i, one := range r.rows {
		words.add(r.lo, at(i, 0), fit(one.words, small, w/2), lettering(small, soft, alignLeft, alignMiddle))
	}
	words.Offset.X = 4
	p.Add(words)
	return p
}

// labels are the names of the rows as ticks of the vertical axis.
func (r rows) labels() []plot.Tick {
	var out []plot.Tick
	for i, one := range r.rows {
		out = append(out, plot.Tick{Value: float64(i), Label: strings.Join(broken(one.label, normal, rowLabel, 2), "\n")})
	}
	return out
}

// beside are the words on the right, set flush right in a column as wide as
// the widest, their head above them.
func (r rows) beside(w vg.Length) plot.Plotter {
	sty := lettering(small, ink, alignRight, alignMiddle)
	out := &labels{}
	for i, one := range r.rows {
		s := fit(one.right, small, w/3)
		out.Offset.X = max(out.Offset.X, sty.Width(s)+12)
		out.add(r.hi, float64(i), s, sty)
	}
	head := lettering(small, soft, alignRight, alignBottom)
	out.add(r.hi, -0.5, fit(r.right, small, w-rowLabel-30), head)
	return out
}

// above are labels and words of the rows on a phone.
func (r rows) above(w vg.Length) plot.Plotter {
	out := &labels{onPaper: true}
	for i, one := range r.rows {
		out.add(r.lo, float64(i)-22.0/tallRow, fit(one.label, normal, w-16), lettering(normal, ink, alignLeft, alignMiddle))
		out.add(r.lo, float64(i)-7.5/tallRow, fit(one.right, small, w-16), lettering(small, soft, alignLeft, alignMiddle))
	}
	return out
}

// scaleOver is a scale that holds the points and, as far as they do not stretch
// it beyond three times that, the intervals.
func scaleOver(points, ends []float64, least float64) (lo, hi float64) {
	lo, hi = 0, least
	for _, v := range points {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	far := 3 * (hi - lo)
	low, high := lo, hi
	for _, v := range ends {
		if finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	lo, hi = math.Max(low, hi-far), math.Min(high, lo+far)
	pad := 0.03 * (hi - lo)
	return lo - pad, hi + pad
}
