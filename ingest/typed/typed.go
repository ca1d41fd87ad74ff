// Package typed reads one form that is typed in, without files, into a small order
// book in memory that is kept open for it, so that the form is seen through the same
// views as a form of a loaded sheet:
//
//  1. [Book.Read] reads the cells of a [Form] (package cells), or returns what is
//     wrong with them
//  2. puts them in the place of the form before: they are rows of functions, through
//     which the book's tables are seen, by statements kept prepared
//  3. and hands the book's reader to the caller
package typed

import (
	"cmp"
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sheets"
)

//go:embed sql/typed.sql
var typedSQL string

// A Form is one form as it was typed in: the cells of its order, of itself
// and of each of its numbers, as texts by the headers of the sheets orders, forms
// and measurements. The ids are given by this package. A decimal comma is read.
type Form struct {
	Order, Form map[string]string
	Numbers     []map[string]string
}

// ID is the id of the form that was typed in, and of its order.
const ID = "typed"

// A Book is a book in memory that holds one typed form at a time, so that the
// form is seen through the same views as any other. It may be used by several
// goroutines; forms take turns.
type Book struct {
	mu       sync.Mutex
	db       *sql.DB
	conn     *sql.Conn
	prepared map[string]*sql.Stmt // by their text
	reader   *orderbook.Reader
	tables   map[string]*table // by their name
	numbers  string            // the query of what the numbers amount to
}

// filled are the tables whose rows are those of the typed form.
var filled = []string{"orders", "forms", "measurements", "form_numbers"}

// A table is one of the book with the rows that it has now, as texts.
type table struct {
	columns, casts []string   // casts: from the texts, as a SELECT has them
	rows           [][]string // "": NULL
}

// lastDay is the last day that a cell may hold (sheets.ParseDay): a typed form is
// seen whatever its day.
var lastDay = cohort.DayOf(time.Date(2199, 12, 31, 0, 0, 0, 0, time.UTC))

// Open makes the book, under the given shop settings. Close must be called.
func Open(ctx context.Context, settings map[string]string) (*Book, error) {
	db, err := engine.Open(ctx, "", false, engine.OneThread)
	if err != nil {
		return nil, err
	}
	b := &Book{db: db, prepared: map[string]*sql.Stmt{}, tables: map[string]*table{}}
	if err := b.open(ctx, settings); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return b, nil
}

func (b *Book) open(ctx context.Context, settings map[string]string) (err error) {
	if b.conn, err = b.db.Conn(ctx); err != nil {
		return err
	}
	if err := bookfile.BringUp(ctx, b.conn); err != nil {
		return err
	}
	for name, value := range settings {
		if _, err := b.conn.ExecContext(ctx, "INSERT INTO settings VALUES (?, ?)", name, value); err != nil {
			return err
		}
	}
	if err := b.fillable(ctx); err != nil {
		return err
	}
	b.reader, err = orderbook.NewReader(ctx, b.db, orderbook.Options{AsOf: lastDay, Keep: b.conn})
	return err
}

// Close gives the book back.
func (b *Book) Close() error { return errors.Join(b.conn.Close(), b.db.Close()) }

