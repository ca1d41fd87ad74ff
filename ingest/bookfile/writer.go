package bookfile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
)

// WriterOptions say who writes and when.
type WriterOptions struct {
	Program string    // name and version, for the ledger and the lock
	Now     time.Time // the time the ledger shall show
	// AtStep, if set, is called by name after each step of the work, which a crash
	// there must not undo by half.
	AtStep func(step string)
}

// WriteMemory bounds what the engine keeps in memory during a load, in megabytes
// (see engine.LimitMemory). Less than this costs time, more than this saves none.
const WriteMemory = 500

// manyBytes is the size from which on a book is written by several threads: what there is
// to do in a smaller one takes less than sharing it out among them does. Who brings many
// rows to it lets the engine have its threads (engine.AllThreads).
const manyBytes = 16 << 20

// private is the mode of a book: it holds what people's bodies measure. The
// engine makes files as the system would have them.
const private = 0o600

// A Writer changes a book: under the lock, on a working copy, in one
// transaction. Nothing of it is seen before Publish, and a writer that is
// stopped at any moment leaves the book as it was.
type Writer struct {
	Files  Files
	Conn   *sql.Conn    // to the working copy, with the transaction open
	Load   int64        // the number of what is being written
	Ledger []LedgerLine // of what was written before

	opt   WriterOptions
	lock  *os.File
	db    *sql.DB
	older bool // the book had an older schema version
}

// Step tells the hook of the options that a step is done.
func (w *Writer) Step(name string) {
	if w.opt.AtStep != nil {
		w.opt.AtStep(name)
	}
}

// OpenWriter takes the lock of the book and opens a working copy of it, brought
// up to the newest schema; a book that is not there is made. The copy's ledger
// is compared with the one beside the book. The caller must Close the writer.
func OpenWriter(ctx context.Context, book string, opt WriterOptions) (*Writer, error) {
	f := FilesOf(book)
	if _, err := os.Stat(book); err == nil {
		if err := NeverABook(book); err != nil {
			return nil, err
		}
	}
	for _, dir := range []string{f.Dir, f.Sheets()} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return nil, fmt.Errorf("can't make the folder of the order book: %w", err)
		}
		if err := os.Chmod(dir, 0o700); err != nil {
			return nil, fmt.Errorf("can't make the folder of the order book private: %w", err)
		}
	}
	lock, err := Lock(f, opt.Program)
	if err != nil {
		return nil, err
	}
	w := &Writer{Files: f, opt: opt, lock: lock}
	if err := w.open(ctx); err != nil {
		w.Close()
		return nil, err
	}
	return w, nil
}

func (w *Writer) open(ctx context.Context) error {
	if err := os.RemoveAll(w.Files.Work()); err != nil { // what an earlier writer left
		return fmt.Errorf("can't clear the work folder of the order book: %w", err)
	}
	if err := os.MkdirAll(w.Files.Work(), 0o700); err != nil {
		return err
	}
	settings := []string{"SET temp_directory = " + engine.Quote(filepath.Join(w.Files.Work(), "spill")), engine.LimitMemory(WriteMemory, 0)}
	if book, err := os.Stat(w.Files.Book); err != nil || book.Size() < manyBytes {
		settings = append(settings, engine.OneThread)
	}
	if err := w.connect(ctx, settings...); err != nil {
		return err
	}
	if err := w.copyBook(ctx); err != nil {
		return err
	}
	// The book itself was opened before it was copied, so what fails here is the disk.
	if err := engine.Attach(ctx, w.Conn, w.Files.Next(), false); err != nil {
		return fmt.Errorf("the working copy of %s could not be opened: %w; is the disk full?", w.Files.Book, err)
	}
	if _, err := w.Conn.ExecContext(ctx, "USE book"); err != nil {
		return err
	}
	if _, err := w.Conn.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return err
	}
	if ok, err := Settled(w.Files); err == nil && !ok { // its last load was cut short, or it was changed from outside
		if err := readAll(ctx, w.Conn, w.Files); err != nil {
			return err
		}
	}
	w.older = errors.Is(CheckSchema(ctx, w.Conn), ErrOlder)
	if err := BringUp(ctx, w.Conn); err != nil {
		return err
	}
	return w.readLedgers(ctx)
}

// connect starts the engine, with no book attached yet.
func (w *Writer) connect(ctx context.Context, settings ...string) (err error) {
	if w.db, err = engine.Open(ctx, "", false, settings...); err == nil {
		w.Conn, err = w.db.Conn(ctx)
	}
	return err
}

// copyBook makes the working copy.
func (w *Writer) copyBook(ctx context.Context) error {
	f := w.Files
	if _, err := os.Stat(f.Book); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err := w.probe(ctx); err != nil {
		return err
	}
	if err := durable.Copy(f.Next(), f.Book); err != nil {
		return fmt.Errorf("can't make the working copy of %s: %w", f.Book, err)
	}
	w.Step("copied")
	return nil
}

