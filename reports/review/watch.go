package review

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// watchIfSignalled is watch, with the charts only where one of them signals.
func watchIfSignalled(t monitoring.Trend) []page.Block {
	if len(t.Signals) > 0 || len(t.Charts) == 0 {
		return watch(t)
	}
	t.Charts = nil
	return append(watch(t), page.Prose{"No chart signals, so none is drawn here: lastroom trend has them, and a finding cell of=trend in a notebook."})
}

// watch is the monitored series: its words, the signals of all charts, then one
// figure a chart.
func watch(t monitoring.Trend) []page.Block {
	var out []page.Block
	if words := slices.DeleteFunc(slices.Clone(t.Words), func(w string) bool { return w == "" }); len(words) > 0 {
		out = append(out, page.Prose(words))
	}
	if len(t.Signals) > 0 {
		out = append(out, signals(t))
	}
	for _, c := range t.Charts {
		out = append(out, chartFigure(c))
	}
	return out
}

// chartFigure draws one monitored statistic.
func chartFigure(c monitoring.Chart) page.Block {
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
		v.Signal = append(v.Signal, slices.ContainsFunc(c.Signals, func(x monitoring.Signal) bool { return x.Day.Month() == s.Month }))
	}
	if allMissing(v.Low) {
		v.Low = nil
	}
	if allMissing(v.High) {
		v.High = nil
	}
	return figure.SeriesChart(v)
}

func first(own, whole stats.Value) float64 {
	if own.Given() {
		return float64(own)
	}
	return float64(whole)
}

func allMissing(vs []float64) bool {
	for _, v := range vs {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// tuned says what a chart is set to find, and how often it cries wolf.
func tuned(c monitoring.Chart) string {
	s := form.Capitalised(c.Tuned)
	if s != "" && s[len(s)-1] != '.' {
		s += "."
	}
	if c.RunLength.Given() {
		s += fmt.Sprintf(" While nothing has changed, a false alarm on average every %s %s", rough(c.RunLength), c.Unit)
		if c.RunLengthLow.Given() && c.RunLengthHigh.Given() {
			s += fmt.Sprintf(" (anything from %s to %s, since the baseline is short of being exact)", rough(c.RunLengthLow), rough(c.RunLengthHigh))
		}
		if c.ShiftRunLength.Given() {
			s += fmt.Sprintf("; an alarm %s %s after the change it is set to find", rough(c.ShiftRunLength), c.Unit)
		}
		s += "."
	}
	for _, w := range c.Warnings {
		s += " " + form.Capitalised(w) + "."
	}
	if s == "" {
		return c.Title
	}
	return s
}

// rough is a run length to two digits; beyond a million orders it says so.
func rough(n stats.Value) string {
	v := float64(n)
	if v > 1e6 {
		return "over a million"
	}
	step := math.Pow(10, math.Floor(math.Log10(math.Max(v, 1)))-1)
	return page.Thousands(int(math.Round(v/step) * step))
}

func signals(t monitoring.Trend) page.Table {
	out := page.Table{ID: "signals", Caption: "Signals of all charts, each change once", Columns: []page.Column{
		{Key: "day", Title: "Shipping day"}, {Key: "direction", Title: "Direction"}, {Key: "from", Title: "Since about"}, {Key: "until", Title: "Over by"},
		{Key: "order_id", Title: "Order"}, {Key: "charts", Title: "Charts that show it"},
	}}
	for _, s := range t.Signals {
		order := page.Text(s.Order)
		if s.Order != "" {
			order.Ref = page.Ref{Kind: "order", IDs: []string{s.Order}}
		}
		over := page.Text("still so")
		if s.Until.Known() {
			over = page.Date(s.Until)
		}
		out.Rows = append(out.Rows, []page.Cell{page.Date(s.Day), page.Text(s.Direction), page.Date(s.From), over, order, page.Text(chartNames(s.Charts))})
	}
	return out
}

// chartNames are the charts of a signal in words.
func chartNames(charts []string) string {
	var out []string
	for _, c := range charts {
		switch c {
		case "risk_adjusted_cusum", "risk_adjusted_cusum_better":
			c = "CUSUM"
		case "months":
			c = "the month's own limits"
		case "young months":
			c = "the month at its age"
		}
		out = append(out, c)
	}
	return strings.Join(out, ", ")
}
