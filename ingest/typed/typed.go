// Package typed reads one form that is typed in, without files, into a small order
// book in memory that is kept open for it, so that the form is seen through the same
// views as a form of a loaded sheet:
//
//  1. [Book.Read] reads the cells of a [Form] (package cells), or returns what is
//     wrong with them
//  2. puts them in the place of the form before, by statements kept prepared
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
}

// lastDay is the last day that a cell may hold (sheets.ParseDay): a typed form is
// seen whatever its day.
var lastDay = cohort.DayOf(time.Date(2199, 12, 31, 0, 0, 0, 0, time.UTC))

// planForAnyRows has the plans of prepared statements hold for whatever rows come
// later: the engine else leaves out what the rows of the moment make needless, as
// the coalesce around a column without NULL.
const planForAnyRows = "SET disabled_optimizers = 'statistics_propagation,compressed_materialization,empty_result_pullup'"

// Open makes the book, under the given shop settings. Close must be called.
func Open(ctx context.Context, settings map[string]string) (*Book, error) {
	db, err := engine.Open(ctx, "", false, engine.OneThread, planForAnyRows)
	if err != nil {
		return nil, err
	}
	b := &Book{db: db, prepared: map[string]*sql.Stmt{}}
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
	if err := engine.Script(ctx, b.conn, engine.Section(typedSQL, "tables")); err != nil {
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

// fill replaces what the book holds, unless something is wrong with the numbers.
func (b *Book) fill(ctx context.Context, f typedRows) (rejected []sheets.Reject, err error) {
	if _, err := b.conn.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return nil, err
	}
	defer engine.EndTransaction(b.conn) // of a form that was not put in
	for _, table := range []string{"orders", "forms", "measured", "places", "readings", "form_numbers", "written"} {
		if err := b.exec(ctx, "DELETE FROM "+table); err != nil {
			return nil, err
		}
	}
	for i := range f.numbers {
		n := &f.numbers[i]
		n.columns, n.values = append(n.columns, "no"), append(n.values, i+1)
	}
	if err := errors.Join(b.insert(ctx, "orders", f.order), b.insert(ctx, "forms", f.form), b.insert(ctx, "written", f.numbers...)); err != nil {
		return nil, err
	}
	if len(f.numbers) > 0 {
		if rejected, err = b.wrongNumbers(ctx); err != nil || len(rejected) > 0 {
			return rejected, err
		}
		sum := bookfile.FormNumbers("(SELECT *, 0 AS ord, " + bookfile.RowHash + " AS row_hash FROM measurements)")
		for _, q := range engine.Statements(engine.Section(typedSQL, "numbers", "{sum}", sum)) {
			if err := b.exec(ctx, q); err != nil {
				return nil, err
			}
		}
	}
	_, err = b.conn.ExecContext(ctx, "COMMIT")
	return nil, err
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

func (b *Book) exec(ctx context.Context, query string, args ...any) error {
	p, err := b.prepare(ctx, query)
	if err == nil {
		_, err = p.ExecContext(ctx, args...)
	}
	return err
}

// insert puts rows of the same columns into a table, in one statement: each costs as
// much as a dozen rows.
func (b *Book) insert(ctx context.Context, table string, rows ...record) error {
	if len(rows) == 0 {
		return nil
	}
	row := "(" + strings.Repeat("?, ", len(rows[0].columns)) + "1)"
	var values []any
	for _, r := range rows {
		values = append(values, r.values...)
	}
	return b.exec(ctx, fmt.Sprintf("INSERT INTO %s (%s, load_id) VALUES %s", table, strings.Join(rows[0].columns, ", "),
		strings.Join(slices.Repeat([]string{row}, len(rows)), ", ")), values...)
}

// wrongNumbers says what is wrong with the numbers written that no single cell
// shows.
func (b *Book) wrongNumbers(ctx context.Context) (rejected []sheets.Reject, err error) {
	var whys []string
	for _, p := range cells.RowRules["measurements"] {
		whys = append(whys, "CASE WHEN "+p.When+" THEN "+p.Text+" END")
	}
	why := strings.NewReplacer("{point}", "s.point", "{clothing}", "s.clothing").Replace(strings.Join(whys, ", "))
	p, err := b.prepare(ctx, strings.ReplaceAll(engine.Section(typedSQL, "wrong"), "{whys}", why))
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
	read := func(sheet string, cells, ids map[string]string) record {
		all := maps.Clone(ids)
		maps.Copy(all, cells)
		r, bad, wrong := readCells(sheet, all)
		rejected, err = append(rejected, bad...), errors.Join(err, wrong)
		return r
	}
	f.order = read("orders", t.Order, map[string]string{"order_id": ID})
	f.form = read("forms", t.Form, map[string]string{"form_id": ID, "order_id": ID, "form_no": "1"})
	for _, cells := range t.Numbers {
		f.numbers = append(f.numbers, read("measurements", cells, map[string]string{"form_id": ID}))
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
func typedUnit(name string, suffix form.Unit, cells map[string]string) string {
	own, there := cells[name+"_unit"]
	if name == "value" {
		own, there = cells["unit"]
	}
	switch {
	case suffix == form.NoUnit:
		return cmp.Or(own, cells["unit"])
	case there:
		return suffix.String() + "|" + own
	}
	return suffix.String()
}
