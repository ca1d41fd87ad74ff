package notebooks

import (
	"fmt"
	"slices"
	"strings"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// Frame hands rows over as a data frame, each column with its own type: days
// as ISO text, a cell that is not known as a missing element. No type is
// guessed. (Note: gota reads the text "NaN" as missing.)
func (r Rows) Frame() (dataframe.DataFrame, error) {
	cols := make([]series.Series, len(r.Columns))
	for j, c := range r.Columns {
		vals := make([]any, len(r.Data))
		for i, row := range r.Data {
			vals[i] = framed(row[j])
		}
		cols[j] = series.New(vals, seriesType(c.Type), c.Name)
		if err := cols[j].Err; err != nil {
			return dataframe.DataFrame{}, fmt.Errorf("column %q: %w", c.Name, err)
		}
	}
	df := dataframe.New(cols...)
	return df, df.Err
}

func framed(v any) any {
	switch v := v.(type) {
	case int64:
		return int(v)
	case cohort.Day:
		return v.String()
	}
	return v
}

func seriesType(t Type) series.Type {
	switch t {
	case Integer:
		return series.Int
	case Number:
		return series.Float
	case Truth:
		return series.Bool
	}
	return series.String
}

// check refuses what a frame can't hold.
func (r Rows) check() error {
	if len(r.Columns) == 0 {
		return fmt.Errorf("the query gives no column")
	}
	seen := map[string]bool{}
	for _, c := range r.Columns {
		if seen[c.Name] {
			return fmt.Errorf("two columns are called %q; give one another name with AS", c.Name)
		}
		seen[c.Name] = true
	}
	return nil
}

func (r Rows) column(name string) int {
	return slices.IndexFunc(r.Columns, func(c Col) bool { return c.Name == name })
}

func (r Rows) columnNames() []string {
	names := make([]string, len(r.Columns))
	for j, c := range r.Columns {
		names[j] = c.Name
	}
	return names
}

// withShare adds the columns share, share_low, share_high and share_n: what
// part count is of total, with its Wilson interval. spec is COUNT/TOTAL.
func (r Rows) withShare(spec string) (Rows, error) {
	count, total, ok := strings.Cut(spec, "/")
	if !ok {
		return r, fmt.Errorf("share=%s: write two columns as share=count/total", spec)
	}
	var at [2]int
	for i, name := range []string{count, total} {
		at[i] = r.column(name)
		if at[i] < 0 {
			return r, fmt.Errorf("share=%s: the query gives no column %q; %s", spec, name, meant(name, r.columnNames()))
		}
		if r.Columns[at[i]].Type != Integer {
			return r, fmt.Errorf("share=%s: the column %q does not hold whole numbers; count with count(*), or cast to BIGINT", spec, name)
		}
	}
	for _, c := range shareColumns {
		if r.column(c.Name) >= 0 {
			return r, fmt.Errorf("share=%s: the query has a column %q of its own", spec, c.Name)
		}
	}
	out := Rows{Columns: append(slices.Clone(r.Columns), shareColumns...), More: r.More}
	for _, row := range r.Data {
		e := shareOf(row[at[0]], row[at[1]])
		out.Data = append(out.Data, append(slices.Clone(row), number(e.Point), number(e.Low), number(e.High), int64(e.N)))
	}
	return out, nil
}

var shareColumns = []Col{{"share", Number}, {"share_low", Number}, {"share_high", Number}, {"share_n", Integer}}

func shareOf(count, total any) stats.Estimate {
	x, ok := count.(int64)
	n, ok2 := total.(int64)
	if !ok || !ok2 {
		return stats.Missing(0, "Wilson score", "a count is not known")
	}
	return stats.Wilson(int(x), int(n), stats.DefaultLevel)
}

func number(x float64) any {
	if p := stats.Nullable(x); p != nil {
		return *p
	}
	return nil
}

// table shows rows: a share as one column with its interval, order and form
// ids as links, and where refs names a column of order ids, the counts of each
// row open them.
func (r Rows) table(id, caption, share, refs string) (page.Table, error) {
	t := page.Table{ID: id, Caption: caption, Total: len(r.Data)}
	ids := -1
	if refs != "" {
		if ids = r.column(refs); ids < 0 {
			return t, fmt.Errorf("orders=%s: the query gives no such column; %s", refs, meant(refs, r.columnNames()))
		}
	}
	shares := len(r.Columns)
	if share != "" {
		shares -= len(shareColumns)
	}
	for j, c := range r.Columns[:shares] {
		if j != ids {
			t.Columns = append(t.Columns, page.Column{Key: c.Name, Title: strings.ReplaceAll(c.Name, "_", " "), Numeric: c.Type == Integer || c.Type == Number})
		}
	}
	if share != "" {
		t.Columns = append(t.Columns, page.Column{Key: "share", Title: "share", Unit: "%, 95 % interval", Numeric: true})
	}
	for _, row := range r.Data {
		t.Rows = append(t.Rows, r.cells(row, ids, shares, share != ""))
	}
	if share != "" {
		t.Notes = append(page.Refusals(t.Rows), "Intervals: Wilson score, 95 %.")
	}
	if r.More {
		t.Notes = append(t.Notes, fmt.Sprintf("The query gives more than %s rows; only these are kept.", page.Thousands(len(r.Data))))
	}
	return t, nil
}

func (r Rows) cells(row []any, ids, shares int, share bool) []page.Cell {
	var refs []string
	if ids >= 0 {
		if s, ok := row[ids].(string); ok {
			refs = strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,[]", r) })
		}
	}
	var cells []page.Cell
	for j, v := range row[:shares] {
		if j == ids {
			continue
		}
		c := cellOf(v)
		switch name := r.Columns[j].Name; {
		case name == "order_id" && c.Text != "":
			c.Ref = page.Ref{Kind: "order", IDs: []string{c.Text}}
		case name == "form_id" && c.Text != "":
			c.Ref = page.Ref{Kind: "form", IDs: []string{c.Text}}
		case r.Columns[j].Type == Integer && len(refs) > 0:
			c.Ref = page.Ref{Kind: "orders", IDs: refs}
		}
		cells = append(cells, c)
	}
	if share {
		x, n := row[shares], row[shares+3]
		e := stats.Missing(0, "Wilson score", "a count is not known")
		if p, ok := x.(float64); ok {
			e = stats.Estimate{Point: p, Low: row[shares+1].(float64), High: row[shares+2].(float64), Level: stats.DefaultLevel, N: int(n.(int64)), Method: "Wilson score"}
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
	case int64:
		return page.Count(int(v))
	case float64:
		if number(v) == nil {
			return page.Cell{}
		}
		return page.Cell{Text: numberText(v), Value: v}
	case cohort.Day:
		return page.Date(v)
	case bool:
		return page.Cell{Text: textOf(v), Value: v}
	}
	return page.Text(textOf(v))
}
