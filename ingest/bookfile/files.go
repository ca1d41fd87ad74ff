package bookfile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lastroom/ingest/engine"
	"lastroom/ingest/seals"
)

// Files are the paths of an order book: the database file, and the folder of
// the same name beside it.
type Files struct {
	Book string // shop.duckdb
	Dir  string // shop.files
}

// FilesOf gives the paths that belong to the book at path. Nothing is opened.
func FilesOf(book string) Files {
	return Files{Book: book, Dir: strings.TrimSuffix(book, filepath.Ext(book)) + ".files"}
}

// Lock is the file whose lock is the only gate for writers.
func (f Files) Lock() string { return filepath.Join(f.Dir, "lock") }

// Ledger is the copy of the ledger that opening compares with the book.
func (f Files) Ledger() string { return filepath.Join(f.Dir, "ledger.jsonl") }

// Snapshot is the file that readers open: the book as of its last load.
func (f Files) Snapshot() string { return filepath.Join(f.Dir, "snapshot.duckdb") }

// Sheets is the folder of the loaded files as they came, named by their hash.
func (f Files) Sheets() string { return filepath.Join(f.Dir, "sheets") }

// Cache is the folder of results kept under the hash of the book's content.
func (f Files) Cache() string { return filepath.Join(f.Dir, "cache") }

// Notebooks is the folder of the shop's own notebooks.
func (f Files) Notebooks() string { return filepath.Join(f.Dir, "notebooks") }

// Layouts is the folder of kept layouts of the shop's own spreadsheets.
func (f Files) Layouts() string { return filepath.Join(f.Dir, "layouts") }

// Keyed is the folder of what the form desk keeps: what was typed in.
func (f Files) Keyed() string { return filepath.Join(f.Dir, "keyed") }

// Runs is the folder of stored notebook runs.
func (f Files) Runs() string { return filepath.Join(f.Dir, "runs") }

// Learners is the folder of who practised, Sessions that of measuring sessions:
// files of lines, each with its sum (analysis/sumlines).
func (f Files) Learners() string { return filepath.Join(f.Dir, "learners") }
func (f Files) Sessions() string { return filepath.Join(f.Dir, "sessions") }

// Models is the folder of the risk models that were fitted on the book, each named
// after its version and its own hash. They hold no customer.
func (f Files) Models() string { return filepath.Join(f.Dir, "models") }

// ModelSum is how many hex digits of its SHA-256 the name of a model's file ends
// with.
const ModelSum = 16

// Forgetting is the note of a person who is being forgotten. It is there only
// until all of them is gone.
func (f Files) Forgetting() string { return filepath.Join(f.Dir, "forgetting.json") }

// Restoring is the mark of a book that is being restored from a backup: its hash.
func (f Files) Restoring() string { return filepath.Join(f.Dir, "restoring") }

// Copies is the list of what was written elsewhere out of the book: backups,
// exports, rows kept out.
func (f Files) Copies() string { return filepath.Join(f.Dir, "copies.jsonl") }

// Work is the folder of a writer's working copy and scratch files. Whatever
// lies in it while nobody holds the lock was left by a writer that was stopped.
func (f Files) Work() string { return filepath.Join(f.Dir, "work") }

// Next is the copy of the book that a writer works on.
func (f Files) Next() string { return filepath.Join(f.Work(), "next.duckdb") }

// Seal notes what people wrote beside the book, and the lists that grow, as they are
// now (see seals). What holds its own hashes, and what is made anew, is left out.
func (f Files) Seal() error {
	return seals.Write(f.Dir, []string{"sheets", "cache", "work", "runs", "models", "keyed", "learners", "sessions", "incoming", "lock",
		"snapshot.duckdb", "ledger.jsonl", "copies.jsonl", "forgetting.json", "restoring"})
}

// ErrBusy is wrapped by the error of a writer that finds another one at work.
var ErrBusy = errors.New("the order book is being written")

// ErrDamaged is wrapped by the error of a book that can't be trusted.
var ErrDamaged = errors.New("the order book is damaged")

// ErrNoBook is wrapped by the error of a file that was never an order book.
var ErrNoBook = errors.New("this is no order book")

// NeverABook is the error of a file that is there and was never an order book: it
// does not begin as one, and no folder of a book lies beside it.
func NeverABook(path string) error {
	if _, missing := os.Stat(FilesOf(path).Dir); missing == nil || engine.IsDatabase(path) {
		return nil
	}
	return fmt.Errorf("%w: %s; sheets are read into one with lastroom load --book FILE SHEETS…", ErrNoBook, path)
}

// Open opens a book's database file with the given settings (see engine.Open),
// as it is. An error says in plain words why it can't be opened.
func Open(ctx context.Context, path string, readOnly bool, settings ...string) (*sql.DB, error) {
	db, err := engine.Open(ctx, path, readOnly, settings...)
	if err != nil {
		return nil, cantOpen(path, err)
	}
	return db, nil
}

// cantOpen says in plain words why a book's database file can't be opened.
func cantOpen(path string, err error) error {
	text := err.Error()
	switch {
	case strings.Contains(text, "Could not set lock"), strings.Contains(text, "Conflicting lock"):
		return fmt.Errorf("%w: another database program has %s open; close it there, then try again (%w)", ErrBusy, path, err)
	case strings.Contains(text, "Cannot open file"), strings.Contains(text, "Permission denied"):
		return fmt.Errorf("can't open the order book %s: %w", path, err)
	}
	if err := NeverABook(path); err != nil {
		return err
	}
	return fmt.Errorf("%w: %s can't be read as an order book; restore a backup, or build it again from the kept sheets beside it (%w)", ErrDamaged, path, err)
}
