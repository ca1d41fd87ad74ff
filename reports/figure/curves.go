package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// Curves are cumulative shares over the days since shipping, one small panel a
// group, each over the same reference.
type Curves struct {
	ID, Title, Desc string
	What            string // the share: "remade, % of orders"
	Reference       Curve  // drawn dotted in every panel; no points: none
	Panels          []Panel
	Days            float64 // right end of the scale
}

// A Panel is one group with its curve and, beside it, another estimate.
type Panel struct {
	Label  string
	N      int
	Main   Curve
	Beside Curve // dashed; no points: none
}

// A Curve is a step function: from Day[i] on the share is Share[i]. Low and
// High may be nil.
type Curve struct {
	Label                 string
	Day, Share, Low, High []float64
}

// mostPanels is how many panels are drawn: the newest; the table has all.
const mostPanels = 12

// CurvePanels draws Curves.
func CurvePanels(c Curves) page.Figure {
	data := curveTable(c)
	if len(c.Panels) == 0 {
		return nothing(c.ID, c.Title, "No quarter with shipped orders yet: nothing to draw.", data).figure()
	}
	if n := len(c.Panels); n > mostPanels {
		c.Desc += " Drawn are the newest " + page.Thousands(mostPanels) + " of " + page.Thousands(n) + "; the table has all."
		c.Panels = c.Panels[n-mostPanels:]
	}
	keys := curveKeys(c)
	const panelHeight = 118.0
	return plan{
		id: c.ID, title: c.Title, desc: c.Desc, data: data,
		height: func(w float64) float64 {
			rows := (len(c.Panels) + across(w, len(c.Panels)) - 1) / across(w, len(c.Panels))
			return 44 + 18*float64(legendRows(keys, w)) + panelHeight*float64(rows)
		},
		draw: func(s *sheet) {
			s.text(0, s.h-8, c.What, soft, small, draw.XLeft)
			s.legend(keys, s.h-27)
			top := s.h - 27 - 18*float64(legendRows(keys, s.w))
			hi := c.highest()
			n := across(s.w, len(c.Panels))
			cell := (s.w - 26) / float64(n)
			for i, p := range c.Panels {
				left := 26 + cell*float64(i%n)
				ceil := top - panelHeight*float64(i/n)
				s.panel(c, p, hi, left, ceil-panelHeight, left+cell-12, ceil, i%n == 0)
			}
			s.text(s.w-12, 8, "days since shipping", soft, small, draw.XRight)
		},
	}.figure()
}

func across(w float64, panels int) int {
	n := 4
	if w < 500 {
		n = 2
	}
	return max(1, min(n, panels))
}

func (c Curves) highest() float64 {
	hi := 0.04
	note := func(vs []float64) {
		for _, v := range vs {
			if finite(v) {
				hi = math.Max(hi, v)
			}
		}
	}
	for _, p := range c.Panels {
		note(p.Main.Share)
		note(p.Beside.Share)
		for i, v := range p.Main.High {
			if i < len(p.Main.Share) && finite(v) {
				hi = math.Max(hi, math.Min(v, 2.5*math.Max(p.Main.Share[i], 0.04)))
			}
		}
	}
	note(c.Reference.Share)
	return math.Min(hi*1.05, 1)
}

func curveKeys(c Curves) []key {
	keys := []key{keyLine(c.Panels[0].Main.Label, ink, 1.8, nil), keyBand("its 95 % interval", wash)}
	for _, p := range c.Panels {
		if len(p.Beside.Day) > 0 {
			keys = append(keys, keyLine(p.Beside.Label, accent, 1.6, dashed))
			break
		}
	}
	if len(c.Reference.Day) > 0 {
		keys = append(keys, keyLine(c.Reference.Label, mid, 1.4, dotted))
	}
	return keys
}

// thin drops steps that are too small to be seen, so that the drawing of a large
// shop is no larger than that of a small one. The first and last stay.
func (c Curve) thin(hi float64) Curve {
	out := Curve{Label: c.Label}
	last := math.NaN()
	banded := len(c.Low) == len(c.Day) && len(c.High) == len(c.Day)
	for i := range c.Day {
		if i >= len(c.Share) || i > 0 && i+1 < len(c.Day) && math.Abs(c.Share[i]-last) < hi/200 {
			continue
		}
		last = c.Share[i]
		out.Day, out.Share = append(out.Day, c.Day[i]), append(out.Share, c.Share[i])
		if banded {
			out.Low, out.High = append(out.Low, c.Low[i]), append(out.High, c.High[i])
		}
	}
	return out
}

