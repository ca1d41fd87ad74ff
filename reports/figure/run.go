package figure

import (
	"math"
	"slices"
	"strconv"

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
	keys := runKeys(r)
	return plan{
		id: r.ID, title: r.Title, desc: r.Desc, data: data,
		height: func(w float64) float64 { return 234 + 18*float64(legendRows(keys, w)) },
		draw: func(s *sheet) {
			s.text(0, s.h-8, "% "+r.What, soft, small, draw.XLeft)
			s.legend(keys, s.h-27)
			drawRun(s, r, s.h-27-18*float64(legendRows(keys, s.w)))
		},
	}.figure()
}

func runKeys(r Run) []key {
	keys := []key{keyMark("mature month", disc, ink)}
	for _, m := range r.Months {
		if !m.Mature {
			keys = append(keys, keyMark("not mature yet: will rise", ring, soft))
			break
		}
	}
	for _, m := range r.Months {
		if m.Signal {
			keys = append(keys, keyMark("outside its limits", diamond, accent))
			break
		}
	}
	keys = append(keys, keyBand("where a month of its size usually lies", wash))
	if finite(r.Centre) {
		keys = append(keys, keyLine("usual: the baseline's share", mid, 1.4, dashed))
	}
	return keys
}

func drawRun(s *sheet, r Run, top float64) {
	hi := 0.05
	for _, m := range r.Months {
		for _, v := range []float64{m.Share, m.High} {
			if finite(v) {
				hi = math.Max(hi, v)
			}
		}
	}
	hi = math.Min(hi*1.08, 1)
	n := float64(len(r.Months))
	s.area(34, 64, s.w-6, top, [2]float64{-0.5, n - 0.5}, [2]float64{0, hi}, func(x, y func(float64) float64) {
		s.bands(r.Months, x, y)
		s.gridY(ticks(0, hi, 100, ""), 34, s.w-6, y)
		if finite(r.Centre) {
			s.stroke(mid, 1.4, dashed, x(-0.5), y(r.Centre), x(n-0.5), y(r.Centre))
		}
		s.joined(r.Months, x, y)
		for i, m := range r.Months {
			if finite(m.Share) {
				s.runMark(m, x(float64(i)), y(m.Share))
			}
		}
		s.monthAxis(r, x)
	})
}

func (s *sheet) runMark(m RunMonth, x, y float64) {
	switch {
	case !m.Mature:
		s.mark(ring, soft, x, y, 4)
	case m.Signal:
		s.mark(diamond, accent, x, y, 5)
	default:
		s.mark(disc, ink, x, y, 4)
	}
}

func (s *sheet) bands(ms []RunMonth, x, y func(float64) float64) {
	for i, m := range ms {
		if finite(m.Low) && finite(m.High) {
			s.box(wash, x(float64(i)-0.46), y(m.Low), x(float64(i)+0.46), y(m.High))
		}
	}
}

// joined draws a line through neighbouring mature months.
func (s *sheet) joined(ms []RunMonth, x, y func(float64) float64) {
	for i := 1; i < len(ms); i++ {
		a, b := ms[i-1], ms[i]
		if a.Mature && b.Mature && finite(a.Share) && finite(b.Share) {
			s.stroke(ink, 1.3, nil, x(float64(i-1)), y(a.Share), x(float64(i)), y(b.Share))
		}
	}
}

var monthNames = [...]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// monthAxis writes month, year and number of orders under each month, or under
// as many as there is room for; the newest is always one of them.
func (s *sheet) monthAxis(r Run, x func(float64) float64) {
	ms := r.Months
	step := 1
	for room := x(1) - x(0); float64(step)*room < 32 && step < len(ms); {
		step++
	}
	for i := (len(ms) - 1) % step; i < len(ms); i += step {
		at, k := x(float64(i)), int(ms[i].Month)%12
		s.centred(at, 54, monthNames[k], ink)
		if i < step || k < step {
			s.centred(at, 39, strconv.Itoa(int(ms[i].Month)/12), soft)
		}
		s.centred(at, 23, strconv.Itoa(ms[i].Orders), soft)
	}
	s.text(0, 23, "n", soft, small, draw.XLeft)
	s.text(0, 6.5, fit("n: "+r.Of, small, s.w), soft, small, draw.XLeft)
}

// centred writes a label under a place, moved inwards where it would stick out
// of the sheet.
func (s *sheet) centred(x, y float64, str string, t tone) {
	half := textWidth(str, small) / 2
	s.text(math.Min(math.Max(x, half), s.w-half), y, str, t, small, draw.XCenter)
}

// gridY draws a scale on the left with faint lines across.
func (s *sheet) gridY(ts []tick, left, right float64, y func(float64) float64) {
	for _, t := range ts {
		s.stroke(line, 0.8, nil, left, y(t.at), right, y(t.at))
		s.text(left-6, y(t.at), t.label, soft, small, draw.XRight)
	}
}

// gridX draws a scale along the bottom with faint lines up.
func (s *sheet) gridX(ts []tick, bottom, top float64, x func(float64) float64) {
	for _, t := range ts {
		s.stroke(line, 0.8, nil, x(t.at), bottom, x(t.at), top)
		s.text(x(t.at), bottom-10, t.label, soft, small, draw.XCenter)
	}
}

func runTable(r Run) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "month", Title: "Month"}, {Key: "orders", Title: "Orders", Numeric: true},
		{Key: "events", Title: "Remade", Numeric: true}, {Key: "share", Title: "Share", Unit: "%", Numeric: true},
		{Key: "limit_low", Title: "Limit, low", Unit: "%", Numeric: true}, {Key: "limit_high", Title: "Limit, high", Unit: "%", Numeric: true},
		{Key: "mature", Title: "Mature"}, {Key: "signal", Title: "Outside its limits"},
	}}
	for _, m := range r.Months {
		t.Rows = append(t.Rows, []page.Cell{
			page.Text(m.Month.String()), page.Count(m.Orders), page.Count(m.Events),
			percent(m.Share), percent(m.Low), percent(m.High), yesNo(m.Mature), yesNo(m.Signal),
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

func yesNo(b bool) page.Cell {
	if b {
		return page.Cell{Text: "yes", Value: true}
	}
	return page.Cell{Text: "no", Value: false}
}
