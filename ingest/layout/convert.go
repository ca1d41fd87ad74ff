package layout

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// A File is a file that came, as it was kept.
type File struct {
	Table *sheets.Table
	Path  string
}

// A Part is the rows of one order sheet out of one table of a shop's: a text
// with the sheet's own columns, which is read like any order sheet.
type Part struct {
	Sheet  *sheets.Sheet
	Table  *sheets.Table
	Path   string   // of the file that came
	Unused []string // columns of the shop's table that the mapping does not name; of its first part
}

// A Converted is what a mapping makes of files.
type Converted struct {
	Parts   []Part
	Rejects []sheets.Reject // lines that can't be split into cells
	Notes   []string        // for people: what was passed over, and what was taken how
	Taken   map[string]bool // files of which any table was taken, by path
}

// Convert reads the tables of files that the mapping describes and writes the
// rows of each order sheet to texts in the folder dir. What a cell should hold
// and does not is written as it stands: whoever reads the sheet refuses it with
// its reason, and the place that Table.Place gives.
func (m *Mapping) Convert(ctx context.Context, files []File, dir string) (*Converted, error) {
	return newConverter(m, dir).convert(ctx, files)
}

func newConverter(m *Mapping, dir string) *converter {
	return &converter{m: m, dir: dir, out: &Converted{Taken: map[string]bool{}}, keys: map[string]map[string]bool{}}
}

func (c *converter) convert(ctx context.Context, files []File) (*Converted, error) {
	m := c.m
	// Tables that others look orders up in come first.
	named := map[string]bool{}
	for _, t := range m.Tables {
		for _, s := range t.Sheets {
			for _, from := range s.Columns {
				named[from.ListedIn] = true
			}
		}
	}
	order := slices.Clone(m.Tables)
	slices.SortStableFunc(order, func(a, b *Table) int {
		switch {
		case named[a.Name] && a.Name != "" && !(named[b.Name] && b.Name != ""):
			return -1
		case named[b.Name] && b.Name != "" && !(named[a.Name] && a.Name != ""):
			return 1
		}
		return 0
	})
	for _, t := range order {
		if err := c.table(ctx, t, files); err != nil {
			return nil, err
		}
	}
	return c.out, nil
}

type converter struct {
	m     *Mapping
	dir   string
	out   *Converted
	keys  map[string]map[string]bool // by a table's name, the orders in it
	texts int
	views map[viewKey]*View // of a preview
}

func (c *converter) note(format string, args ...any) {
	c.out.Notes = append(c.out.Notes, fmt.Sprintf(format, args...))
}

