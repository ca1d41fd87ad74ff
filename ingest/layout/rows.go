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

// resolve finds the columns that the mapping names.
func (r *rows) resolve() (err error) {
	find := func(name string) (col int) {
		if err != nil || name == "" {
			return -1
		}
		var wrong error
		if col, wrong = r.head.find(name); wrong != nil {
			err = &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: wrong.Error()}
		}
		if col < 0 && wrong == nil && !slices.Contains(r.lacking, name) {
			r.lacking = append(r.lacking, name)
		}
		return col
	}
	used := make([]bool, len(r.head.Names))
	r.order = at[source]{r.t.Order, find(r.t.Order.Column)}
	for _, s := range r.t.Skip {
		if col := find(s.Column); col >= 0 {
			r.skip = append(r.skip, at[condition]{s, col})
		}
	}
	for _, s := range r.t.Until {
		if col := find(s.Column); col >= 0 {
			r.until = append(r.until, at[condition]{s, col})
		}
	}
	r.fill, r.filled = make([]bool, len(r.head.Names)), make([]string, len(r.head.Names))
	for _, name := range r.t.FillDown {
		if col := find(name); col >= 0 {
			r.fill[col] = true
		}
	}
	for _, s := range r.t.Sheets {
		w := &writer{r: r, s: s, columns: map[string]at[source]{}}
		for name, from := range s.Columns {
			col := find(from.Column)
			if col < 0 && from.Column != "" {
				continue
			}
			w.columns[name] = at[source]{from, col}
			if col >= 0 {
				used[col] = true
			}
		}
		for _, from := range []*at[source]{&w.place, &w.reason} {
			*from = at[source]{col: -1}
		}
		if s.Place.given() {
			w.place = at[source]{s.Place, find(s.Place.Column)}
		}
		if s.Reason.given() {
			w.reason = at[source]{s.Reason, find(s.Reason.Column)}
		}
		for _, from := range []at[source]{w.place, w.reason, r.order} {
			if from.col >= 0 {
				used[from.col] = true
			}
		}
		if s.Name == "measurements" {
			if err == nil {
				err = w.spotsOf(s, used)
			}
		}
		for _, c := range s.Sheet.Columns {
			from, ok := w.columns[c.Name]
			if (c.Kind == sheets.ID || s.IsKey(c.Name)) && (!ok || from.col < 0 && from.what.Always == "") && err == nil {
				err = &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: fmt.Sprintf("lacks the column %s that the mapping names", s.Columns[c.Name].Column)}
			}
		}
		if err != nil {
			return err
		}
		if err := w.open(); err != nil {
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
	return err
}

// finish notes what was passed over.
func (r *rows) finish() {
	at := r.grid.Where()
	for _, n := range []struct {
		n    int
		text string
	}{
		{r.hidden, "hidden, not read (hidden_rows: read in the mapping reads them)"},
		{r.skipped, "passed over by the mapping's skip"},
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
