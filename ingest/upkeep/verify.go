// Package upkeep keeps an order book sound, through its tables and all that lies beside it.
//
//   - [Verify] reads every row, kept sheet, run and list, and holds them to their sums.
//   - [Backup] writes the tables as Parquet, and the files beside the book, into a folder
//     with a [Manifest] of their hashes; [Restore] makes a book of them that has the same
//     checksum. [Export] is the tables alone, for other engines.
//   - [Forget] removes a person. whose.go finds the ids that stand for them, telling.go says
//     where an id is one; then they go from tables (forget.go), kept sheets
//     (forgetsheets.go), files of practice and sessions (training.go) and runs, and whatever
//     people must see to themselves is named (forgetelsewhere.go).
//
// It stands on packages bookfile for the book's files and its one writer, sheets for rows
// taken out of sheets, and durable for files that are whole after a pulled plug.
package upkeep

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/keyed"
	"lastroom/ingest/layout"
	"lastroom/ingest/seals"
)

//go:embed sql/verify.sql
var verifySQL string

// A TableCheck is one table of which every column of every row was read.
type TableCheck struct {
	Name string `json:"table"`
	Rows int64  `json:"rows"`
}

// A Verification is what a full check of a book found. The book is sound when
// there are no problems.
type Verification struct {
	Book     string       `json:"book"`
	Checksum string       `json:"checksum"`
	Loads    int          `json:"loads"`
	Tables   []TableCheck `json:"tables"`
	Sheets   int          `json:"kept_sheets"` // originals whose hash was worked out again
	Problems []string     `json:"problems"`
	// Unfinished says what a load that was cut short after its book was in
	// place has not done yet. The book is sound; the next command does the rest.
	Unfinished []string `json:"unfinished"`
	// Changed are files that people wrote beside the book and that were changed
	// since the last load or backup. They may be.
	Changed []string `json:"changed"`
}

// Sound reports whether nothing is wrong.
func (v *Verification) Sound() bool { return len(v.Problems) == 0 }

func (v *Verification) problem(format string, args ...any) {
	v.Problems = append(v.Problems, fmt.Sprintf(format, args...))
}

func (v *Verification) unfinished(format string, args ...any) {
	v.Unfinished = append(v.Unfinished, fmt.Sprintf(format, args...))
}

// Verify reads all of a book: every column of every table, so that a damaged
// block is met; the ledger and its copy; the checksum of the content and the
// counts derived from it; the keys; and the kept sheets against their hashes.
// What it finds is in the Verification; the error is only for a check that
// could not be made. It changes nothing.
func Verify(ctx context.Context, book string) (*Verification, error) {
	f := bookfile.FilesOf(book)
	if _, err := os.Stat(book); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no order book %s", book)
	}
	v := &Verification{Book: book, Problems: []string{}, Unfinished: []string{}, Changed: []string{}}
	spill, err := os.MkdirTemp("", "lastroom-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(spill)
	db, err := bookfile.Open(ctx, book, true, "SET temp_directory = "+engine.Quote(spill), engine.OneThread)
	if errors.Is(err, bookfile.ErrDamaged) {
		v.problem("%v", err)
		return v, nil
	}
	if err != nil {
		return nil, err
	}
	defer db.Close()
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	return v, v.check(ctx, conn, f)
}

// check makes the checks one after another. An engine's error on the way is a
// finding: something could not be read.
func (v *Verification) check(ctx context.Context, conn *sql.Conn, f bookfile.Files) error {
	if err := bookfile.CheckSchema(ctx, conn); err != nil {
		v.problem("%v", err)
		return ctx.Err()
	}
	if _, err := os.Stat(f.Forgetting()); err == nil {
		v.unfinished("a person is being forgotten, or that was cut short")
	}
	if err := v.readTables(ctx, conn); err != nil {
		return err
	}
	if !v.Sound() {
		v.problem("restore a backup, or build the book again from the kept sheets in %s", f.Sheets())
		return nil
	}
	for _, step := range []func(context.Context, *sql.Conn, bookfile.Files) error{
		v.checkLedger, v.checkNumbers, v.checkKeys, v.checkSheets, v.checkLayouts, v.checkModels, v.checkKeyed, v.checkTraining, v.checkBeside, v.checkSnapshot,
	} {
		if err := step(ctx, conn, f); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			v.problem("%v", err)
		}
	}
	return nil
}