// table converts all tables that t describes. Where files overlap they are
// read from the last to the first, and an order that was seen is passed over.
func (c *converter) table(ctx context.Context, t *Table, files []File) error {
	if t.Name != "" && c.keys[t.Name] == nil {
		c.keys[t.Name] = map[string]bool{}
	}
	type one struct {
		file File
		grid *sheets.Grid
	}
	var list []one
	for _, f := range files {
		if !t.takesFile(f.Path) && len(t.From) == 0 {
			continue
		}
		grids, err := f.Table.Grids()
		if err != nil {
			return err
		}
		for _, g := range grids {
			visible := 0
			for _, other := range grids {
				if !other.Hidden {
					visible++
				}
			}
			if !t.takes(f.Path, g.Tab, visible) {
				continue
			}
			if g.Hidden && !t.HiddenTabs {
				c.note("the tab %s of %s is hidden and was not read; hidden_tabs: read in the mapping reads it", g.Tab, g.File)
				continue
			}
			list = append(list, one{f, g})
		}
	}
	if len(list) == 0 {
		return nil
	}
	if t.Overlap {
		slices.Reverse(list)
	}
	first := len(c.out.Parts)
	seen, before := map[string]bool{}, map[string]bool{}
	lacking := map[string][]string{}
	for _, o := range list {
		r := &rows{c: c, t: t, grid: o.grid, file: o.file, before: before, seen: seen}
		if err := r.read(ctx); err != nil {
			return err
		}
		c.out.Taken[o.file.Path] = true
		for _, name := range r.lacking {
			lacking[name] = append(lacking[name], where(o.grid))
		}
		if t.Overlap {
			maps.Copy(before, seen)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(lacking)) {
		if len(lacking[name]) == len(list) {
			return &sheets.FileError{File: where(list[0].grid), Reason: fmt.Sprintf("lacks the column %s that the mapping names", name)}
		}
		c.note("%s: no column %s there; what the book has of it stays", strings.Join(lacking[name], ", "), name)
	}
	if t.Overlap {
		slices.Reverse(c.out.Parts[first:])
	}
	return nil
}

func where(g *sheets.Grid) string {
	if g.Tab != "" {
		return g.File + ", tab " + g.Tab
	}
	return g.File
}

// rows reads the rows of one table.
type rows struct {
	c       *converter
	t       *Table
	grid    *sheets.Grid
	file    File
	before  map[string]bool // orders of later files
	seen    map[string]bool
	lacking []string

	head    head
	above   [][]string // the last rows, before the header is found
	filled  []string   // the last texts of columns that are filled down
	fill    []bool
	skip    []at[Condition]
	until   []at[Condition]
	order   at[Source]
	writers []*writer
	numeric []bool // of the row: cells that are numbers
	days    []bool
	broken  map[string]int
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
	r.broken, r.phrases = map[string]int{}, map[string]int{}
	err := r.grid.Rows(ctx, func(row sheets.Row) bool {
		failed = r.row(row)
		return failed == nil && !r.ended
	})
	for _, w := range r.writers {
		failed = errors.Join(failed, w.close())
	}
	if err = errors.Join(failed, err); err != nil {
		return err
	}
	if r.head.names == nil {
		return &sheets.FileError{File: where(r.grid), Reason: fmt.Sprintf("has no row with the header %s among its first %d; the mapping can say it as header: a word of that row, or its number", r.t.headerWord(), headerWithin)}
	}
	r.finish()
	return nil
}

// headerWithin is among how many rows with anything in them the header is
// looked for.
const headerWithin = 200

// headerWord is the word by which the header row is known.
func (t *Table) headerWord() string {
	if t.Header != "" {
		return t.Header
	}
	if m := nthOf.FindStringSubmatch(t.Order.Column); m != nil {
		return m[1]
	}
	return t.Order.Column
}

// row takes one row of the table.
func (r *rows) row(row sheets.Row) error {
	if r.head.names == nil {
		return r.lookForHeader(row)
	}
	if row.Hidden && !r.t.HiddenRows {
		r.hidden++
		return nil
	}
	if row.Broken {
		r.c.out.Rejects = append(r.c.out.Rejects, sheets.Reject{File: r.grid.File, Line: int64(row.No), Text: strings.TrimRight(row.Cells[0].Text, "\r\n"),
			Reason: `a quote is opened and not closed as it should be; write a quote inside quotes twice ("14 5/8""")`})
		return nil
	}
	texts := make([]string, len(r.head.names))
	r.numeric, r.days = make([]bool, len(texts)), make([]bool, len(texts))
	same, some := 0, 0
	for i, cell := range row.Cells {
		if i >= len(texts) {
			break
		}
		texts[i] = strings.TrimSpace(strings.ReplaceAll(cell.Text, "\u00a0", " "))
		r.numeric[i], r.days[i] = cell.Kind == sheets.Number, cell.Kind == sheets.DayCell
		if texts[i] != "" {
			some++
			if sheets.Fold(texts[i]) == sheets.Fold(r.head.names[i]) {
				same++
			}
		}
		if cell.Formula && r.head.names[i] != "" {
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
	return nil
}

// lookForHeader takes a row as the header if it is.
func (r *rows) lookForHeader(row sheets.Row) error {
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
	r.head = headOf(levels, row.No)
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
			err = &sheets.FileError{File: where(r.grid), Line: int64(r.head.row), Reason: wrong.Error()}
		}
		if col < 0 && wrong == nil && !slices.Contains(r.lacking, name) {
			r.lacking = append(r.lacking, name)
		}
		return col
	}
	used := make([]bool, len(r.head.names))
	r.order = at[Source]{r.t.Order, find(r.t.Order.Column)}
	for _, s := range r.t.Skip {
		if col := find(s.Column); col >= 0 {
			r.skip = append(r.skip, at[Condition]{s, col})
		}
	}
	for _, s := range r.t.Until {
		if col := find(s.Column); col >= 0 {
			r.until = append(r.until, at[Condition]{s, col})
		}
	}
	r.fill, r.filled = make([]bool, len(r.head.names)), make([]string, len(r.head.names))
	for _, name := range r.t.FillDown {
		if col := find(name); col >= 0 {
			r.fill[col] = true
		}
	}
	for _, s := range r.t.Sheets {
		w := &writer{r: r, s: s, columns: map[string]at[Source]{}}
		for name, from := range s.Columns {
			col := find(from.Column)
			if col < 0 && from.Column != "" {
				continue
			}
			w.columns[name] = at[Source]{from, col}
			if col >= 0 {
				used[col] = true
			}
		}
		for _, from := range []*at[Source]{&w.place, &w.reason} {
			*from = at[Source]{col: -1}
		}
		if s.Place.given() {
			w.place = at[Source]{s.Place, find(s.Place.Column)}
		}
		if s.Reason.given() {
			w.reason = at[Source]{s.Reason, find(s.Reason.Column)}
		}
		for _, from := range []at[Source]{w.place, w.reason, r.order} {
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
				err = &sheets.FileError{File: where(r.grid), Line: int64(r.head.row), Reason: fmt.Sprintf("lacks the column %s that the mapping names", s.Columns[c.Name].Column)}
			}
		}
		if err != nil {
			return err
		}
		if err := w.open(len(r.writers) == 0, used); err != nil {
			return err
		}
		r.writers = append(r.writers, w)
	}
	var unused []string
	for i, name := range r.head.names {
		if name != "" && !used[i] {
			unused = append(unused, r.head.paths[i])
		}
	}
	if len(r.writers) > 0 {
		r.c.out.Parts[r.writers[0].part].Unused = unused
	}
	return err
}