// probe opens the book itself for a moment, to see that no other database
// program has it and that it can be read. A log that such a program left
// beside the book is first worked in by the engine.
func (w *Writer) probe(ctx context.Context) error {
	readOnly, look := true, "DETACH book"
	if _, err := os.Stat(w.Files.Book + ".wal"); err == nil {
		readOnly, look = false, "CHECKPOINT book; DETACH book"
	}
	if err := engine.Attach(ctx, w.Conn, w.Files.Book, readOnly); err != nil {
		return cantOpen(w.Files.Book, err)
	}
	_, err := w.Conn.ExecContext(context.WithoutCancel(ctx), look)
	return err
}

func (w *Writer) readLedgers(ctx context.Context) error {
	var err error
	if w.Ledger, err = ReadLedger(ctx, w.Conn); err != nil {
		return err
	}
	for _, l := range w.Ledger {
		w.Load = max(w.Load, l.Load)
	}
	w.Load++
	copied, err := ReadLedgerCopy(w.Files)
	if err != nil {
		return err
	}
	return CompareLedgers(w.Files, w.Ledger, copied)
}

// Publish writes the ledger with the given files, commits, and puts the
// working copy in the place of the book, then the snapshot in front of readers.
// After an error the book is as it was, unless the error says otherwise.
func (w *Writer) Publish(ctx context.Context, files []LedgerFile) error {
	if err := w.commit(ctx, files); err != nil {
		return err
	}
	w.Step("committed")
	if err := errors.Join(os.Chmod(w.Files.Next(), private), durable.Sync(w.Files.Next())); err != nil {
		return fmt.Errorf("can't make the new book durable: %w", err)
	}
	w.Step("synced")
	if err := os.Rename(w.Files.Next(), w.Files.Book); err != nil {
		return fmt.Errorf("can't put the new book in place: %w", err)
	}
	w.Step("renamed")
	if err := w.finish(); err != nil {
		return fmt.Errorf("the load is in the book, but what stands beside it is not yet up to date (the next opening mends that): %w", err)
	}
	return nil
}

// PublishAnew is Publish with a database file that is written anew.
func (w *Writer) PublishAnew(ctx context.Context, files []LedgerFile) error {
	if err := w.commit(ctx, files); err != nil {
		return err
	}
	fresh := filepath.Join(w.Files.Work(), "fresh.duckdb")
	if err := copyDatabase(ctx, w.Files.Next(), fresh); err != nil {
		return fmt.Errorf("can't write the order book anew (the book is as it was): %w", err)
	}
	w.Step("fresh")
	if err := errors.Join(os.Chmod(fresh, private), durable.Sync(fresh), os.Rename(fresh, w.Files.Book)); err != nil {
		return fmt.Errorf("can't put the new book in place: %w", err)
	}
	w.Step("renamed")
	return w.finish()
}

// copyDatabase writes all of one database file into a new one.
func copyDatabase(ctx context.Context, from, to string) (err error) {
	db, err := Open(ctx, from, true, "SET temp_directory = "+engine.Quote(filepath.Dir(to)+"/spill"), engine.OneThread)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	for _, s := range []string{
		"ATTACH " + engine.Quote(to) + " AS fresh",
		"COPY FROM DATABASE book TO fresh",
		"CHECKPOINT fresh",
		"DETACH fresh",
	} {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// commit writes the ledger row, commits and closes the working copy.
func (w *Writer) commit(ctx context.Context, files []LedgerFile) error {
	sum, err := Checksum(ctx, w.Conn)
	if err != nil {
		return err
	}
	line := LedgerLine{Load: w.Load, At: w.opt.Now.UTC().Truncate(time.Microsecond), Program: w.opt.Program, Checksum: sum, Files: files}
	if err := InsertLedger(ctx, w.Conn, line); err != nil {
		return err
	}
	w.Step("merged")
	for _, q := range []string{"COMMIT", "CHECKPOINT"} {
		if _, err := w.Conn.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("can't write the order book (the book is as it was): %w", err)
		}
	}
	w.Ledger = append(w.Ledger, line)
	return w.closeDB()
}

func InsertLedger(ctx context.Context, conn *sql.Conn, l LedgerLine) error {
	if _, err := conn.ExecContext(ctx, "INSERT INTO loads VALUES (?, ?, ?, ?)", l.Load, l.At, l.Program, l.Checksum); err != nil {
		return err
	}
	for _, f := range l.Files {
		mapped := sql.NullString{String: f.MapSHA256, Valid: f.MapSHA256 != ""}
		if _, err := conn.ExecContext(ctx, "INSERT INTO load_files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			l.Load, f.Sheet, f.File, f.SHA256, f.Bytes, f.Read, f.Taken, f.Unchanged, f.Superseded, f.KeptOut, mapped); err != nil {
			return err
		}
	}
	return nil
}

// closeDB closes the working copy; an open transaction ends with it.
func (w *Writer) closeDB() error {
	var errs []error
	if w.Conn != nil {
		engine.EndTransaction(w.Conn)
		errs = append(errs, w.Conn.Close())
	}
	if w.db != nil {
		errs = append(errs, w.db.Close())
	}
	w.Conn, w.db = nil, nil
	return errors.Join(errs...)
}

// Close drops whatever was not published and gives the lock back.
func (w *Writer) Close() error {
	err := w.closeDB()
	if w.lock != nil {
		err = errors.Join(err, os.RemoveAll(w.Files.Work()), w.lock.Truncate(0), w.lock.Close())
		w.lock = nil
	}
	return err
}