// checkBeside holds what people wrote beside the book, and the lists that grow, to
// their seals.
func (v *Verification) checkBeside(_ context.Context, _ *sql.Conn, f bookfile.Files) error {
	damaged, changed, err := seals.Verify(f.Dir)
	v.Problems = append(v.Problems, damaged...)
	v.Changed = append(v.Changed, changed...)
	if err != nil {
		return err
	}
	_, lines, err := bookfile.ReadCopies(f)
	if words := bookfile.CopiesDamaged(f, lines); words != "" {
		v.Problems = append(v.Problems, words)
	}
	return err
}

// checkLayouts sees that kept layouts can still be read.
func (v *Verification) checkLayouts(_ context.Context, _ *sql.Conn, f bookfile.Files) error {
	kept, err := filepath.Glob(filepath.Join(f.Layouts(), "*.yaml"))
	for _, path := range kept {
		if _, err := layout.Read(path); err != nil {
			v.problem("the kept layout %s can't be read; take it away, and keep it again from the pages, or put it there from a backup: %v", strings.TrimSuffix(filepath.Base(path), ".yaml"), err)
		}
	}
	return err
}

// checkKeyed holds what the form desk keeps to its hashes.
func (v *Verification) checkKeyed(_ context.Context, _ *sql.Conn, f bookfile.Files) error {
	wrong, waiting, err := keyed.Store{Files: f}.Verify()
	v.Problems = append(v.Problems, wrong...)
	if waiting > 0 {
		v.unfinished("what was typed in at the desk for some orders is not in the book yet (%d)", waiting)
	}
	return err
}

// bookTables are the names of all tables of the attached book.
func bookTables(ctx context.Context, conn *sql.Conn) (names []string, err error) {
	rows, err := conn.QueryContext(ctx, "SELECT table_name FROM duckdb_tables() WHERE database_name = 'book' AND NOT temporary ORDER BY table_name")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, rows.Err()
}

func (v *Verification) readTables(ctx context.Context, conn *sql.Conn) error {
	names, err := bookTables(ctx, conn)
	if err != nil {
		v.problem("the list of tables can't be read: %s", engine.FirstLine(err))
		return ctx.Err()
	}
	for _, name := range names {
		var rows int64
		var sum sql.NullString
		q := "SELECT count(*), CAST(sum(hash(t)) AS VARCHAR) FROM book." + engine.QuoteName(name) + " t"
		if err := conn.QueryRowContext(ctx, q).Scan(&rows, &sum); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			v.problem("table %s can't be read: %s", name, engine.FirstLine(err))
			continue
		}
		v.Tables = append(v.Tables, TableCheck{name, rows})
	}
	return nil
}

func (v *Verification) checkLedger(ctx context.Context, conn *sql.Conn, f bookfile.Files) error {
	ledger, err := bookfile.ReadLedger(ctx, conn)
	if err != nil {
		return err
	}
	v.Loads = len(ledger)
	if v.Checksum, err = bookfile.Checksum(ctx, conn); err != nil {
		return err
	}
	if len(ledger) == 0 {
		v.problem("the ledger is empty")
		return nil
	}
	if last := ledger[len(ledger)-1]; last.Checksum != v.Checksum {
		v.problem("the content is not what load %d left: its checksum was %s and is %s; the book was changed by another program or is damaged", last.Load, last.Checksum, v.Checksum)
	}
	copied, err := bookfile.ReadLedgerCopy(f)
	if err != nil {
		return err
	}
	if n := len(ledger) - len(copied); n > 0 {
		v.unfinished("%s does not list the book's last loads yet (%d)", f.Ledger(), n)
	}
	return bookfile.CompareLedgers(f, ledger, copied)
}

// checkNumbers works out again what the measurements amount to.
func (v *Verification) checkNumbers(ctx context.Context, conn *sql.Conn, _ bookfile.Files) error {
	var forms, wrong int64
	if err := conn.QueryRowContext(ctx, engine.Section(verifySQL, "numbers", "{row hash}", bookfile.RowHash)).Scan(&forms, &wrong); err != nil {
		return err
	}
	if wrong > 0 {
		v.problem("the measurements of %d of %d forms are not those that were loaded", wrong, forms)
	}
	return nil
}

