package execution

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/frame"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
	"lastroom/reports/page"
)

const (
	// maxRows is how many rows of a query are kept at most.
	maxRows = 10000
	// shownRows is how many rows a page shows where a cell does not say.
	shownRows = 200
)

// sql runs a query cell.
func (w *worker) sql(ctx context.Context, got *CellRun) error {
	c := got.Cell
	limit := shownRows
	if s := c.Keys["rows"]; s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > maxRows {
			return fmt.Errorf("rows=%s: it must be 1 to %d", s, maxRows)
		}
		limit = n
	}
	text, skipped := w.withEarlier(c)
	args := map[string]any{}
	for _, d := range notebooks.SQLParameters(text) {
		args[d] = w.run.Binding.Args[d]
	}
	got.key = w.key("sql", text, args)
	rows, err := cached(w, got, func() (frame.Frame, error) {
		f, err := w.src.Query(ctx, frame.Query{SQL: text, Args: args, MaxRows: maxRows})
		if err == nil && !asksForOrder(text) { // each run gives the same
			f, err = f.Sorted()
		}
		return f, err
	})
	if err != nil {
		return inFile(err, w.run.Notebook, c, skipped)
	}
	if spec := c.Keys["share"]; spec != "" {
		if rows, err = withShare(rows, spec); err != nil {
			return err
		}
	}
	shown, err := tableOf(c, rows, limit)
	if err != nil {
		return err
	}
	got.Blocks = []page.Block{shown}
	got.frame = rows
	got.tables = []FullTable{{c.Name, func() (page.Table, error) { return tableOf(c, rows, maxRows) }}}
	return nil
}

// asksForOrder reports whether a query says in which order its rows come.
func asksForOrder(sql string) bool {
	return strings.Contains(strings.Join(strings.Fields(notebooks.BareSQL(sql)), " "), "order by")
}

// withEarlier puts the queries that a cell names in front of its own, as
// tables of their names. lines is how many lines they took.
func (w *worker) withEarlier(c *notebooks.Cell) (text string, lines int) {
	var ctes []string
	for _, name := range w.allUses(c, nil) {
		e := w.earlier(name)
		if e.Cell.Kind == notebooks.SQL {
			ctes = append(ctes, fmt.Sprintf("%q as (\n%s\n)", name, e.Cell.Body))
		} else {
			ctes = append(ctes, fmt.Sprintf("%q as (%s)", name, asSQL(e.frame)))
		}
	}
	if len(ctes) == 0 {
		return c.Body, 0
	}
	head := "with " + strings.Join(ctes, ", ")
	body := c.Body
	if m := startsWith.FindStringSubmatchIndex(notebooks.BareSQL(body)); m != nil {
		if m[2] >= 0 {
			head = "with recursive " + strings.Join(ctes, ", ")
		}
		body = strings.Repeat("\n", strings.Count(body[:m[1]], "\n")) + body[m[1]:]
		head += ","
	}
	return head + "\n" + body, strings.Count(head, "\n") + 1
}

var startsWith = regexp.MustCompile(`^\s*with\b(\s+recursive\b)?`)

// allUses are the cells a query rests on, those of its own earlier ones first.
func (w *worker) allUses(c *notebooks.Cell, seen []string) []string {
	for _, name := range c.Uses {
		e := w.earlier(name)
		seen = w.allUses(e.Cell, seen)
		if !slices.Contains(seen, name) {
			seen = append(seen, name)
		}
	}
	return seen
}

// asSQL is a frame as a query, for naming the table of a finding in another.
func asSQL(f frame.Frame) string {
	var pick, names []string
	for j, c := range f.Columns {
		pick = append(pick, fmt.Sprintf("cast(c%d as %s) as %q", j, sqlTypes[c.Kind], c.Name))
		names = append(names, "c"+strconv.Itoa(j))
	}
	var rows []string
	for i := range f.Nrow() {
		cells := make([]string, len(f.Columns))
		for j := range cells {
			cells[j] = "null"
			if v := f.Value(i, j); v != nil {
				cells[j] = "'" + strings.ReplaceAll(literalText(v), "'", "''") + "'"
			}
		}
		rows = append(rows, "("+strings.Join(cells, ", ")+")")
	}
	where := ""
	if len(rows) == 0 {
		rows = []string{"(" + strings.TrimSuffix(strings.Repeat("null, ", len(names)), ", ") + ")"}
		where = " where false"
	}
	return fmt.Sprintf("select %s from (values %s) as t(%s)%s", strings.Join(pick, ", "), strings.Join(rows, ", "), strings.Join(names, ", "), where)
}

