package execution

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/nearest"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

const wilson = "Wilson score"

// shareColumns stand behind a table whose cell asks for a share.
var shareColumns = []frame.Column{{Name: "share", Kind: frame.Real}, {Name: "share_low", Kind: frame.Real}, {Name: "share_high", Kind: frame.Real}, {Name: "share_n", Kind: frame.Integer}}

// withShare adds the columns share, share_low, share_high and share_n: what
// part count is of total, with its Wilson interval. spec is COUNT/TOTAL.
func withShare(f frame.Frame, spec string) (frame.Frame, error) {
	count, total, ok := strings.Cut(spec, "/")
	if !ok {
		return f, fmt.Errorf("share=%s: write two columns as share=count/total", spec)
	}
	var at [2]int
	for i, name := range []string{count, total} {
		at[i] = f.Index(name)
		if at[i] < 0 {
			return f, fmt.Errorf("share=%s: the query gives no column %q; %s", spec, name, nearest.Meant(name, f.Names()))
		}
		if f.Columns[at[i]].Kind != frame.Integer {
			return f, fmt.Errorf("share=%s: the column %q does not hold whole numbers; count with count(*), or cast to BIGINT", spec, name)
		}
	}
	for _, c := range shareColumns {
		if f.Index(c.Name) >= 0 {
			return f, fmt.Errorf("share=%s: the query has a column %q of its own", spec, c.Name)
		}
	}
	shares := frame.NewBuilder(shareColumns)
	for i := range f.Nrow() {
		e := stats.Missing(0, wilson)
		x, known := f.Value(i, at[0]).(int)
		n, known2 := f.Value(i, at[1]).(int)
		if known && known2 {
			e = stats.Wilson(x, n, stats.DefaultLevel)
		}
		if err := shares.Add([]any{e.Point, e.Low, e.High, e.N}); err != nil {
			return f, err
		}
	}
	g, err := shares.Frame()
	if err != nil {
		return f, err
	}
	return f.With(g)
}

// tableOf shows at most so many rows of a frame: a share as one column with its
// interval, order and form ids as links, and where the cell names a column of
// order ids, the counts of each row open them.
func tableOf(c *notebooks.Cell, f frame.Frame, most int) (page.Table, error) {
	caption := c.Keys["caption"]
	if caption == "" {
		caption = strings.ReplaceAll(c.Name, "_", " ")
	}
	t := page.Table{ID: c.Name, Caption: caption, Total: f.Nrow()}
	ids := -1
	if name := c.Keys["orders"]; name != "" {
		if ids = f.Index(name); ids < 0 {
			return t, fmt.Errorf("orders=%s: the query gives no such column; %s", name, nearest.Meant(name, f.Names()))
		}
	}
	share := len(f.Columns) // where the columns of the share begin
	if c.Keys["share"] != "" {
		share -= len(shareColumns)
	}
	for j, c := range f.Columns[:share] {
		if j != ids {
			t.Columns = append(t.Columns, page.Column{Key: c.Name, Title: strings.ReplaceAll(c.Name, "_", " "), Numeric: c.Kind == frame.Integer || c.Kind == frame.Real})
		}
	}
	if share < len(f.Columns) {
		t.Columns = append(t.Columns, page.Column{Key: "share", Title: "share", Unit: "%, 95 % interval", Numeric: true})
	}
	for i := range f.Nrow() {
		t.Rows = append(t.Rows, cellsOf(f, i, ids, share))
	}
	if share < len(f.Columns) {
		t.Notes = append(page.Refusals(t.Rows), "Intervals: Wilson score, 95 %.")
	}
	if f.More {
		t.Notes = append(t.Notes, fmt.Sprintf("The query gives more than %s rows; only these are kept.", page.Thousands(f.Nrow())))
	}
	if len(t.Rows) > most {
		t.Rows = slices.Clone(t.Rows[:most])
	}
	return t, nil
}

// cellsOf shows one row; share is where the columns of a share begin, or the
// number of columns.
func cellsOf(f frame.Frame, row, ids, share int) []page.Cell {
	var refs []string
	if ids >= 0 {
		if s, ok := f.Value(row, ids).(string); ok {
			refs = strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,[]", r) })
		}
	}
	var cells []page.Cell
	for j, c := range f.Columns[:share] {
		if j == ids {
			continue
		}
		cell := cellOf(f.Value(row, j))
		switch {
		case c.Name == "order_id" && cell.Text != "":
			cell.Ref = page.Ref{Kind: "order", IDs: []string{cell.Text}}
		case c.Name == "form_id" && cell.Text != "":
			cell.Ref = page.Ref{Kind: "form", IDs: []string{cell.Text}}
		case c.Kind == frame.Integer && len(refs) > 0:
			cell.Ref = page.Ref{Kind: "orders", IDs: refs}
		}
		cells = append(cells, cell)
	}
	if share < len(f.Columns) {
		e := stats.Missing(0, wilson, "a count is not known")
		if p, ok := f.Value(row, share).(float64); ok {
			e = stats.Estimate{Point: p, Low: f.Value(row, share+1).(float64), High: f.Value(row, share+2).(float64), Level: stats.DefaultLevel, N: f.Value(row, share+3).(int), Method: wilson}
		}
		cells = append(cells, page.Percent(e))
	}
	return cells
}

// cellOf shows one entry of a query.
func cellOf(v any) page.Cell {
	switch v := v.(type) {
	case nil:
		return page.Cell{}
	case int:
		return page.Count(v)
	case float64:
		return page.Cell{Text: numberText(v), Value: v}
	case cohort.Day:
		return page.Date(v)
	case bool:
		return page.Cell{Text: textOf(v), Value: v}
	}
	return page.Text(textOf(v))
}