// spotsOf finds the columns of numbers. Two of one place can't both be meant.
func (w *writer) spotsOf(s *Sheet, used []bool) error {
	r := w.r
	for _, n := range s.Numbers {
		if n.Column == "" && n.pattern == nil { // a row a number
			if from, ok := w.columns["value"]; ok {
				w.spots = append(w.spots, spot{at: from.col})
			}
			continue
		}
		spots, err := r.head.spots(n, r.t)
		if err != nil {
			return &sheets.FileError{File: where(r.grid), Line: int64(r.head.row), Reason: err.Error()}
		}
		if len(spots) == 0 {
			name := n.Column
			if name == "" {
				name = fmt.Sprintf("that fits the pattern in line %d of the mapping", n.where.line)
			}
			r.lacking = append(r.lacking, name)
		}
		w.spots = append(w.spots, spots...)
	}
	taken := map[string]int{}
	for _, s := range w.spots {
		used[s.at] = true
		key := fmt.Sprint(s.side, s.clothing, s.point, s.height)
		if other, ok := taken[key]; ok {
			return &sheets.FileError{File: where(r.grid), Line: int64(r.head.row), Reason: fmt.Sprintf("the columns %s (%s) and %s (%s) both hold the number of one place (%s %s); say which by nth, by a side or by another pattern",
				sheets.ColumnName(other), r.head.paths[other], sheets.ColumnName(s.at), r.head.paths[s.at], strings.TrimSpace(s.side+" "+s.point), s.height)}
		}
		taken[key] = s.at
	}
	return nil
}

