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

// A Funnel shows a share against the number it rests on, within exact limits:
// small numbers may stray far without meaning anything.
type Funnel struct {
	ID, Title, Desc string
	Y, X            string
	Centre          float64
	Limits          []FunnelLimit // in the order of N
	Points          []FunnelPoint
}

// A FunnelLimit is the pair of limits at a number.
type FunnelLimit struct {
	N                              float64
	Low95, High95, Low998, High998 float64
}

// A FunnelPoint is one measurer (or region, or dealer).
type FunnelPoint struct {
	Label                string
	N                    int
	Events               int
	Behind, BehindEvents page.Ref // the orders of N and of Events
	Share                float64
	Outside              bool // beyond the outer limits
	About                bool // whom the figure is about
}

// FunnelChart draws a Funnel. Only points outside are named in the
// drawing, and the one it is about in the keys; the table names all.
func FunnelChart(f Funnel) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "name", Title: "Name"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "events", Title: "Remade", Numeric: true},
		{Key: "share", Title: "Share", Unit: "%", Numeric: true}, {Key: "outside", Title: "Outside the outer limits"}}}
	for _, p := range f.Points {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(p.Label), page.CountOf(p.N, p.Behind), page.CountOf(p.Events, p.BehindEvents), page.Share(p.Share), page.YesNo(p.Outside)})
	}
	if len(f.Points) == 0 {
		return svg.Nothing(f.ID, f.Title, "Nobody has enough orders to be shown here yet.", t).Figure()
	}
	return svg.Plan{ID: f.ID, Title: f.Title, Desc: f.Desc, Data: t, Keys: f.keys(), Heading: f.Y,
		Height: func(vg.Length) vg.Length { return 270 },
		Draw:   func(c draw.Canvas) { f.plot().Draw(c) },
	}.Figure()
}

var (
	funnelInner   = svg.Stroke(svg.Mid, 1.3, svg.Dashed)
	funnelOuter   = svg.Stroke(svg.Ink, 1.3, nil)
	funnelOne     = svg.Glyph(svg.Disc, svg.Ink, 3.6)
	funnelOutside = svg.Glyph(svg.Diamond, svg.Accent, 4.5)
)

func (f Funnel) keys() []svg.Key {
	keys := []svg.Key{{Label: "one", Thumb: svg.Scatter(nil, funnelOne)}}
	if slices.ContainsFunc(f.Points, func(p FunnelPoint) bool { return p.Outside }) {
		keys = append(keys, svg.Key{Label: "outside the outer limits", Thumb: svg.Scatter(nil, funnelOutside)})
	}
	if i := slices.IndexFunc(f.Points, func(p FunnelPoint) bool { return p.About }); i >= 0 {
		keys = append(keys, svg.Key{Label: f.Points[i].Label, Thumb: svg.Scatter(nil, svg.Glyph(svg.Ring, svg.Accent, 5))})
	}
	return append(keys, svg.KeyLine("95 % limits", funnelInner), svg.KeyLine("99.8 % limits", funnelOuter))
}

func (f Funnel) plot() *plot.Plot {
	p := svg.NewPlot()
	hi, most := 0.02, 1.0
	for _, q := range f.Points {
		most = math.Max(most, float64(q.N))
		if svg.Finite(q.Share) {
			hi = math.Max(hi, q.Share)
		}
	}
	if svg.Finite(f.Centre) {
		hi = math.Max(hi, 3*f.Centre)
	}
	most, hi = most*1.04, math.Min(hi*1.15, 1)
	p.X.Label.Text = f.X
	p.Y.Tick.Marker = svg.Rounds{Scale: 100}
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	if svg.Finite(f.Centre) {
		p.Add(svg.Lines([]float64{0, most}, []float64{f.Centre, f.Centre}, svg.Stroke(svg.Mid, 1.2, svg.Dotted))...)
	}
	var n, lo95, hi95, lo998, hi998 []float64
	for _, l := range f.Limits {
		n, lo95, hi95, lo998, hi998 = append(n, l.N), append(lo95, l.Low95), append(hi95, l.High95), append(lo998, l.Low998), append(hi998, l.High998)
	}
	p.Add(slices.Concat(svg.Lines(n, lo95, funnelInner), svg.Lines(n, hi95, funnelInner), svg.Lines(n, lo998, funnelOuter), svg.Lines(n, hi998, funnelOuter))...)
	f.points(p)
	// Limits reach further than is worth drawing.
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, most, 0, hi
	return p
}

// points adds the marks, and the names of those that stand out. Whom the figure is
// about the keys name.
func (f Funnel) points(p *plot.Plot) {
	one, outside, about := svg.Scatter(nil, funnelOne), svg.Scatter(nil, funnelOutside), svg.Scatter(nil, svg.Glyph(svg.Ring, svg.Accent, 7.5))
	var named svg.Names
	for _, q := range f.Points {
		at := plotter.XY{X: float64(q.N), Y: q.Share}
		if !svg.Finite(q.Share) {
			continue
		}
		if q.Outside {
			outside.XYs = append(outside.XYs, at)
		} else {
			one.XYs = append(one.XYs, at)
		}
		if q.About {
			about.XYs = append(about.XYs, at)
		} else if q.Outside {
			named.Add(at, svg.Fit(q.Label, svg.Small, 120), svg.Lettering(svg.Small, svg.Ink, svg.AlignLeft, svg.AlignMiddle))
		}
	}
	p.Add(about, one, outside, named)
}
