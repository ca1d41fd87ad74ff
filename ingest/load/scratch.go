package load

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
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sheets"
)

//go:embed sql/scratch.sql
var scratchSQL string

// A TypedForm is one form as it was typed in: the cells of its order, of itself
// and of each of its numbers, as texts by the headers of the sheets orders, forms
// and measurements. The ids are given by Scratch. A decimal comma is read.
type TypedForm struct {
	Order, Form map[string]string
	Numbers     []map[string]string
}

// TypedID is the id of the form that was typed in, and of its order.
const TypedID = "typed"

// A Scratch is a book in memory that holds one typed form at a time, so that the
// form is seen through the same views as any other. It may be used by several
// goroutines; forms take turns.
type Scratch struct {
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

// OpenScratch makes the book, under the given shop settings. Close must be called.
func OpenScratch(ctx context.Context, settings map[string]string) (*Scratch, error) {
	db, err := engine.Open(ctx, "", false, engine.OneThread, planForAnyRows)
	if err != nil {
		return nil, err
	}
	s := &Scratch{db: db, prepared: map[string]*sql.Stmt{}}
	if err := s.open(ctx, settings); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

func (s *Scratch) open(ctx context.Context, settings map[string]string) (err error) {
	if s.conn, err = s.db.Conn(ctx); err != nil {
		return err
	}
	if err := orderbook.BringUp(ctx, s.conn); err != nil {
		return err
	}
	for name, value := range settings {
		if _, err := s.conn.ExecContext(ctx, "INSERT INTO settings VALUES (?, ?)", name, value); err != nil {
			return err
		}
	}
	if err := engine.Script(ctx, s.conn, engine.Section(scratchSQL, "tables")); err != nil {
		return err
	}
	s.reader, err = orderbook.NewReader(ctx, s.db, orderbook.Options{AsOf: lastDay, Keep: s.conn})
	return err
}

// Close gives the book back.
func (s *Scratch) Close() error { return errors.Join(s.conn.Close(), s.db.Close()) }

// Read puts a form into the book and hands its reader to use, which must not keep
// it. Cells that can't be read are returned, and use is not called.
func (s *Scratch) Read(ctx context.Context, t TypedForm, use func(*orderbook.Reader) error) ([]sheets.Reject, error) {
	f, rejected, err := readTyped(t)
	if err != nil || len(rejected) > 0 {
		return rejected, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if rejected, err = s.fill(ctx, f); err != nil {
		return nil, fmt.Errorf("reading a typed form: %w", err)
	}
	if len(rejected) > 0 {
		return rejected, nil
	}
	return nil, use(s.reader)
}

// fill replaces what the book holds, unless something is wrong with the numbers.
func (s *Scratch) fill(ctx context.Context, f typedRows) (rejected []sheets.Reject, err error) {
	if _, err := s.conn.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return nil, err
	}
	defer engine.EndTransaction(s.conn) // of a form that was not put in
	for _, table := range []string{"orders", "forms", "measured", "places", "readings", "form_numbers", "written"} {
		if err := s.exec(ctx, "DELETE FROM "+table); err != nil {
			return nil, err
		}
	}
	err = errors.Join(s.insert(ctx, "orders", f.order), s.insert(ctx, "forms", f.form))
	for i, n := range f.numbers {
		n.columns, n.values = append(n.columns, "no"), append(n.values, i+1)
		err = errors.Join(err, s.insert(ctx, "written", n))
	}
	if err != nil {
		return nil, err
	}
	if len(f.numbers) > 0 {
		if rejected, err = s.wrongNumbers(ctx); err != nil || len(rejected) > 0 {
			return rejected, err
		}
		sum := numbersOf("(SELECT *, 0 AS ord, " + orderbook.RowHash + " AS row_hash FROM measurements)")
		for _, q := range strings.Split(strings.ReplaceAll(engine.Section(scratchSQL, "numbers"), "{sum}", sum), ";\n") {
			if strings.TrimSpace(q) == "" {
				continue
			}
			if err := s.exec(ctx, q); err != nil {
				return nil, err
			}
		}
	}
	_, err = s.conn.ExecContext(ctx, "COMMIT")
	return nil, err
}

// prepare keeps a statement prepared: to prepare one takes longer than to run it.
func (s *Scratch) prepare(ctx context.Context, query string) (*sql.Stmt, error) {
	if p, ok := s.prepared[query]; ok {
		return p, nil
	}
	p, err := s.conn.PrepareContext(ctx, query)
	if err == nil {
		s.prepared[query] = p
	}
	return p, err
}

func (s *Scratch) exec(ctx context.Context, query string, args ...any) error {
	p, err := s.prepare(ctx, query)
	if err == nil {
		_, err = p.ExecContext(ctx, args...)
	}
	return err
}

// insert puts a row into a table.
func (s *Scratch) insert(ctx context.Context, table string, r record) error {
	return s.exec(ctx, fmt.Sprintf("INSERT INTO %s (%s, load_id) VALUES (%s1)", table, strings.Join(r.columns, ", "),
		strings.Repeat("?, ", len(r.columns))), r.values...)
}

// wrongNumbers says what is wrong with the numbers written that no single cell
// shows.
func (s *Scratch) wrongNumbers(ctx context.Context) (rejected []sheets.Reject, err error) {
	var whys []string
	for _, p := range rowRules["measurements"] {
		whys = append(whys, "CASE WHEN "+p.when+" THEN "+p.text+" END")
	}
	why := strings.NewReplacer("{point}", "s.point", "{clothing}", "s.clothing").Replace(strings.Join(whys, ", "))
	p, err := s.prepare(ctx, strings.ReplaceAll(engine.Section(scratchSQL, "wrong"), "{whys}", why))
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
		for _, problem := range strings.Split(problems, nextProblem) {
			column, reason, _ := strings.Cut(problem, thenReason)
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
func readTyped(t TypedForm) (f typedRows, rejected []sheets.Reject, err error) {
	read := func(sheet string, cells, ids map[string]string) record {
		all := maps.Clone(ids)
		maps.Copy(all, cells)
		r, bad, wrong := readCells(sheet, all)
		rejected, err = append(rejected, bad...), errors.Join(err, wrong)
		return r
	}
	f.order = read("orders", t.Order, map[string]string{"order_id": TypedID})
	f.form = read("forms", t.Form, map[string]string{"form_id": TypedID, "order_id": TypedID, "form_no": "1"})
	for _, cells := range t.Numbers {
		f.numbers = append(f.numbers, read("measurements", cells, map[string]string{"form_id": TypedID}))
	}
	return f, rejected, err
}

// readCells reads a record of a sheet from its cells by header. A header that is
// no column of the sheet is an error.
func readCells(name string, cells map[string]string) (r record, rejected []sheets.Reject, err error) {
	s, _ := sheets.SheetNamed(name)
	header := slices.Sorted(maps.Keys(cells))
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
			text = cells[header[at]]
		}
		unit := "," // a decimal comma is read
		if c.Kind == sheets.Length {
			unit += typedUnit(c.Name, layout.Cells[i].Unit, cells)
		}
		e := readText(c, text, unit)
		if e.why != "" {
			rejected = append(rejected, sheets.Reject{File: name, Column: c.Name, Text: text, Reason: e.why})
		}
		r.columns = append(r.columns, bookColumns(c)...)
		r.values = append(r.values, e.values(c)...)
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

// values are what the entry puts in the book's columns of c.
func (e entry) values(c sheets.Column) []any {
	switch {
	case !e.value.Known:
		if c.Name == "clothing" {
			return []any{"bare"} // as in stored
		}
		return make([]any, len(bookColumns(c)))
	case c.Kind == sheets.Day:
		return []any{e.value.Day}
	case c.Kind == sheets.YesNo:
		return []any{e.value.Yes}
	case c.Kind == sheets.Whole, c.Kind == sheets.Money:
		return []any{e.value.Number}
	case c.Kind == sheets.Length && c.Name == "value":
		return []any{e.value.Number, e.text, e.length.String()}
	case c.Kind == sheets.Length:
		return []any{e.value.Number, e.text}
	}
	return []any{e.value.Text}
}
