package execution

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/frame"
	"lastroom/analysis/nearest"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// drawings are the values of draw= and the columns each needs.
var drawings = map[string][]string{"intervals": {"x", "y", "low", "high"}, "bars": {"x", "y"}, "line": {"x", "y"}}

// figure draws the table of an earlier cell, which it gets as a data frame.
func (w *worker) figure(got *CellRun) error {
	c := got.Cell
	df := w.earlier(c.Uses[0]).frame
	if df.Ncol() == 0 {
		return fmt.Errorf("cell %q has no table", c.Uses[0])
	}
	needs, ok := drawings[c.Keys["draw"]]
	if !ok {
		return fmt.Errorf("draw=%s: there is no such drawing; %s", c.Keys["draw"], nearest.Meant(c.Keys["draw"], slices.Sorted(maps.Keys(drawings))))
	}
	for _, k := range []string{"x", "y", "low", "high"} {
		name := c.Keys[k]
		switch {
		case name == "" && slices.Contains(needs, k):
			return fmt.Errorf("draw=%s needs %s=, the name of a column of %q", c.Keys["draw"], k, c.Uses[0])
		case name != "" && !slices.Contains(df.Names(), name):
			return fmt.Errorf("%s=%s: cell %q has no such column; %s", k, name, c.Uses[0], nearest.Meant(name, df.Names()))
		}
	}
	f := w.draw(c, df)
	got.Blocks = []page.Block{f}
	if len(f.Data.Columns) > 0 {
		got.tables = []FullTable{made(f.Data)}
	}
	return nil
}

func (w *worker) draw(c *notebooks.Cell, df frame.Frame) page.Figure {
	title := c.Keys["title"]
	if title == "" {
		title = strings.ReplaceAll(c.Keys["y"], "_", " ") + " by " + strings.ReplaceAll(c.Keys["x"], "_", " ")
	}
	labels := df.Col(c.Keys["x"]).Records()
	for i := range labels {
		if df.Col(c.Keys["x"]).Elem(i).IsNA() {
			labels[i] = "not known"
		}
	}
	axis := strings.ReplaceAll(c.Keys["y"], "_", " ")
	if u := c.Keys["unit"]; u != "" {
		axis += ", " + u
	}
	y := df.Col(c.Keys["y"]).Float()
	var f page.Figure
	switch c.Keys["draw"] {
	case "intervals":
		f = figure.IntervalChart(intervals(c, df, labels, y, title, axis))
	case "bars":
		v := figure.Bars{ID: c.Name, Title: title, Desc: c.Keys["about"], Axis: axis}
		for i, l := range labels {
			v.Rows = append(v.Rows, figure.Bar{Label: l, Value: y[i]})
		}
		f = figure.BarChart(v)
	case "line":
		v := figure.Series{ID: c.Name, Title: title, Desc: c.Keys["about"], X: strings.ReplaceAll(c.Keys["x"], "_", " "), Y: axis, Label: labels, Value: y, Centre: math.NaN(), N: len(y), Of: "points"}
		for i := range labels {
			v.At = append(v.At, float64(i))
		}
		if lo := c.Keys["low"]; lo != "" {
			v.Low = df.Col(lo).Float()
		}
		if hi := c.Keys["high"]; hi != "" {
			v.High = df.Col(hi).Float()
		}
		f = figure.SeriesChart(v)
	}
	if f.Data.ID == "" {
		f.Data.ID = c.Name + "-data"
	}
	return f
}

// intervals are labelled estimates; n is the column n, or the one that belongs
// to a share.
func intervals(c *notebooks.Cell, df frame.Frame, labels []string, y []float64, title, axis string) figure.Intervals {
	v := figure.Intervals{ID: c.Name, Title: title, Desc: c.Keys["about"], Axis: axis, Scale: 1, Decimals: 2, Zero: math.NaN()}
	if c.Keys["unit"] == "%" {
		v.Scale, v.Decimals = 100, 1
	}
	lo, hi := df.Col(c.Keys["low"]).Float(), df.Col(c.Keys["high"]).Float()
	n := make([]float64, len(y))
	for _, name := range []string{c.Keys["y"] + "_n", "n"} {
		if slices.Contains(df.Names(), name) {
			n = df.Col(name).Float()
			break
		}
	}
	for i, l := range labels {
		e := stats.Estimate{Point: y[i], Low: lo[i], High: hi[i], Level: stats.DefaultLevel, Method: "as queried"}
		if k, err := strconv.Atoi(strconv.FormatFloat(n[i], 'f', 0, 64)); err == nil {
			e.N = k
		}
		v.Rows = append(v.Rows, figure.IntervalRow{Label: l, E: e})
	}
	return v
}