// value is the text of a cell in the words of the order sheets.
func (r *rows) value(c sheets.Column, from Source, col int, texts []string, key string) string {
	switch {
	case from.Always != "":
		return from.Always
	case from.ListedIn != "":
		if r.c.keys[from.ListedIn][key] {
			return "yes"
		}
		return from.Otherwise
	case col < 0:
		return ""
	}
	text := texts[col]
	if from.Without != "" {
		rest, ok := strings.CutSuffix(strings.ToLower(text), strings.ToLower(from.Without))
		switch {
		case ok:
			text = strings.TrimSpace(text[:len(rest)])
		case strings.HasPrefix(strings.ToLower(text), strings.ToLower(from.Without)):
			text = strings.TrimSpace(text[len(from.Without):])
		default:
			return ""
		}
	}
	p := plain(text)
	if word, ok := from.Words[p]; ok && p != "" {
		return word
	}
	if word, ok := r.t.Words[p]; ok && p != "" && (c.Kind == sheets.YesNo || c.Kind == sheets.Word || c.Kind == sheets.Open || c.Kind == sheets.Day) {
		return word
	}
	if p == "" || blankWords[p] && c.Kind != sheets.ID || r.t.Blank[p] {
		if word, ok := from.Words[""]; ok {
			return word
		}
		return from.Empty
	}
	for _, ph := range from.Phrases {
		if _, ok := cut(p, plain(ph.says)); ok {
			return ph.means
		}
	}
	if from.hasFilled {
		return from.Filled
	}
	switch c.Kind {
	case sheets.Day:
		return r.day(text, col)
	case sheets.YesNo:
		if word, ok := yesNoWords[p]; ok {
			return word
		}
	case sheets.Money:
		if r.numeric[col] {
			return sheets.PlainMoney(text)
		}
		return plainMoney(text, r.t.Decimal)
	case sheets.Word, sheets.Open:
		if c.Name == "side" {
			if word, ok := sideWords[p]; ok {
				return word
			}
		}
		if c.Name == "point" {
			if word, ok := pointWords[p]; ok {
				return word
			}
		}
	case sheets.Length:
		unit := from.Unit
		if unit == form.NoUnit {
			unit = r.t.Unit
		}
		if unit != form.NoUnit && lengths.WrittenIn(text, form.NoUnit) == form.NoUnit {
			return text + " " + unit.String()
		}
	}
	return text
}

func (r *rows) day(text string, col int) string {
	switch {
	case r.days[col]:
		return text
	case r.numeric[col]:
		return sheets.BareDay(text)
	}
	if d, err := readDay(text, r.t.Days); err == nil {
		return d.Format(time.DateOnly)
	}
	return text
}

// holds reports whether a condition is true of a cell.
func (c Condition) holds(text string) bool {
	list, want := c.Is, true
	if c.Not != nil {
		list, want = c.Not, false
	}
	for _, pattern := range list {
		fits := false
		switch plain(pattern) {
		case "empty":
			fits = strings.TrimSpace(text) == ""
		case "number":
			fits = text != "" && strings.Trim(text, "0123456789") == ""
		case "day":
			_, err := readDay(text, MonthFirst)
			_, err2 := readDay(text, DayFirst)
			fits = err == nil || err2 == nil
		default:
			fits = like(pattern, text)
		}
		if fits {
			return want
		}
	}
	return !want
}

// finish notes what was passed over.
func (r *rows) finish() {
	at := where(r.grid)
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
			r.c.note("%s: %s %s", at, counted(n.n, "row", "rows"), n.text)
		}
	}
	if r.formulas > 0 {
		r.c.note("%s: %s formulas; what they gave when the file was saved was read", at, counted(r.formulas, "cell holds", "cells hold"))
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
		sort.SliceStable(list, func(i, j int) bool { return false })
		if len(list) > 5 {
			list = append(list[:5], "…")
		}
		r.c.note("%s: %s say neither zone nor direction nor side that is known here: %s", at, counted(n, "reason", "reasons"), strings.Join(list, ", "))
	}
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// A writer writes the rows of one order sheet.
type writer struct {
	r       *rows
	s       *Sheet
	part    int
	names   []string // the sheet's columns that are written
	columns map[string]at[Source]
	place   at[Source]
	reason  at[Source]
	spots   []spot

	file  *os.File
	buf   *bufio.Writer
	csv   *csv.Writer
	table *sheets.Table
	froms []int16 // of measurements: the column of each record's number
	last  []string
	no    int32
}