var sqlTypes = map[frame.Kind]string{frame.Text: "varchar", frame.Integer: "bigint", frame.Real: "double", frame.Day: "date", frame.Boolean: "boolean"}

func literalText(v any) string {
	switch v := v.(type) {
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(v)
	}
	return textOf(v)
}

// inFile gives an error of a query its line in the notebook, where it has one.
func inFile(err error, n *notebooks.Notebook, c *notebooks.Cell, skipped int) error {
	line := c.Line
	why := err.Error()
	var q *frame.Error
	if errors.As(err, &q) {
		why = q.Message
		if q.Line > skipped {
			line += q.Line - skipped
		}
	}
	return &notebooks.Error{File: n.File(), Line: line, Cell: c.Name, Why: why}
}

// finding runs an analysis of the tool.
func (w *worker) finding(ctx context.Context, got *CellRun) error {
	c := got.Cell
	a := w.Catalogue[c.Keys["of"]]
	keys := map[string]string{}
	for k, v := range c.Keys {
		if name, ok := strings.CutPrefix(v, "$"); ok {
			if v, ok = w.run.Binding.Word(name); !ok {
				v = w.run.Facts.AsOf.String() // $as_of
			}
		}
		if k != "of" && k != "hide" {
			keys[k] = v
		}
	}
	args := map[string]any{}
	for k, v := range keys {
		args[k] = v
	}
	got.key = w.key("finding", c.Keys["of"], args)
	var err error
	got.output, err = cached(w, got, func() (*notebooks.Output, error) {
		in := notebooks.Input{Source: w.src, Keys: keys}
		if !w.fresh {
			in.Keep, in.KeepBook = w.shelves(w.run.Facts)
		}
		return a.Run(ctx, in)
	})
	if err != nil {
		return err
	}
	for _, p := range got.output.Parts {
		cache.Blocks(p.Blocks)
	}
	got.frame = got.output.Frame
	got.Blocks = got.output.Blocks()
	for _, t := range page.Tables(&page.Document{Sections: []page.Section{{Blocks: got.Blocks}}}) {
		got.tables = append(got.tables, made(t))
	}
	return nil
}

// show places a part of an earlier finding, or an earlier table again.
func (w *worker) show(got *CellRun) error {
	e := w.earlier(got.Cell.Uses[0])
	part := got.Cell.Keys["part"]
	if part == "" {
		got.Blocks = e.Blocks
		return nil
	}
	if e.output == nil {
		return fmt.Errorf("part=%s: only a finding has parts", part)
	}
	got.Blocks, _ = e.output.Part(part) // a known part may be empty this time
	return nil
}

// key names a result in the cache after all it depends on.
func (w *worker) key(kind, text string, args map[string]any) string {
	parts := []string{"cell", kind, text, w.run.Facts.Hash, w.run.Facts.Setup, w.run.Facts.AsOf.String(), w.Version, w.Program}
	for _, k := range slices.Sorted(maps.Keys(args)) {
		parts = append(parts, k, fmt.Sprintf("%T", args[k]), literalText(args[k]))
	}
	return cache.Key(parts...)
}

// cached is what was kept under the cell's key, or is computed now and kept.
func cached[T any](w *worker, got *CellRun, compute func() (T, error)) (T, error) {
	if w.Program == "" {
		return compute()
	}
	if !w.fresh {
		if v, made, ok := cache.Find[T](w.Cache, got.key); ok {
			got.Cached = made
			return v, nil
		}
	}
	v, err := compute()
	if err == nil {
		_ = cache.Keep(w.Cache, got.key, v) // a full disk costs time, not the answer
	}
	return v, err
}