func (v *Verification) checkKeys(ctx context.Context, conn *sql.Conn, _ bookfile.Files) error {
	rows, err := conn.QueryContext(ctx, engine.Section(verifySQL, "keys"))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var what string
		var n int64
		if err := rows.Scan(&what, &n); err != nil {
			return err
		}
		if n > 0 {
			v.problem("%d %s", n, what)
		}
	}
	return rows.Err()
}

// checkModels holds the kept risk models to the hash in their names. A damaged one
// is a finding; it is never used.
func (v *Verification) checkModels(_ context.Context, _ *sql.Conn, f bookfile.Files) error {
	entries, err := os.ReadDir(f.Models())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".json" {
			continue // left where writing one was cut short
		}
		sum, err := durable.Hash(filepath.Join(f.Models(), e.Name()))
		if err != nil {
			v.problem("the kept risk model %s can't be read: %v", e.Name(), err)
			continue
		}
		if !strings.HasSuffix(e.Name(), "-"+sum[:bookfile.ModelSum]+".json") {
			v.problem("the kept risk model %s has another content than when it was fitted; put it there again from a backup, or remove it", e.Name())
		}
	}
	return err
}

// checkSheets hashes the kept originals again.
func (v *Verification) checkSheets(ctx context.Context, conn *sql.Conn, f bookfile.Files) error {
	want, err := keptHashes(ctx, conn, "sha256")
	if err != nil {
		return err
	}
	maps, err := keptHashes(ctx, conn, "map_sha256")
	if err != nil {
		return err
	}
	named := slices.Concat(want, maps)
	have := map[string]bool{}
	entries, err := os.ReadDir(f.Sheets())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		sum, err := durable.Hash(filepath.Join(f.Sheets(), e.Name()))
		if err != nil {
			v.problem("the kept sheet %s can't be read: %v", e.Name(), err)
			continue
		}
		v.Sheets++
		have[sum] = true
		if sum != keptName(e.Name()) {
			v.problem("the kept sheet %s has another content than when it was loaded", e.Name())
		}
	}
	for _, e := range entries {
		if name := keptName(e.Name()); !slices.Contains(named, name) {
			v.unfinished("no load names the kept sheet %s: the load that brought it was cut short, or an older book was put in the place of a newer one; load your sheets again, or remove it", e.Name())
		}
	}
	for _, sum := range want {
		if !have[sum] {
			v.problem("the kept sheet with the hash %s is missing; the book can't be built again from its sheets", sum)
		}
	}
	return nil
}

// keptName is the hash in the name of a kept sheet.
func keptName(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) }

// keptHashes are the hashes of the sheets, or of the mappings, that the ledger
// says are kept.
func keptHashes(ctx context.Context, conn *sql.Conn, column string) (sums []string, err error) {
	rows, err := conn.QueryContext(ctx, fmt.Sprintf("SELECT DISTINCT %[1]s FROM book.load_files WHERE %[1]s <> '' ORDER BY ALL", column))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		sums = append(sums, s)
	}
	return slices.Clip(sums), rows.Err()
}

// checkSnapshot wants the file that readers open to be the book, unless the
// next opening makes it again anyway.
func (v *Verification) checkSnapshot(ctx context.Context, _ *sql.Conn, f bookfile.Files) error {
	book, err := os.Stat(f.Book)
	if err != nil {
		return err
	}
	snap, err := os.Stat(f.Snapshot())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil || os.SameFile(book, snap) {
		return err
	}
	if ok, err := bookfile.Settled(f); !ok {
		v.unfinished("%s, which the reading commands open, is not yet the present book", f.Snapshot())
		return err
	}
	a, errA := durable.Hash(f.Book)
	b, errB := durable.Hash(f.Snapshot())
	if err := errors.Join(errA, errB); err != nil {
		return err
	}
	if a != b {
		v.problem("%s, which the reading commands open, is not the same as the book; remove it and the next command makes it again", f.Snapshot())
	}
	return nil
}
