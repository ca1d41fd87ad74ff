package layout

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
)

// rows reads the rows of one table.
type rows struct {
	c       *converter
	t       *table
	grid    *grid.Grid
	file    File
	before  map[string]bool // orders of later files
	seen    map[string]bool
	lacking []string

	head    Head
	above   [][]string // the last rows, before the header is found
	filled  []string   // the last texts of columns that are filled down
	fill    []bool
	skip    []at[condition]
	until   []at[condition]
	order   at[source]
	writers []*writer
	numeric []bool // of the row: cells that are numbers
	days    []bool
	broken  string // why the row can't be split into cells; "": it can
	shifted bool   // so cut, it has another number of cells than the header
	phrases map[string]int

	hidden, skipped, formulas, replaced, headers int
	ended                                        bool
}

// at is something of the mapping with its column in this table; -1: none.
type at[T any] struct {
	what T
	col  int
}

func (r *rows) read(ctx context.Context) error {
	var failed error
	r.phrases = map[string]int{}
	err := r.grid.Rows(ctx, func(row grid.Row) bool {
		failed = r.row(row)
		return failed == nil && !r.ended
	})
	for _, w := range r.writers {
		failed = errors.Join(failed, w.close())
	}
	if err = errors.Join(failed, err); err != nil {
		return err
	}
	if r.head.Names == nil {
		return &grid.FileError{File: r.grid.Where(), Reason: fmt.Sprintf("has no row with the header %s among its first %d; the mapping can say it as header: a word of that row, or its number", r.t.headerWord(), headerWithin)}
	}
	r.finish()
	return nil
}

// headerWithin is among how many rows with anything in them the header is
// looked for.
const headerWithin = 200

// headerWord is the word by which the header row is known.
func (t *table) headerWord() string {
	if t.Header != "" {
		return t.Header
	}
	if m := nthOf.FindStringSubmatch(t.Order.Column); m != nil {
		return m[1]
	}
	return t.Order.Column
}

// row takes one row of the table.
func (r *rows) row(row grid.Row) error {
	if r.head.Names == nil {
		return r.lookForHeader(row)
	}
	if row.Hidden && !r.t.HiddenRows {
		r.hidden++
		return nil
	}
	if row.Broken != "" {
		r.c.out.Rejects = append(r.c.out.Rejects, sheets.Reject{File: r.grid.File, Line: int64(row.No), Text: row.Broken, Reason: OpenQuote})
		if err := r.flush(); err != nil {
			return err
		}
		r.broken, r.shifted = OpenQuote, len(row.Cells) != len(r.head.Names)
		if r.shifted {
			r.broken += "; its cells may stand in wrong columns, so the number is left out until somebody has looked. The line is: " + row.Broken
		}
		defer func() { r.broken = "" }()
	}
	texts := make([]string, len(r.head.Names))
	r.numeric, r.days = make([]bool, len(texts)), make([]bool, len(texts))
	same, some := 0, 0
	for i, cell := range row.Cells {
		if i >= len(texts) {
			break
		}
		texts[i] = strings.TrimSpace(strings.ReplaceAll(cell.Text, "\u00a0", " "))
		r.numeric[i], r.days[i] = cell.Kind == grid.Number, cell.Kind == grid.Day
		if texts[i] != "" {
			some++
			if sheets.Fold(texts[i]) == sheets.Fold(r.head.Names[i]) {
				same++
			}
		}
		if cell.Formula && r.head.Names[i] != "" {
			r.formulas++
		}
	}
	if same > 1 && same == some { // the header once more
		r.headers++
		return nil
	}
	for _, u := range r.until {
		if u.what.holds(texts[u.col]) {
			r.ended = true
			return nil
		}
	}
	for _, s := range r.skip {
		if s.what.holds(texts[s.col]) {
			r.skipped++
			return nil
		}
	}
	for i, fill := range r.fill {
		switch {
		case !fill:
		case texts[i] != "":
			r.filled[i] = texts[i]
		case some > 0:
			texts[i] = r.filled[i]
		}
	}
	key := ""
	if r.order.col >= 0 {
		key = r.value(sheets.Column{Kind: sheets.Text}, r.order.what, r.order.col, texts, "")
	}
	if r.t.Overlap && r.before[key] && key != "" {
		r.replaced++
		return nil
	}
	if key != "" {
		r.seen[key] = true
		if r.t.Name != "" {
			r.c.keys[r.t.Name][key] = true
		}
	}
	for _, w := range r.writers {
		if err := w.row(row.No, texts, key); err != nil {
			return err
		}
	}
	if r.broken != "" {
		return r.flush()
	}
	return nil
}

// OpenQuote is why a line can't be split into cells.
const OpenQuote = `a quote is opened and not closed as it should be; write a quote inside quotes twice ("14 5/8""")`

// flush has written what waits for more rows of its order.
func (r *rows) flush() (err error) {
	for _, w := range r.writers {
		err = errors.Join(err, w.flush())
	}
	return err
}

// lookForHeader takes a row as the header if it is.
func (r *rows) lookForHeader(row grid.Row) error {
	texts := make([]string, len(row.Cells))
	for i, c := range row.Cells {
		texts[i] = c.Text
	}
	if r.above = append(r.above, texts); len(r.above) > headerWithin {
		r.ended = true
		return nil
	}
	word := r.t.headerWord()
	found := fmt.Sprint(row.No) == word
	for _, text := range texts {
		found = found || sheets.Fold(text) == sheets.Fold(word) && sheets.Fold(word) != ""
	}
	if !found {
		return nil
	}
	levels := r.above[max(0, len(r.above)-r.t.Levels):]
	r.head = HeadOf(levels, row.No)
	r.above = nil
	return r.resolve()
}

