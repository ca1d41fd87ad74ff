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

// A Series is a monitored number in the order of time (a CUSUM, an EWMA, a g
// chart), with the limits it is watched against.
type Series struct {
	ID, Title, Desc string
	Y, X            string // what the scales show
	At              []float64
	Label           []string // of each point, for the table and the ends of the scale
	Value           []float64
	Low, High       []float64 // limits at each point; nil: none
	Centre          float64   // NaN: none
	Signal          []bool
	N               int // what the whole rests on
	Of              string
}

// SeriesChart draws a Series.
func SeriesChart(v Series) page.Figure {
	t := seriesTable(v)
	if len(v.Value) == 0 || len(v.At) != len(v.Value) {
		return svg.Nothing(v.ID, v.Title, "Nothing observed yet: nothing to draw.", t).Figure()
	}
	return svg.Plan{
		ID: v.ID, Title: v.Title, Desc: v.Desc, Data: t, Keys: v.keys(),
		Heading: v.Y, Foot: v.X + ", n " + page.Thousands(v.N) + " " + v.Of,
		Height: func(vg.Length) vg.Length { return 180 },
		Draw:   func(c draw.Canvas) { v.plot(c.Max.X - c.Min.X).Draw(c) },
	}.Figure()
}

var (
	seriesValue  = svg.Stroke(svg.Ink, 1.6, nil)
	seriesLimit  = svg.Stroke(svg.Accent, 1.4, svg.Dashed)
	seriesCentre = svg.Stroke(svg.Mid, 1.3, svg.Dotted)
	seriesSignal = svg.Glyph(svg.Diamond, svg.Accent, 4.5)
)

func (v Series) keys() []svg.Key {
	keys := []svg.Key{svg.KeyLine("as observed", seriesValue)}
	if len(v.Low) > 0 || len(v.High) > 0 {
		keys = append(keys, svg.KeyLine("limit", seriesLimit))
	}
	if svg.Finite(v.Centre) {
		keys = append(keys, svg.KeyLine("expected", seriesCentre))
	}
	if slices.Contains(v.Signal, true) {
		keys = append(keys, svg.Key{Label: "signal", Thumb: svg.Scatter(nil, seriesSignal)})
	}
	return keys
}

func (v Series) plot(w vg.Length) *plot.Plot {
	p := svg.NewPlot()
	p.X.Min, p.X.Max = extent(v.At)
	lo, hi := extent(slices.Concat(v.Value, v.Low, v.High, []float64{v.Centre}))
	if lo >= 0 && lo < 0.5*hi {
		lo = 0
	}
	p.Y.Min, p.Y.Max = lo, hi+0.03*(hi-lo)
	ticks := v.ticks(w, p.X.Max-p.X.Min)
	p.X.Tick.Marker = plot.ConstantTicks(ticks)
	if len(ticks) > 0 { // room for the half of the first that stands left of the axis
		p.Y.Padding = max(p.Y.Padding, svg.TextWidth(ticks[0].Label, svg.Small)/2-10)
	}
	p.Add(&plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	if svg.Finite(v.Centre) {
		p.Add(svg.Across(p, v.Centre, seriesCentre))
	}
	p.Add(svg.Lines(v.At, v.Low, seriesLimit)...)
	p.Add(svg.Lines(v.At, v.High, seriesLimit)...)
	p.Add(svg.Lines(v.At, v.Value, seriesValue)...)
	quiet, signal := slices.Clone(v.Value), slices.Clone(v.Value)
	for i := range v.Value {
		if i < len(v.Signal) && v.Signal[i] {
			quiet[i] = math.NaN()
		} else {
			signal[i] = math.NaN()
		}
	}
	if len(v.Value) <= 60 {
		p.Add(svg.Scatter(svg.XYs(v.At, quiet), svg.Glyph(svg.Disc, svg.Ink, 3)))
	}
	p.Add(svg.Scatter(svg.XYs(v.At, signal), seriesSignal))
	return p
}

// ticks labels as many points as there is room for.
func (v Series) ticks(w vg.Length, length float64) []plot.Tick {
	var out []plot.Tick
	free := math.Inf(-1)
	for i, l := range v.Label {
		if i >= len(v.At) || l == "" || !svg.Finite(v.At[i]) {
			continue
		}
		half := float64((svg.TextWidth(l, svg.Small)/2+8)/(w-60)) * length
		if v.At[i]-half >= free {
			out = append(out, plot.Tick{Value: v.At[i], Label: l})
			free = v.At[i] + half
		}
	}
	return out
}

// extent is what the finite values span, or 0 to 1, with room around a single
// value.
func extent(at []float64) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, v := range at {
		if svg.Finite(v) {
			from, to = math.Min(from, v), math.Max(to, v)
		}
	}
	if from > to {
		return 0, 1
	}
	if from == to {
		return from - 0.5, to + 0.5
	}
	return from, to
}

func seriesTable(v Series) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "at", Title: v.X}, {Key: "value", Title: "Value", Numeric: true},
		{Key: "limit_low", Title: "Limit, low", Numeric: true}, {Key: "limit_high", Title: "Limit, high", Numeric: true}, {Key: "signal", Title: "Signal"},
	}}
	at := func(vs []float64, i int) page.Cell {
		if i < len(vs) {
			return page.Number(vs[i], 3)
		}
		return page.Cell{}
	}
	for i := range v.Value {
		label := ""
		if i < len(v.Label) {
			label = v.Label[i]
		}
		if label == "" && i < len(v.At) {
			label = svg.Round(v.At[i], 2)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(label), at(v.Value, i), at(v.Low, i), at(v.High, i), page.YesNo(i < len(v.Signal) && v.Signal[i])})
	}
	return t
}
