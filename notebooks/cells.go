package notebooks

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
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
	for _, d := range sqlDollars(text) {
		args[d] = w.run.Binding.Args[d]
	}
	got.key = w.key("sql", text, args)
	err := w.cached(got, &got.rows, func() error {
		rows, err := w.src.Query(ctx, Query{SQL: text, Args: args, MaxRows: maxRows})
		if err == nil {
			err = rows.check()
		}
		if err != nil {
			return inFile(err, w.run.Notebook, c, skipped)
		}
		rows.order(text)
		got.rows = rows
		return nil
	})
	if err != nil {
		return err
	}
	return w.showRows(got, limit)
}

// showRows makes the table of a query cell.
func (w *worker) showRows(got *CellRun, limit int) (err error) {
	c := got.Cell
	if spec := c.Keys["share"]; spec != "" {
		if got.rows, err = got.rows.withShare(spec); err != nil {
			return err
		}
	}
	if _, err := got.rows.Frame(); err != nil {
		return err
	}
	caption := c.Keys["caption"]
	if caption == "" {
		caption = strings.ReplaceAll(c.Name, "_", " ")
	}
	t, err := got.rows.table(c.Name, caption, c.Keys["share"], c.Keys["orders"])
	if err != nil {
		return err
	}
	got.full = []page.Table{t}
	if len(t.Rows) > limit {
		t.Rows = t.Rows[:limit]
	}
	got.blocks = []page.Block{t}
	return nil
}

// order sorts rows whose query asks for no order, so that each run gives the
// same.
func (r *Rows) order(sql string) {
	if strings.Contains(strings.Join(strings.Fields(bareSQL(sql)), " "), "order by") {
		return
	}
	sort.SliceStable(r.Data, func(a, b int) bool {
		for j := range r.Columns {
			if c := compareCells(r.Data[a][j], r.Data[b][j]); c != 0 {
				return c < 0
			}
		}
		return false
	})
}

// compareCells orders two entries of one column; what is not known goes last.
func compareCells(a, b any) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	switch a.(type) {
	case int64, float64, cohort.Day:
		return compare(a, b)
	}
	return strings.Compare(textOf(a), textOf(b))
}

