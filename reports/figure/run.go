package figure

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/cohort"
	"lastroom/reports/figure/svg"
	"lastroom/reports/page"
)

// A Run is a chart of a share month by month, with limits that hold for each
// month's own number of orders.
type Run struct {
	ID, Title, Desc string
	Of              string // what is counted: "orders shipped"
	What            string // the share: "remade within 365 days"
	Centre          float64
	Months          []RunMonth
}

// A RunMonth is one month of a Run. Share, Low and High are shares (0 to 1),
// NaN where they can't be given.
type RunMonth struct {
	Month            cohort.Month
	Orders, Events   int
	All, Behind      page.Ref // the orders, and those with the event
	Share, Low, High float64
	Mature           bool
	Signal           bool // outside its limits
}

// RunChart draws a Run. Months that are not mature are hollow and not joined.
func RunChart(r Run) page.Figure {
	data := runTable(r)
	if len(r.Months) == 0 {
		return svg.Nothing(r.ID, r.Title, "No month with shipped orders yet: nothing to draw.", data).Figure()
	}
	if !slices.ContainsFunc(r.Months, func(m RunMonth) bool { return svg.Finite(m.Share) }) {
		return svg.Nothing(r.ID, r.Title, "No month has orders enough for a share. The table has the counts; longer spans and the gaps between events say more.", data).Figure()
	}
	return svg.Plan{
		ID: r.ID, Title: r.Title, Desc: r.Desc, Data: data, Keys: r.keys(),
		Heading: "% " + r.What, Foot: "under each month: " + r.Of,
		Height: func(vg.Length) vg.Length { return 200 },
		Draw:   func(c draw.Canvas) { r.plot(c.Max.X - c.Min.X).Draw(c) },
	}.Figure()
}

var (
	runCentre    = svg.Stroke(svg.Mid, 1.4, svg.Dashed)
	runMature    = svg.Glyph(svg.Disc, svg.Ink, 4)
	runNotMature = svg.Glyph(svg.Ring, svg.Soft, 4)
	runSignal    = svg.Glyph(svg.Diamond, svg.Accent, 5)
)

func (r Run) keys() []svg.Key {
	keys := []svg.Key{{Label: "month, told to its end", Thumb: svg.Scatter(nil, runMature)}}
	if slices.ContainsFunc(r.Months, func(m RunMonth) bool { return !m.Mature }) {
		keys = append(keys, svg.Key{Label: "young month: may rise", Thumb: svg.Scatter(nil, runNotMature)})
	}
	if slices.ContainsFunc(r.Months, func(m RunMonth) bool { return m.Signal }) {
		keys = append(keys, svg.Key{Label: "outside its limits", Thumb: svg.Scatter(nil, runSignal)})
	}
	keys = append(keys, svg.KeyBand("chance alone: no news", svg.Wash))
	if svg.Finite(r.Centre) {
		keys = append(keys, svg.KeyLine("usual", runCentre))
	}
	return keys
}

func (r Run) plot(w vg.Length) *plot.Plot {
	p := svg.NewPlot()
	p.X.Min, p.X.Max, p.Y.Min = -0.5, float64(len(r.Months))-0.5, 0
	hi := 0.05
	var at, mature []float64
	var usual svg.Boxes
	marks := &plotter.Scatter{}
	var styles []draw.GlyphStyle
	for i, m := range r.Months {
		x := float64(i)
		at, mature = append(at, x), append(mature, math.NaN())
		if svg.Finite(m.Low) && svg.Finite(m.High) {
			usual = append(usual, svg.Box{X0: x - 0.46, X1: x + 0.46, Y0: m.Low, Y1: m.High})
			hi = math.Max(hi, m.High)
		}
		if !svg.Finite(m.Share) {
			continue
		}
		hi = math.Max(hi, m.Share)
		sty := runNotMature
		if m.Mature {
			sty, mature[i] = runMature, m.Share
			if m.Signal {
				sty = runSignal
			}
		}
		marks.XYs, styles = append(marks.XYs, plotter.XY{X: x, Y: m.Share}), append(styles, sty)
	}
	marks.GlyphStyleFunc = func(i int) draw.GlyphStyle { return styles[i] }
	p.Y.Max = math.Min(hi*1.04, 1)
	p.Y.Tick.Marker = svg.Rounds{Scale: 100}
	p.X.Tick.Marker = plot.ConstantTicks(r.ticks(w))
	p.Add(usual.Polygon(svg.Wash, draw.LineStyle{}), &plotter.Grid{Horizontal: svg.Stroke(svg.Line, 0.8, nil)})
	if svg.Finite(r.Centre) {
		p.Add(svg.Across(p, r.Centre, runCentre))
	}
	p.Add(svg.Lines(at, mature, svg.Stroke(svg.Ink, 1.3, nil))...)
	p.Add(marks)
	return p
}

// ticks are month, year and number of orders under each month, or under as
// many as there is room for; the newest is always one of them.
func (r Run) ticks(w vg.Length) []plot.Tick {
	n := len(r.Months)
	step := 1
	for room := (w - 40) / vg.Length(n); vg.Length(step)*room < 32 && step < n; {
		step++
	}
	var out []plot.Tick
	for i := (n - 1) % step; i < n; i += step {
		year, month := int(r.Months[i].Month)/12, int(r.Months[i].Month)%12
		label := monthNames[month] + "\n"
		if i < step || month < step {
			label += strconv.Itoa(year)
		}
		out = append(out, plot.Tick{Value: float64(i), Label: label + "\n" + strconv.Itoa(r.Months[i].Orders)})
	}
	return out
}

var monthNames = [...]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

func runTable(r Run) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "month", Title: "Month"}, {Key: "orders", Title: "Orders", Numeric: true},
		{Key: "events", Title: "Remade", Numeric: true}, {Key: "share", Title: "Share", Unit: "%", Numeric: true},
		{Key: "limit_low", Title: "Chance alone from", Unit: "%", Numeric: true}, {Key: "limit_high", Title: "to", Unit: "%", Numeric: true},
		{Key: "mature", Title: "Told to its end"}, {Key: "signal", Title: "Outside that"},
	}}
	for _, m := range r.Months {
		t.Rows = append(t.Rows, []page.Cell{
			page.Text(m.Month.String()), page.CountOf(m.Orders, m.All), page.CountOf(m.Events, m.Behind),
			page.Share(m.Share), page.Share(m.Low), page.Share(m.High), page.YesNo(m.Mature), page.YesNo(m.Signal),
		})
	}
	return t
}