// open makes the text of a part and its header.
func (w *writer) open(first bool, used []bool) (err error) {
	r := w.r
	from := r.file.Table
	for _, c := range w.s.Sheet.Columns {
		_, ok := w.columns[c.Name]
		switch {
		case w.s.Name == "measurements":
			ok = true
		case w.s.Name == "outcomes" && w.reason.col >= 0 && fitColumn[c.Name] == "":
			ok = ok || c.Name == "zone" || c.Name == "direction" || c.Name == "side" || c.Name == "cause"
		}
		if ok {
			w.names = append(w.names, c.Name)
		}
	}
	sep := byte(',')
	if r.t.Decimal != Point || !r.t.decimalSaid && r.grid.Sep != ',' {
		sep = ';' // a comma in a length is a decimal sign
	}
	r.c.texts++
	path := filepath.Join(r.c.dir, fmt.Sprintf("mapped-%d.csv", r.c.texts))
	w.table = &sheets.Table{Name: from.Name, Tab: r.grid.Tab, Format: sheets.CSV, Read: path, Kept: from.Kept, Header: w.names, Sep: sep,
		SHA256: from.SHA256, Bytes: from.Bytes}
	w.table.MadeHere()
	if w.file, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600); err != nil {
		return err
	}
	w.buf = bufio.NewWriterSize(w.file, 1<<18)
	w.csv = csv.NewWriter(w.buf)
	w.csv.Comma = rune(sep)
	w.part = len(r.c.out.Parts)
	r.c.out.Parts = append(r.c.out.Parts, Part{Sheet: w.s.Sheet, Table: w.table, Path: r.file.Path})
	return w.csv.Write(w.names)
}

// row writes what a row of the table says for the sheet.
func (w *writer) row(no int32, texts []string, key string) error {
	if w.s.Name == "measurements" {
		return w.numbers(no, texts, key)
	}
	record := make([]string, len(w.names))
	some := false // anything but keys and what is always so
	for i, name := range w.names {
		c, _ := w.s.Column(name)
		from, ok := w.columns[name]
		if !ok {
			continue
		}
		record[i] = w.r.value(c, from.what, from.col, texts, key)
		if from.col >= 0 {
			w.r.see(w.s.Sheet, name, "", from.col, texts[from.col], record[i], form.NoUnit)
		}
		if from.col >= 0 && c.Kind != sheets.ID && !w.s.IsKey(name) && texts[from.col] != "" {
			some = some || record[i] != ""
		}
	}
	get := func(name string) string {
		if i := slices.Index(w.names, name); i >= 0 {
			return record[i]
		}
		return ""
	}
	switch w.s.Name {
	case "outcomes":
		if w.reason.col >= 0 {
			some = w.fit(record, texts) || some
		}
		if !w.isOutcome(get, some) {
			return nil
		}
	case "callbacks":
		if get("called_on") == "" {
			return nil
		}
	case "orders", "forms":
		id := record[slices.Index(w.names, w.s.Key[0])]
		if id == "" && !some {
			return nil
		}
		// Several rows of one order: what one leaves empty another may say.
		if w.last != nil && id != "" && w.last[slices.Index(w.names, w.s.Key[0])] == id && merge(w.last, record) {
			return nil
		}
		if err := w.flush(); err != nil {
			return err
		}
		w.last, w.no = record, no
		return nil
	default:
		if get(w.s.Key[0]) == "" && !some {
			return nil
		}
	}
	w.table.RowNo = append(w.table.RowNo, no)
	return w.csv.Write(record)
}

// isOutcome reports whether there is a report of fit in a row: a result, and
// where that is always the same anything else.
func (w *writer) isOutcome(get func(string) string, some bool) bool {
	result := w.columns["result"].what
	if result.Always != "" {
		return some && (get("order_id") != "" || w.columns["order_id"].what.Without == "")
	}
	return get("result") != ""
}

// fit fills in what the reason says, where no column says it.
func (w *writer) fit(record []string, texts []string) bool {
	text := texts[w.reason.col]
	if text == "" {
		return false
	}
	found, some := readFit(text, w.reason.what.Phrases)
	if !some {
		w.r.phrases[text]++
	}
	for i, name := range w.names {
		if _, mapped := w.columns[name]; !mapped && record[i] == "" {
			record[i] = found[name]
		}
	}
	return true
}

// merge puts into into what it leaves empty and more says; false where they
// say different things.
func merge(into, more []string) bool {
	for i := range into {
		if into[i] != "" && more[i] != "" && into[i] != more[i] {
			return false
		}
	}
	for i := range into {
		if into[i] == "" {
			into[i] = more[i]
		}
	}
	return true
}