// Read puts a form into the book and hands its reader to use, which must not keep
// it. Cells that can't be read are returned, and use is not called.
func (b *Book) Read(ctx context.Context, t Form, use func(*orderbook.Reader) error) ([]sheets.Reject, error) {
	f, rejected, err := readTyped(t)
	if err != nil || len(rejected) > 0 {
		return rejected, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if rejected, err = b.fill(ctx, f); err != nil {
		return nil, fmt.Errorf("reading a typed form: %w", err)
	}
	if len(rejected) > 0 {
		return rejected, nil
	}
	return nil, use(b.reader)
}

// fillable puts views of the rows of functions in the place of the tables to be filled.
func (b *Book) fillable(ctx context.Context) error {
	var casts []string
	for _, name := range filled {
		columns, err := engine.Texts(ctx, b.conn, "SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = ? ORDER BY column_index", name)
		if err != nil {
			return err
		}
		t := &table{}
		for _, c := range columns {
			t.columns, t.casts = append(t.columns, c[0]), append(t.casts, "nullif("+c[0]+", '')::"+c[1]+" AS "+c[0])
		}
		casts = append(casts, "{"+name+"}", strings.Join(t.casts, ", "))
		if name == "measurements" {
			t.columns = append(t.columns, "no") // among those of the form
		}
		b.tables[name] = t
		if err := engine.RowsFunction(b.conn, "typed_"+name, t.columns, func() [][]string { return t.rows }); err != nil {
			return err
		}
	}
	sum := bookfile.FormNumbers("(SELECT *, 0 AS ord, " + bookfile.RowHash + " AS row_hash FROM measurements)")
	b.numbers = engine.Section(typedSQL, "numbers", "{columns}", strings.Join(b.tables["form_numbers"].columns, "::VARCHAR, ")+"::VARCHAR",
		"{whys}", wrongRows, "{sum}", sum)
	return engine.Script(ctx, b.conn, engine.Section(typedSQL, "drop")+engine.Section(typedSQL, "views", casts...))
}

// fill replaces what the book holds, and says what is wrong with the numbers.
func (b *Book) fill(ctx context.Context, f typedRows) (rejected []sheets.Reject, err error) {
	for i := range f.numbers {
		n := &f.numbers[i]
		n.columns, n.values = append(n.columns, "no"), append(n.values, i+1)
	}
	b.tables["orders"].fill(f.order)
	b.tables["forms"].fill(f.form)
	b.tables["measurements"].fill(f.numbers...)
	b.tables["form_numbers"].fill()
	if len(f.numbers) == 0 {
		return nil, nil
	}
	p, err := b.prepare(ctx, b.numbers)
	if err != nil {
		return nil, err
	}
	row := make([]string, len(b.tables["form_numbers"].columns))
	var wrong bool
	into := []any{}
	for i := range row {
		into = append(into, &row[i])
	}
	if err := p.QueryRowContext(ctx).Scan(append(into, &wrong)...); err != nil {
		return nil, err
	}
	b.tables["form_numbers"].rows = [][]string{row}
	if wrong {
		return b.wrongNumbers(ctx)
	}
	return nil, nil
}

// fill puts rows in the place of those before.
func (t *table) fill(rows ...record) {
	t.rows = nil
	for _, r := range rows {
		row := make([]string, len(t.columns))
		for i, c := range t.columns {
			if k := slices.Index(r.columns, c); k >= 0 {
				row[i] = textOf(r.values[k])
			} else if c == "load_id" {
				row[i] = "1"
			}
		}
		t.rows = append(t.rows, row)
	}
}

// textOf is a value as a text that the engine reads as the same value; "" for none.
func textOf(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case time.Time:
		return v.Format(time.DateOnly)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return fmt.Sprint(v)
}

// prepare keeps a statement prepared: to prepare one takes longer than to run it.
func (b *Book) prepare(ctx context.Context, query string) (*sql.Stmt, error) {
	if p, ok := b.prepared[query]; ok {
		return p, nil
	}
	p, err := b.conn.PrepareContext(ctx, query)
	if err == nil {
		b.prepared[query] = p
	}
	return p, err
}

// wrongRows is, in SQL, all that is wrong with a row of the numbers s, as arguments.
var wrongRows = func() string {
	var whys []string
	for _, p := range cells.RowRules["measurements"] {
		whys = append(whys, "CASE WHEN "+p.When+" THEN "+p.Text+" END")
	}
	return strings.NewReplacer("{point}", "s.point", "{clothing}", "s.clothing").Replace(strings.Join(whys, ", "))
}()

// wrongNumbers says what is wrong with the numbers written that no single cell
// shows.
func (b *Book) wrongNumbers(ctx context.Context) (rejected []sheets.Reject, err error) {
	p, err := b.prepare(ctx, engine.Section(typedSQL, "wrong", "{whys}", wrongRows))
	if err != nil {
		return nil, err
	}
	rows, err := p.QueryContext(ctx)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var text, problems string
		if err := rows.Scan(&text, &problems); err != nil {
			return nil, err
		}
		for _, problem := range strings.Split(problems, cells.NextProblem) {
			column, reason, _ := strings.Cut(problem, cells.ThenReason)
			rejected = append(rejected, sheets.Reject{File: "measurements", Column: column, Text: text, Reason: reason})
		}
	}
	return rejected, rows.Err()
}

// typedRows are the rows of the book that a typed form fills.
type typedRows struct {
	order, form record
	numbers     []record
}

// A record is values for columns of a table of the book.
type record struct {
	columns []string
	values  []any
}

// readTyped reads all cells of a form, and says which can't be read.
func readTyped(t Form) (f typedRows, rejected []sheets.Reject, err error) {
	read := func(sheet string, texts, ids map[string]string) record {
		all := maps.Clone(ids)
		maps.Copy(all, texts)
		r, bad, wrong := readCells(sheet, all)
		rejected, err = append(rejected, bad...), errors.Join(err, wrong)
		return r
	}
	f.order = read("orders", t.Order, map[string]string{"order_id": ID})
	f.form = read("forms", t.Form, map[string]string{"form_id": ID, "order_id": ID, "form_no": "1"})
	for _, texts := range t.Numbers {
		f.numbers = append(f.numbers, read("measurements", texts, map[string]string{"form_id": ID}))
	}
	return f, rejected, err
}

// readCells reads a record of a sheet from its cells by header. A header that is
// no column of the sheet is an error.
func readCells(name string, texts map[string]string) (r record, rejected []sheets.Reject, err error) {
	s, _ := sheets.SheetNamed(name)
	header := slices.Sorted(maps.Keys(texts))
	layout, err := sheets.Match(s, header)
	if err == nil && len(layout.Unknown) > 0 {
		err = fmt.Errorf("has no column %s", strings.Join(layout.Unknown, ", "))
	}
	if err != nil {
		return r, nil, fmt.Errorf("the sheet %s %w", name, err)
	}
	for i, c := range s.Columns {
		if c.IsUnit() {
			continue
		}
		text := ""
		if at := layout.Cells[i].At; at >= 0 {
			text = texts[header[at]]
		}
		unit := "," // a decimal comma is read
		if c.Kind == sheets.Length {
			unit += typedUnit(c.Name, layout.Cells[i].Unit, texts)
		}
		cell := cells.Read(c, text, unit)
		if cell.Why != "" {
			rejected = append(rejected, sheets.Reject{File: name, Column: c.Name, Text: text, Reason: cell.Why})
		}
		r.columns = append(r.columns, cells.Columns(c)...)
		r.values = append(r.values, cell.Values(c)...)
	}
	return r, rejected, nil
}

// typedUnit is the unit text of a length, as part.unit gives it for a file.
func typedUnit(name string, suffix form.Unit, texts map[string]string) string {
	own, there := texts[name+"_unit"]
	if name == "value" {
		own, there = texts["unit"]
	}
	switch {
	case suffix == form.NoUnit:
		return cmp.Or(own, texts["unit"])
	case there:
		return suffix.String() + "|" + own
	}
	return suffix.String()
}
