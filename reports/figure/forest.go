package figure

import (
	"math"
	"strings"

	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// A Forest shows differences with their intervals, a group a row: the crude
// one and, where there is one, the adjusted one under it.
type Forest struct {
	ID, Title, Desc string
	Axis            string  // "more remakes per 100 orders with the fault than without"
	Scale           float64 // what the differences are multiplied with for the axis: 100
	Rows            []ForestRow
}

// A ForestRow is one group of a Forest.
type ForestRow struct {
	Label           string
	N               int // orders with it
	Events          int
	Crude, Adjusted stats.Estimate // an Estimate without a method: none was made
}

// ForestChart draws a Forest.
func ForestChart(f Forest) page.Figure {
	data := forestTable(f)
	if len(f.Rows) == 0 {
		return nothing(f.ID, f.Title, "Nothing to compare yet.", data).figure()
	}
	r := rows{id: f.ID, title: f.Title, desc: f.Desc, data: data, axis: f.Axis, zero: 0,
		right: "remade of those with it · difference", keys: []key{keyMark("as counted", ring, soft)}}
	var at, ends []float64
	adjusted := false
	for _, one := range f.Rows {
		for _, e := range []stats.Estimate{one.Crude, one.Adjusted} {
			at = append(at, e.Point*f.Scale)
			ends = append(ends, e.Low*f.Scale, e.High*f.Scale)
		}
		adjusted = adjusted || one.Adjusted.Given() && one.Adjusted.Method != ""
	}
	if adjusted {
		r.keys = append(r.keys, keyMark("adjusted for the other faults and the order", square, accent))
	}
	r.lo, r.hi = span(at, ends, 2)
	r.ticks = ticks(r.lo, r.hi, 1, "")
	for _, one := range f.Rows {
		r.rows = append(r.rows, one.row(f.Scale, r.lo, r.hi))
	}
	return r.figure()
}

func (one ForestRow) row(scale, lo, hi float64) row {
	best := one.Crude
	both := one.Adjusted.Method != "" && one.Adjusted.Given()
	if both {
		best = one.Adjusted
	}
	out := row{label: one.Label, right: page.Thousands(one.Events) + " of " + page.Thousands(one.N)}
	if !one.Crude.Given() && !both {
		out.words = page.TooFew
		return out
	}
	out.right += " · " + strings.ReplaceAll(page.Scaled(best, scale, 1).Text, "-", "−")
	out.draw = func(s *sheet, x func(float64) float64, y float64) {
		dy := 0.0
		if both {
			dy = 6
			s.estimate(one.Adjusted, scale, square, accent, 2, lo, hi, x, y-dy)
		}
		s.estimate(one.Crude, scale, ring, soft, 1.2, lo, hi, x, y+dy)
	}
	return out
}

// estimate draws a point with its interval; a point beyond the scale is left
// to its arrow.
func (s *sheet) estimate(e stats.Estimate, scale float64, m mark, t tone, width, lo, hi float64, x func(float64) float64, y float64) {
	if !e.Given() {
		return
	}
	s.interval(t, width, x(e.Low*scale), x(e.High*scale), x(lo), x(hi), y)
	if p := e.Point * scale; p >= lo && p <= hi {
		s.mark(m, t, x(p), y, 4)
	}
}

func forestTable(f Forest) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "group", Title: "Group"}, {Key: "orders_with", Title: "Orders with it", Numeric: true}, {Key: "remade_with", Title: "Remade", Numeric: true},
		{Key: "crude", Title: "Difference as counted", Unit: "per 100 orders", Numeric: true},
		{Key: "adjusted", Title: "Difference adjusted", Unit: "per 100 orders", Numeric: true},
	}}
	for _, r := range f.Rows {
		adj := page.Cell{Text: "not made"}
		if r.Adjusted.Method != "" {
			adj = page.Scaled(r.Adjusted, f.Scale, 1)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Count(r.N), page.Count(r.Events), page.Scaled(r.Crude, f.Scale, 1), adj})
	}
	t.Notes = page.Refusals(t.Rows)
	return t
}

// A Scorecard shows rules: the share of first forms each holds, and the share
// of remakes it would have caught. The further the second lies to the right of
// the first, the better the rule earns its work.
type Scorecard struct {
	ID, Title, Desc string
	Rows            []ScoreRow
}

// A ScoreRow is one rule of a Scorecard.
type ScoreRow struct {
	Label        string
	Held, Caught int
	HeldShare    stats.Estimate
	Sensitivity  stats.Estimate
}

// ScorecardChart draws a Scorecard.
func ScorecardChart(c Scorecard) page.Figure {
	t := page.Table{Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "held", Title: "Forms held", Numeric: true}, {Key: "held_share", Title: "Share held", Unit: "%", Numeric: true},
		{Key: "caught", Title: "Remakes caught", Numeric: true}, {Key: "sensitivity", Title: "Share caught", Unit: "%", Numeric: true},
	}}
	for _, r := range c.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Label), page.Count(r.Held), page.Percent(r.HeldShare), page.Count(r.Caught), page.Percent(r.Sensitivity)})
	}
	t.Notes = page.Refusals(t.Rows)
	if len(c.Rows) == 0 {
		return nothing(c.ID, c.Title, "No rule to score.", t).figure()
	}
	r := rows{id: c.ID, title: c.Title, desc: c.Desc, data: t, zero: math.NaN(), axis: "% of first forms, % of remakes",
		right: "held · remakes caught", keys: []key{keyMark("share of first forms it holds (work)", ring, soft), keyMark("share of remakes among them (worth)", square, accent)}}
	var at, ends []float64
	for _, one := range c.Rows {
		at = append(at, 100*one.HeldShare.Point, 100*one.Sensitivity.Point)
		ends = append(ends, 100*one.Sensitivity.High)
	}
	_, hi := span(at, ends, 10)
	r.lo, r.hi = 0, math.Min(hi, 100)
	r.ticks = ticks(0, r.hi, 1, "")
	for _, one := range c.Rows {
		r.rows = append(r.rows, one.row(r.hi))
	}
	return r.figure()
}

func (one ScoreRow) row(hi float64) row {
	out := row{label: one.Label, right: page.Thousands(one.Held) + " held · " + page.Thousands(one.Caught) + " caught"}
	if !one.HeldShare.Given() && !one.Sensitivity.Given() {
		out.words = page.TooFew
		return out
	}
	out.draw = func(s *sheet, x func(float64) float64, y float64) {
		s.estimate(one.Sensitivity, 100, square, accent, 1.8, 0, hi, x, y)
		if one.HeldShare.Given() {
			s.mark(ring, soft, x(100*one.HeldShare.Point), y, 4)
		}
	}
	return out
}