func (w *writer) flush() error {
	if w.last == nil {
		return nil
	}
	w.table.RowNo = append(w.table.RowNo, w.no)
	err := w.csv.Write(w.last)
	w.last = nil
	return err
}

// numbers writes the numbers of a row.
func (w *writer) numbers(no int32, texts []string, key string) error {
	cell := func(name string) string {
		from, ok := w.columns[name]
		if !ok {
			return ""
		}
		c, _ := w.s.Column(name)
		if c.Kind == sheets.Length {
			c.Kind = sheets.Text // as written; its unit stands beside it
		}
		return w.r.value(c, from.what, from.col, texts, key)
	}
	base := spot{side: cell("side"), point: cell("point"), height: cell("height"), clothing: cell("clothing")}
	formID := cell("form_id")
	unread := ""
	if w.place.col >= 0 && texts[w.place.col] != "" {
		s, rest := readPlace(w.r.value(sheets.Column{Kind: sheets.Text}, w.place.what, w.place.col, texts, key))
		if rest != "" || s.point == "" && base.point == "" {
			unread = texts[w.place.col]
		}
		base.point = first(s.point, base.point)
		base.height = first(s.height, base.height)
		base.side = first(s.side, base.side)
		base.clothing = first(s.clothing, base.clothing)
	}
	for _, s := range w.spots {
		value := w.r.value(sheets.Column{Kind: sheets.Text}, Source{}, s.at, texts, key)
		if value == "" {
			continue
		}
		s.side, s.point, s.height, s.clothing = first(s.side, base.side), first(s.point, base.point), first(s.height, base.height), first(s.clothing, base.clothing)
		if s.height != "" && s.point == "" {
			s.point = "leg"
		}
		if unread != "" {
			s.point = unread
		}
		unit := s.unit
		if unit == form.NoUnit {
			unit = w.r.t.Unit
		}
		if from, ok := w.columns["value"]; ok && from.what.Unit != form.NoUnit {
			unit = from.what.Unit
		}
		heightUnit := w.r.t.Unit
		if from, ok := w.columns["height"]; ok && from.what.Unit != form.NoUnit {
			heightUnit = from.what.Unit
		}
		record := []string{}
		for _, name := range w.names {
			text := ""
			switch name {
			case "form_id":
				text = formID
			case "side":
				text = s.side
			case "clothing":
				text = s.clothing
			case "point":
				text = s.point
			case "height":
				text = s.height
			case "height_unit":
				if s.height != "" {
					text = ownUnit(s.height, heightUnit).String()
				}
			case "value":
				text = value
			case "unit":
				text = ownUnit(value, unit).String()
				if own := cell("unit"); own != "" {
					text = own
				}
			}
			record = append(record, text)
		}
		if w.r.c.views != nil {
			w.r.see(w.s.Sheet, "value", strings.Join(strings.Fields(s.side+" "+s.clothing+" "+s.point+" "+s.height), " "), s.at, texts[s.at], value, ownUnit(value, unit))
		}
		w.table.RowNo = append(w.table.RowNo, no)
		w.froms = append(w.froms, int16(s.at))
		if err := w.csv.Write(record); err != nil {
			return err
		}
	}
	return nil
}

func first(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// close ends the text of a part.
func (w *writer) close() error {
	err := w.flush()
	w.csv.Flush()
	err = errors.Join(err, w.csv.Error(), w.buf.Flush(), w.file.Close())
	cols := map[string]int{}
	for name, from := range w.columns {
		cols[name] = from.col
	}
	tab, froms, paths := w.table, w.froms, w.r.head.paths
	workbook := w.r.grid.Tab != ""
	tab.Place = func(record int64, column string) (cell, header string) {
		col, ok := cols[column]
		if !ok {
			col = -1
		}
		if column == "value" && record < int64(len(froms)) {
			col = int(froms[record])
		}
		if col < 0 || col >= len(paths) {
			return "", ""
		}
		if workbook && record < int64(len(tab.RowNo)) {
			return fmt.Sprintf("%s%d", sheets.ColumnName(col), tab.RowNo[record]), paths[col]
		}
		return "", paths[col]
	}
	return err
}