// withEarlier puts the queries that a cell names in front of its own, as
// tables of their names. lines is how many lines they took.
func (w *worker) withEarlier(c *Cell) (text string, lines int) {
	var ctes []string
	for _, name := range w.allUses(c, nil) {
		e := w.earlier(name)
		if e.Cell.Kind == SQL {
			ctes = append(ctes, fmt.Sprintf("%q as (\n%s\n)", name, e.Cell.Body))
		} else {
			ctes = append(ctes, fmt.Sprintf("%q as (%s)", name, e.rows.literal()))
		}
	}
	if len(ctes) == 0 {
		return c.Body, 0
	}
	head := "with " + strings.Join(ctes, ", ")
	body := c.Body
	if m := startsWith.FindStringSubmatchIndex(bareSQL(body)); m != nil {
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
func (w *worker) allUses(c *Cell, seen []string) []string {
	for _, name := range c.Uses {
		e := w.earlier(name)
		seen = w.allUses(e.Cell, seen)
		if !contains(seen, name) {
			seen = append(seen, name)
		}
	}
	return seen
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// literal is the rows as SQL, for naming the table of a finding in a query.
func (r Rows) literal() string {
	var sel []string
	for j, c := range r.Columns {
		sel = append(sel, fmt.Sprintf("cast(c%d as %s) as %q", j, sqlTypes[c.Type], c.Name))
	}
	names := make([]string, len(r.Columns))
	for j := range names {
		names[j] = "c" + strconv.Itoa(j)
	}
	var rows []string
	for _, row := range r.Data {
		cells := make([]string, len(row))
		for j, v := range row {
			cells[j] = "null"
			if v != nil {
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
	return fmt.Sprintf("select %s from (values %s) as t(%s)%s", strings.Join(sel, ", "), strings.Join(rows, ", "), strings.Join(names, ", "), where)
}

var sqlTypes = map[Type]string{Text: "varchar", Integer: "bigint", Number: "double", Date: "date", Truth: "boolean"}

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
func inFile(err error, n *Notebook, c *Cell, skipped int) error {
	line := c.Line
	var q *QueryError
	if errors.As(err, &q) && q.Line > skipped {
		line += q.Line - skipped
	}
	return &Error{File: n.file(), Line: line, Cell: c.Name, Why: err.Error()}
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
	got.output = &Output{}
	err := w.cached(got, got.output, func() error {
		out, err := a.Run(ctx, Input{Source: w.src, Keys: keys, Version: w.Version, keep: w.keeper()})
		if err == nil {
			*got.output = *out
		}
		return err
	})
	if err != nil {
		return err
	}
	got.rows = got.output.Rows
	got.blocks = got.output.blocks()
	got.full = tablesOf(got.blocks)
	return nil
}

func tablesOf(blocks []page.Block) []page.Table {
	return page.Tables(&page.Document{Sections: []page.Section{{Blocks: blocks}}})
}

// show places a part of an earlier finding, or an earlier table again.
func (w *worker) show(got *CellRun) error {
	e := w.earlier(got.Cell.Uses[0])
	part := got.Cell.Keys["part"]
	if part == "" {
		got.blocks = e.blocks
		return nil
	}
	if e.output == nil {
		return fmt.Errorf("part=%s: only a finding has parts", part)
	}
	got.blocks, _ = e.output.part(part) // a known part may be empty this time
	return nil
}

// key names a result in the cache after all it depends on.
func (w *worker) key(kind, text string, args map[string]any) string {
	parts := []string{"cell", kind, text, w.run.Facts.Hash, w.run.Facts.Setup, w.run.Facts.AsOf.String(), w.Version, w.Program}
	for _, k := range sortedKeys(args) {
		parts = append(parts, k, fmt.Sprintf("%T", args[k]), literalText(args[k]))
	}
	return cache.Key(parts...)
}

// cached reads into result what was kept under the cell's key, or computes and
// keeps it.
func (w *worker) cached(got *CellRun, result any, compute func() error) error {
	if b, made, ok := w.Cache.Get(got.key); ok && !w.fresh && w.Program != "" {
		if gob.NewDecoder(bytes.NewReader(b)).Decode(result) == nil {
			got.Cached = made
			return nil
		}
	}
	if err := compute(); err != nil {
		return err
	}
	var b bytes.Buffer
	if w.Program != "" && gob.NewEncoder(&b).Encode(result) == nil {
		_ = w.Cache.Put(got.key, b.Bytes()) // a full disk costs time, not the answer
	}
	return nil
}

func init() {
	for _, v := range []any{page.Prose{}, page.Markup{}, page.Finding{}, page.Table{}, page.Figure{}, page.Value{},
		cohort.Day(0), cohort.Month(0), stats.Estimate{}, time.Time{}} {
		gob.Register(v)
	}
}

// GobEncode writes rows for the cache; gob itself can't write an entry that is
// not known inside a slice.
func (r Rows) GobEncode() ([]byte, error) {
	flat := flatRows{Columns: r.Columns, More: r.More, Rows: len(r.Data)}
	for _, row := range r.Data {
		for _, v := range row {
			flat.Cells = append(flat.Cells, flatCell{v})
		}
	}
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(flat)
	return b.Bytes(), err
}

// GobDecode reads what GobEncode wrote.
func (r *Rows) GobDecode(b []byte) error {
	var flat flatRows
	if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&flat); err != nil {
		return err
	}
	*r = Rows{Columns: flat.Columns, More: flat.More}
	wide := len(flat.Columns)
	if len(flat.Cells) != wide*flat.Rows {
		return fmt.Errorf("%d cells for %d rows of %d", len(flat.Cells), flat.Rows, wide)
	}
	for i := range flat.Rows {
		row := make([]any, wide)
		for j := range row {
			row[j] = flat.Cells[i*wide+j].V
		}
		r.Data = append(r.Data, row)
	}
	return nil
}

type flatRows struct {
	Columns []Col
	More    bool
	Rows    int
	Cells   []flatCell
}

type flatCell struct{ V any }
