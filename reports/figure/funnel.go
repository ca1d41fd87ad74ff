package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

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
	Label   string
	N       int
	Events  int
	Share   float64
	Outside bool // beyond the outer limits
	About   bool // whom the figure is about
}

// FunnelChart draws a Funnel. Only points outside are named in the
// drawing, and the one it is about in the keys; the table names all.
func FunnelChart(f Funnel) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "name", Title: "Name"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "events", Title: "Remade", Numeric: true},
		{Key: "share", Title: "Share", Unit: "%", Numeric: true}, {Key: "outside", Title: "Outside the outer limits"}}}
	for _, p := range f.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(p.Label), page.Count(p.N), page.Count(p.Events), percent(p.Share), page.YesNo(p.Outside)})
	}
	if len(f.Points) == 0 {
		return nothing(f.ID, f.Title, "Nobody has enough orders to be shown here yet.", t).figure()
	}
	return plan{id: f.ID, title: f.Title, desc: f.Desc, data: t, keys: f.keys(), heading: f.Y,
		height: func(vg.Length) vg.Length { return 270 },
		draw:   func(c draw.Canvas) { f.plot().Draw(c) },
	}.figure()
}

var (
	funnelInner   = stroke(mid, 1.3, dashed)
	funnelOuter   = stroke(ink, 1.3, nil)
	funnelOne     = glyph(disc, ink, 3.6)
	funnelOutside = glyph(diamond, accent, 4.5)
)

func (f Funnel) keys() []key {
	keys := []key{{"one", scatter(nil, funnelOne)}}
	if slices.ContainsFunc(f.Points, func(p FunnelPoint) bool { return p.Outside }) {
		keys = append(keys, key{"outside the outer limits", scatter(nil, funnelOutside)})
	}
	if i := slices.IndexFunc(f.Points, func(p FunnelPoint) bool { return p.About }); i >= 0 {
		keys = append(keys, key{f.Points[i].Label, scatter(nil, glyph(ring, accent, 5))})
	}
	return append(keys, keyLine("95 % limits", funnelInner), keyLine("99.8 % limits", funnelOuter))
}

func (f Funnel) plot() *plot.Plot {
	p := newPlot()
	hi, most := 0.02, 1.0
	for _, q := range f.Points {
		most = math.Max(most, float64(q.N))
		if finite(q.Share) {
			hi = math.Max(hi, q.Share)
		}
	}
	if finite(f.Centre) {
		hi = math.Max(hi, 3*f.Centre)
	}
	most, hi = most*1.04, math.Min(hi*1.15, 1)
	p.X.Label.Text = f.X
	p.Y.Tick.Marker = rounds{scale: 100}
	p.Add(&plotter.Grid{Horizontal: stroke(line, 0.8, nil)})
	if finite(f.Centre) {
		p.Add(lines([]float64{0, most}, []float64{f.Centre, f.Centre}, stroke(mid, 1.2, dotted))...)
	}
	var n, lo95, hi95, lo998, hi998 []float64
	for _, l := range f.Limits {
		n, lo95, hi95, lo998, hi998 = append(n, l.N), append(lo95, l.Low95), append(hi95, l.High95), append(lo998, l.Low998), append(hi998, l.High998)
	}
	p.Add(slices.Concat(lines(n, lo95, funnelInner), lines(n, hi95, funnelInner), lines(n, lo998, funnelOuter), lines(n, hi998, funnelOuter))...)
	f.points(p)
	// Limits reach further than is worth drawing.
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, most, 0, hi
	return p
}

// points adds the marks, and the names of those that stand out. Whom the figure is
// about the keys name.
func (f Funnel) points(p *plot.Plot) {
	one, outside, about := scatter(nil, funnelOne), scatter(nil, funnelOutside), scatter(nil, glyph(ring, accent, 7.5))
	var named names
	for _, q := range f.Points {
		at := plotter.XY{X: float64(q.N), Y: q.Share}
		if !finite(q.Share) {
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
			named.add(at, fit(q.Label, small, 120), lettering(small, ink, alignLeft, alignMiddle))
		}
	}
	p.Add(about, one, outside, named)
}
