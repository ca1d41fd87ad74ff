package orderbook

import (
	"path/filepath"
	"strings"
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

// Runs is the folder of stored notebook runs.
func (f Files) Runs() string { return filepath.Join(f.Dir, "runs") }

// work is the folder of a writer's working copy and scratch files. Whatever
// lies in it while nobody holds the lock was left by a writer that was stopped.
func (f Files) work() string { return filepath.Join(f.Dir, "work") }

// next is the copy of the book that a writer works on.
func (f Files) next() string { return filepath.Join(f.work(), "next.duckdb") }