func (s *sheet) panel(c Curves, p Panel, hi, left, bottom, right, top float64, first bool) {
	p.Main, p.Beside, c.Reference = p.Main.thin(hi), p.Beside.thin(hi), c.Reference.thin(hi)
	base := bottom + 26
	s.bold(left, top-9, fit(p.Label, normal, right-left-52), ink, normal, draw.XLeft)
	s.text(right, top-9, "n "+page.Thousands(p.N), soft, small, draw.XRight)
	s.area(left, base, right, top-20, [2]float64{0, c.Days}, [2]float64{0, hi}, func(x, y func(float64) float64) {
		s.band(p.Main, hi, x, y)
		ts := ticks(0, hi, 100, "")
		for i, t := range ts {
			if len(ts) > 4 && i%2 == 1 {
				continue // a panel is low: every other place is enough
			}
			s.stroke(line, 0.8, nil, left, y(t.at), right, y(t.at))
			if first {
				s.text(left-5, y(t.at), t.label, soft, small, draw.XRight)
			}
		}
		for _, d := range []float64{0, 90, 180, 270, 365} {
			if d > c.Days || (s.narrow() || len(c.Panels) > 3) && (d == 90 || d == 270) {
				continue
			}
			s.stroke(mid, 0.8, nil, x(d), base, x(d), base-3)
			align := draw.XAlignment(draw.XCenter)
			if d == 0 {
				align = draw.XLeft
			} else if d == c.Days {
				align = draw.XRight
			}
			s.text(x(d), base-11, trimmed(d), soft, small-0.5, align)
		}
		s.steps(c.Reference, mid, 1.4, dotted, c.Days, x, y)
		s.steps(p.Main, ink, 1.8, nil, c.Days, x, y)
		s.steps(p.Beside, accent, 1.6, dashed, c.Days, x, y)
		if len(p.Main.Day) == 0 {
			s.text(left+4, (base+top-20)/2, "too few to tell", soft, small, draw.XLeft)
		}
	})
}

// steps draws a curve as it is: level until the next step.
func (s *sheet) steps(c Curve, t tone, width float64, dash []vg.Length, end float64, x, y func(float64) float64) {
	xy := stairs(c.Day, c.Share, end)
	if len(xy) < 4 {
		return
	}
	for i := 0; i < len(xy); i += 2 {
		xy[i], xy[i+1] = x(xy[i]), y(xy[i+1])
	}
	s.stroke(t, width, dash, xy...)
}

// band fills what lies between the limits of a step function, as far as they
// are given.
func (s *sheet) band(c Curve, hi float64, x, y func(float64) float64) {
	if len(c.Low) != len(c.Day) || len(c.High) != len(c.Day) {
		return
	}
	var lower, upper []float64
	for i := range c.Day {
		if !finite(c.Low[i]) || !finite(c.High[i]) || i+1 == len(c.Day) {
			continue
		}
		from, to := x(c.Day[i]), x(c.Day[i+1])
		lo, up := y(math.Min(c.Low[i], hi)), y(math.Min(c.High[i], hi))
		lower = append(lower, from, lo, to, lo)
		upper = append([]float64{to, up, from, up}, upper...)
	}
	if len(lower) > 0 {
		s.fill(wash, append(lower, upper...)...)
	}
}

// stairs are the corners of a step function up to the end of its own days.
func stairs(day, share []float64, end float64) []float64 {
	var xy []float64
	last := 0.0
	for i := range day {
		if i >= len(share) || !finite(share[i]) || !finite(day[i]) || day[i] > end {
			continue
		}
		if len(xy) == 0 && day[i] > 0 {
			xy = append(xy, 0, 0)
		}
		xy = append(xy, day[i], last, day[i], share[i])
		last = share[i]
	}
	return xy
}

func curveTable(c Curves) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "group", Title: "Group"}, {Key: "n", Title: "Orders", Numeric: true}, {Key: "estimate", Title: "Estimate"},
		{Key: "day", Title: "Day", Numeric: true}, {Key: "share", Title: "Share", Unit: "%", Numeric: true},
		{Key: "low", Title: "Low", Unit: "%", Numeric: true}, {Key: "high", Title: "High", Unit: "%", Numeric: true},
	}}
	at := func(vs []float64, i int) page.Cell {
		if i < len(vs) {
			return percent(vs[i])
		}
		return page.Cell{}
	}
	for _, p := range c.Panels {
		for _, cv := range []Curve{p.Main, p.Beside} {
			for _, i := range milestones(cv.Day) {
				t.Rows = append(t.Rows, []page.Cell{page.Text(p.Label), page.Count(p.N), page.Text(cv.Label),
					page.Number(cv.Day[i], 0), at(cv.Share, i), at(cv.Low, i), at(cv.High, i)})
			}
		}
	}
	return t
}

// milestones picks the last step of each 30 days, so that the table of a
// curve stays readable.
func milestones(day []float64) []int {
	var out []int
	for i := range day {
		if i+1 == len(day) || math.Floor(day[i]/30) != math.Floor(day[i+1]/30) {
			out = append(out, i)
		}
	}
	return out
}