// resolve finds the columns that the mapping names, and opens the sheets that the rows
// are written to.
func (r *rows) resolve() error {
	var err error
	if r.order, err = r.source(r.t.Order); err != nil {
		return err
	}
	if r.skip, err = r.conditions(r.t.Skip); err != nil {
		return err
	}
	if r.until, err = r.conditions(r.t.Until); err != nil {
		return err
	}
	r.fill, r.filled = make([]bool, len(r.head.Names)), make([]string, len(r.head.Names))
	for _, name := range r.t.FillDown {
		col, err := r.find(name)
		if err != nil {
			return err
		}
		if col >= 0 {
			r.fill[col] = true
		}
	}
	used := make([]bool, len(r.head.Names))
	for _, s := range r.t.Sheets {
		w, err := r.writerOf(s, used)
		if err != nil {
			return err
		}
		r.writers = append(r.writers, w)
	}
	var unused []string
	for i, name := range r.head.Names {
		if name != "" && !used[i] {
			unused = append(unused, r.head.Paths[i])
		}
	}
	if len(r.writers) > 0 {
		r.c.out.Parts[r.writers[0].part].Unused = unused
	}
	return nil
}

// find is the column of a name in the mapping, -1 where there is none; one that the
// table lacks is noted, and one that could be several is an error.
func (r *rows) find(name string) (col int, err error) {
	if name == "" {
		return -1, nil
	}
	if col, err = r.head.find(name); err != nil {
		return -1, &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: err.Error()}
	}
	if col < 0 && !slices.Contains(r.lacking, name) {
		r.lacking = append(r.lacking, name)
	}
	return col, nil
}

// source finds the column of a source.
func (r *rows) source(from source) (at[source], error) {
	col, err := r.find(from.Column)
	return at[source]{from, col}, err
}

// conditions finds the columns of conditions; one of a column that is not there never
// holds.
func (r *rows) conditions(list []condition) (out []at[condition], err error) {
	for _, c := range list {
		col, err := r.find(c.Column)
		if err != nil {
			return nil, err
		}
		if col >= 0 {
			out = append(out, at[condition]{c, col})
		}
	}
	return out, nil
}

// writerOf is the writer of a sheet, opened; the columns that it reads are used.
func (r *rows) writerOf(s *sheet, used []bool) (w *writer, err error) {
	w = &writer{r: r, s: s, columns: map[string]at[source]{}, place: at[source]{col: -1}, reason: at[source]{col: -1}}
	for name, from := range s.Columns {
		found, err := r.source(from)
		if err != nil {
			return nil, err
		}
		if found.col >= 0 {
			used[found.col] = true
		}
		if found.col >= 0 || from.Column == "" {
			w.columns[name] = found
		}
	}
	if s.Place.given() {
		if w.place, err = r.source(s.Place); err != nil {
			return nil, err
		}
	}
	if s.Reason.given() {
		if w.reason, err = r.source(s.Reason); err != nil {
			return nil, err
		}
	}
	for _, from := range []at[source]{w.place, w.reason, r.order} {
		if from.col >= 0 {
			used[from.col] = true
		}
	}
	if s.Name == "measurements" {
		if err := w.spotsOf(s, used); err != nil {
			return nil, err
		}
	}
	for _, c := range s.Sheet.Columns {
		from, ok := w.columns[c.Name]
		if (c.Kind == sheets.ID || s.IsKey(c.Name)) && (!ok || from.col < 0 && from.what.Always == "") {
			return nil, &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: fmt.Sprintf("lacks the column %s that the mapping names", s.Columns[c.Name].Column)}
		}
	}
	return w, w.open()
}

// finish notes what was passed over.
func (r *rows) finish() {
	at := r.grid.Where()
	for _, n := range []struct {
		n    int
		text string
	}{
		{r.hidden, "hidden, not read (hidden_rows: read in the mapping reads them)"},
		{r.skipped, "passed over, as the layout says (skip)"},
		{r.headers, "the header once more, passed over"},
		{r.replaced, "of orders that a later file has too, passed over"},
	} {
		if n.n > 0 {
			r.c.note("%s: %s %s", at, form.CountOf(n.n, "row", "rows"), n.text)
		}
	}
	if r.formulas > 0 {
		r.c.note("%s: %s formulas; what they gave when the file was saved was read", at, form.CountOf(r.formulas, "cell holds", "cells hold"))
	}
	if r.file.Table.Encoding != "" {
		r.c.note("%s is %s text", at, r.file.Table.Encoding)
	}
	if len(r.phrases) > 0 {
		var list []string
		n := 0
		for _, text := range slices.Sorted(maps.Keys(r.phrases)) {
			n += r.phrases[text]
			list = append(list, fmt.Sprintf("%q", text))
		}
		if len(list) > 5 {
			list = append(list[:5], "…")
		}
		r.c.note("%s: %s neither zone nor direction nor side that is known here: %s", at, form.CountOf(n, "reason says", "reasons say"), strings.Join(list, ", "))
	}
}
