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
	Behind           []string // ids of the orders with the event
	Share, Low, High float64
	Mature           bool
	Signal           bool // outside its limits
}

// RunChart draws a Run. Months that are not mature are hollow and not joined.
func RunChart(r Run) page.Figure {
	data := runTable(r)
	if len(r.Months) == 0 {
		return nothing(r.ID, r.Title, "No month with shipped orders yet: nothing to draw.", data).figure()
	}
	if !slices.ContainsFunc(r.Months, func(m RunMonth) bool { return finite(m.Share) }) {
		return nothing(r.ID, r.Title, "No month has orders enough for a share. The table has the counts; longer spans and the gaps between events say more.", data).figure()
	}
	return plan{
		id: r.ID, title: r.Title, desc: r.Desc, data: data, keys: r.keys(),
		heading: "% " + r.What, foot: "under each month: " + r.Of,
		height: func(vg.Length) vg.Length { return 200 },
		draw:   func(c draw.Canvas) { r.plot(c.Max.X - c.Min.X).Draw(c) },
	}.figure()
}

var (
	runCentre    = stroke(mid, 1.4, dashed)
	runMature    = glyph(disc, ink, 4)
	runNotMature = glyph(ring, soft, 4)
	runSignal    = glyph(diamond, accent, 5)
)

func (r Run) keys() []key {
	keys := []key{{"month, told to its end", scatter(nil, runMature)}}
	if slices.ContainsFunc(r.Months, func(m RunMonth) bool { return !m.Mature }) {
		keys = append(keys, key{"young month: may rise", scatter(nil, runNotMature)})
	}
	if slices.ContainsFunc(r.Months, func(m RunMonth) bool { return m.Signal }) {
		keys = append(keys, key{"outside its limits", scatter(nil, runSignal)})
	}
	keys = append(keys, keyBand("chance alone: no news", wash))
	if finite(r.Centre) {
		keys = append(keys, keyLine("usual", runCentre))
	}
	return keys
}

func (r Run) plot(w vg.Length) *plot.Plot {
	p := newPlot()
	p.X.Min, p.X.Max, p.Y.Min = -0.5, float64(len(r.Months))-0.5, 0
	hi := 0.05
	var at, mature []float64
	var usual boxes
	marks := &plotter.Scatter{}
	var styles []draw.GlyphStyle
	for i, m := range r.Months {
		x := float64(i)
		at, mature = append(at, x), append(mature, math.NaN())
		if finite(m.Low) && finite(m.High) {
			usual = append(usual, box{x - 0.46, x + 0.46, m.Low, m.High})
			hi = math.Max(hi, m.High)
		}
		if !finite(m.Share) {
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
	p.Y.Tick.Marker = rounds{scale: 100}
	p.X.Tick.Marker = plot.ConstantTicks(r.ticks(w))
	p.Add(usual.polygon(wash, draw.LineStyle{}), &plotter.Grid{Horizontal: stroke(line, 0.8, nil)})
	if finite(r.Centre) {
		p.Add(across(p, r.Centre, runCentre))
	}
	p.Add(lines(at, mature, stroke(ink, 1.3, nil))...)
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
			page.Text(m.Month.String()), page.Count(m.Orders), page.CountOf(m.Events, page.Ref{Kind: "orders", IDs: m.Behind}),
			percent(m.Share), percent(m.Low), percent(m.High), page.YesNo(m.Mature), page.YesNo(m.Signal),
		})
	}
	return t
}

// percent shows a share in per cent; its value stays the share.
func percent(x float64) page.Cell {
	c := page.Number(100*x, 1)
	if c.Value != nil {
		c.Value = x
	}
	return c
}
