package orderbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// WriterOptions say who writes and when.
type WriterOptions struct {
	Program string    // name and version, for the ledger and the lock
	Now     time.Time // the time the ledger shall show
	// Progress, if set, is told how far long work is.
	Progress func(done, total int)
}

// loadMemory bounds what the engine keeps in memory during a load (see
// limitMemory). Less than this costs time, more than this saves none.
const loadMemory = 500

// A Writer changes a book: under the lock, on a working copy, in one
// transaction. Nothing of it is seen before Publish, and a writer that is
// stopped at any moment leaves the book as it was.
type Writer struct {
	files  Files
	opt    WriterOptions
	lock   *os.File
	db     *sql.DB
	conn   *sql.Conn
	load   int64
	ledger []LedgerLine
	older  bool // the book had an older schema version
}

// atStep is called between the steps of a write; the crash tests stop there.
var atStep = func(string) {}

// OpenWriter takes the lock of the book and opens a working copy of it, brought
// up to the newest schema; a book that is not there is made. The copy's ledger
// is compared with the one beside the book. The caller must Close the writer.
func OpenWriter(ctx context.Context, book string, opt WriterOptions) (*Writer, error) {
	f := FilesOf(book)
	for _, dir := range []string{f.Dir, f.Sheets()} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return nil, fmt.Errorf("can't make the folder of the order book: %w", err)
		}
	}
	lock, err := takeLock(f, opt.Program)
	if err != nil {
		return nil, err
	}
	w := &Writer{files: f, opt: opt, lock: lock}
	if err := w.open(ctx); err != nil {
		w.Close()
		return nil, err
	}
	return w, nil
}

func (w *Writer) open(ctx context.Context) error {
	if err := w.copyBook(ctx); err != nil {
		return err
	}
	var err error
	temp := "SET temp_directory = " + quote(filepath.Join(w.files.work(), "spill"))
	if w.db, err = openDB(ctx, w.files.next(), false, temp, limitMemory(loadMemory, 0)); err != nil {
		return err
	}
	if w.conn, err = w.db.Conn(ctx); err != nil {
		return err
	}
	if _, err := w.conn.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return err
	}
	w.older = errors.Is(checkSchema(ctx, w.conn), errOlder)
	if err := bringUp(ctx, w.conn, schemaFiles); err != nil {
		return err
	}
	return w.readLedgers(ctx)
}

// copyBook clears what an earlier writer left and makes the working copy.
func (w *Writer) copyBook(ctx context.Context) error {
	f := w.files
	if err := os.RemoveAll(f.work()); err != nil {
		return fmt.Errorf("can't clear the work folder of the order book: %w", err)
	}
	if err := os.MkdirAll(f.work(), 0o700); err != nil {
		return err
	}
	if _, err := os.Stat(f.Book); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err := probe(ctx, f); err != nil {
		return err
	}
	if err := copyFile(f.next(), f.Book); err != nil {
		return fmt.Errorf("can't make the working copy of %s: %w", f.Book, err)
	}
	atStep("copied")
	return nil
}

// probe opens the book itself for a moment, to see that no other database
// program has it and that it can be read. A log that such a program left
// beside the book is first worked in by the engine.
func probe(ctx context.Context, f Files) error {
	readOnly := true
	if _, err := os.Stat(f.Book + ".wal"); err == nil {
		readOnly = false
	}
	db, err := openDB(ctx, f.Book, readOnly)
	if err != nil {
		return err
	}
	if !readOnly {
		_, err = db.ExecContext(ctx, "CHECKPOINT")
	}
	return errors.Join(err, db.Close())
}

func (w *Writer) readLedgers(ctx context.Context) error {
	var err error
	if w.ledger, err = readLedger(ctx, w.conn); err != nil {
		return err
	}
	for _, l := range w.ledger {
		w.load = max(w.load, l.Load)
	}
	w.load++
	copied, err := readLedgerCopy(w.files)
	if err != nil {
		return err
	}
	return compareLedgers(w.files, w.ledger, copied)
}

// Conn is the connection to the working copy, with the transaction open.
func (w *Writer) Conn() *sql.Conn { return w.conn }

// Publish writes the ledger with the given files, commits, and puts the
// working copy in the place of the book, then the snapshot in front of readers.
// After an error the book is as it was, unless the error says otherwise.
func (w *Writer) Publish(ctx context.Context, files []LedgerFile) error {
	if err := w.commit(ctx, files); err != nil {
		return err
	}
	atStep("committed")
	if err := syncFile(w.files.next()); err != nil {
		return fmt.Errorf("can't make the new book durable: %w", err)
	}
	atStep("synced")
	if err := os.Rename(w.files.next(), w.files.Book); err != nil {
		return fmt.Errorf("can't put the new book in place: %w", err)
	}
	atStep("renamed")
	if err := finish(w.files, w.ledger); err != nil {
		return fmt.Errorf("the load is in the book, but what stands beside it is not yet up to date (the next opening mends that): %w", err)
	}
	return nil
}

// commit writes the ledger row, commits and closes the working copy.
func (w *Writer) commit(ctx context.Context, files []LedgerFile) error {
	sum, err := Checksum(ctx, w.conn)
	if err != nil {
		return err
	}
	line := LedgerLine{Load: w.load, At: w.opt.Now.UTC().Truncate(time.Microsecond), Program: w.opt.Program, Checksum: sum, Files: files}
	if err := insertLedger(ctx, w.conn, line); err != nil {
		return err
	}
	atStep("merged")
	for _, q := range []string{"COMMIT", "CHECKPOINT"} {
		if _, err := w.conn.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("can't write the order book (the book is as it was): %w", err)
		}
	}
	w.ledger = append(w.ledger, line)
	return w.closeDB()
}

func insertLedger(ctx context.Context, conn *sql.Conn, l LedgerLine) error {
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
	if w.conn != nil {
		endTransaction(w.conn)
		errs = append(errs, w.conn.Close())
	}
	if w.db != nil {
		errs = append(errs, w.db.Close())
	}
	w.conn, w.db = nil, nil
	return errors.Join(errs...)
}

// endTransaction rolls back what may be open. Where that fails, as after the disk
// was full, the engine gives an error here, but ends the program when it is closed
// with the transaction open (DuckDB 1.4.1). What is rolled back is thrown away in
// any case.
func endTransaction(conn *sql.Conn) {
	_, _ = conn.ExecContext(context.Background(), "ROLLBACK")
}

// Close drops whatever was not published and gives the lock back.
func (w *Writer) Close() error {
	err := w.closeDB()
	if w.lock != nil {
		err = errors.Join(err, os.RemoveAll(w.files.work()), w.lock.Truncate(0), w.lock.Close())
		w.lock = nil
	}
	return err
}
