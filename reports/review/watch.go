package review

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/remakes"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// Watch is the monitored series: its words, then one figure a chart.
func Watch(t remakes.Trend) []page.Block {
	var out []page.Block
	if len(t.Words) > 0 {
		out = append(out, page.Prose(t.Words))
	}
	if t.Laney.Words != "" && !slices.Contains(t.Words, t.Laney.Words) {
		out = append(out, page.Prose{t.Laney.Words})
	}
	for _, c := range t.Charts {
		out = append(out, ChartFigure(c))
	}
	if len(out) > 0 {
		if s := signals(t); len(s.Rows) > 0 {
			out = append(out, s)
		}
	}
	return out
}

// ChartFigure draws one monitored statistic.
func ChartFigure(c remakes.Chart) page.Block {
	v := figure.Series{
		ID: "watch-" + c.Name, Title: c.Title, Y: c.Title, X: "end of shipping month", Of: c.Unit,
		Centre: float64(c.Centre), N: len(c.Steps), Desc: tuned(c),
	}
	if c.Name == "g" {
		v.X = "shipping day of each remade order"
	}
	v.Of, v.Y = "points", "value of the chart"
	if strings.Contains(c.Name, "cusum") {
		v.Centre = math.NaN() // its floor, not what is expected of it
	}
	for i, s := range c.Steps {
		v.At = append(v.At, float64(i))
		label := s.Month.String()
		if c.Name == "g" && s.Day.Known() {
			label = s.Day.String()
		}
		v.Label = append(v.Label, label)
		value := s.Value
		if s.Peak.Given() && float64(s.Peak) > float64(value) {
			value = s.Peak // a chart that signals within a month must show it
		}
		v.Value = append(v.Value, float64(value))
		v.Low = append(v.Low, first(s.Low, c.LowLimit))
		v.High = append(v.High, first(s.High, c.Limit))
		v.Signal = append(v.Signal, beyond(float64(value), v.Low[i], v.High[i]))
	}
	if allMissing(v.Low) {
		v.Low = nil
	}
	if allMissing(v.High) {
		v.High = nil
	}
	return figure.SeriesChart(v)
}

func first(own, whole remakes.Number) float64 {
	if own.Given() {
		return float64(own)
	}
	return float64(whole)
}

func beyond(v, low, high float64) bool { return v > high || v < low }

func allMissing(vs []float64) bool {
	for _, v := range vs {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// tuned says what a chart is set to find, and how often it cries wolf.
func tuned(c remakes.Chart) string {
	s := capital(c.Tuned)
	if s != "" && s[len(s)-1] != '.' {
		s += "."
	}
	if c.RunLength.Given() {
		s += fmt.Sprintf(" A false alarm on average every %s %s while nothing has changed", page.Fixed(float64(c.RunLength), 0), c.Unit)
		if c.ShiftRunLength.Given() {
			s += fmt.Sprintf("; an alarm %s %s after the change it is set to find", page.Fixed(float64(c.ShiftRunLength), 0), c.Unit)
		}
		s += "."
	}
	for _, w := range c.Warnings {
		s += " " + capital(w) + "."
	}
	if s == "" {
		return c.Title
	}
	return s
}

func signals(t remakes.Trend) page.Table {
	out := page.Table{ID: "signals", Caption: "Signals", Columns: []page.Column{
		{Key: "chart", Title: "Chart"}, {Key: "day", Title: "Shipping day"}, {Key: "order_id", Title: "Order"}, {Key: "direction", Title: "Direction"},
	}}
	for _, c := range t.Charts {
		for _, s := range c.Signals {
			order := page.Text(s.Order)
			if s.Order != "" {
				order.Ref = page.Ref{Kind: "order", IDs: []string{s.Order}}
			}
			out.Rows = append(out.Rows, []page.Cell{page.Text(c.Title), page.Date(s.Day), order, page.Text(s.Direction)})
		}
	}
	return out
}
