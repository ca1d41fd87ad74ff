package orderbook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// finish brings what stands beside a new book up to date: the names on disk,
// the copy of the ledger, the snapshot. Each step is whole or not at all.
func finish(f Files, ledger []LedgerLine) error {
	if err := syncDir(filepath.Dir(f.Book)); err != nil {
		return err
	}
	if err := writeLedgerCopy(f, ledger); err != nil {
		return err
	}
	atStep("ledger")
	if err := takeSnapshot(f); err != nil {
		return err
	}
	atStep("snapshot")
	return nil
}

// takeSnapshot puts a copy of the present book in front of readers. It has the
// book's time, by which settled knows it.
func takeSnapshot(f Files) error {
	info, err := os.Stat(f.Book)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.work(), 0o700); err != nil {
		return err
	}
	tmp := filepath.Join(f.work(), "snapshot.duckdb")
	if err := copyFile(tmp, f.Book); err != nil {
		return err
	}
	if err := errors.Join(os.Chtimes(tmp, info.ModTime(), info.ModTime()), syncFile(tmp)); err != nil {
		return err
	}
	if err := os.Rename(tmp, f.Snapshot()); err != nil {
		return err
	}
	return syncDir(f.Dir)
}

// settled reports whether the snapshot is the present book.
func settled(f Files) (bool, error) {
	book, err := os.Stat(f.Book)
	if errors.Is(err, fs.ErrNotExist) {
		return false, fmt.Errorf("there is no order book %s yet; make one with: lastroom load --book %s SHEETS", f.Book, f.Book)
	}
	if err != nil {
		return false, err
	}
	if _, err := os.Stat(f.Book + ".wal"); err == nil {
		return false, nil
	}
	snap, err := os.Stat(f.Snapshot())
	if err != nil {
		return false, nil
	}
	return book.Size() == snap.Size() && book.ModTime().Equal(snap.ModTime()), nil
}

// catchUp finishes a publication that was cut short, or publishes a book that
// was brought up to date, for a writer that has nothing else to change.
func (w *Writer) catchUp(ctx context.Context) error {
	if w.older {
		return w.publishAnew(ctx, []LedgerFile{{Sheet: "brought-up", File: "the book was brought up to date"}})
	}
	if ok, err := settled(w.files); ok || err != nil {
		return err
	}
	return finish(w.files, w.ledger)
}

// Settle makes sure that the snapshot of a book is its newest state: it
// finishes a publication that was cut short, and takes a first snapshot of a
// book that came without its folder. While a writer is at work the snapshot
// stays as it is. It is cheap when there is nothing to do.
func Settle(ctx context.Context, f Files, program string) error {
	if ok, err := settled(f); ok || err != nil {
		return err
	}
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return err
	}
	lock, err := takeLock(f, program)
	if errors.Is(err, ErrBusy) {
		if _, missing := os.Stat(f.Snapshot()); missing == nil {
			return nil
		}
	}
	if err != nil {
		return err
	}
	w := &Writer{files: f, lock: lock}
	defer w.Close()
	return w.settle(ctx)
}

// settle compares the ledgers of the book as it stands and publishes it.
func (w *Writer) settle(ctx context.Context) error {
	if err := probe(ctx, w.files); err != nil {
		return err
	}
	var err error
	if w.db, err = openDB(ctx, w.files.Book, true); err != nil {
		return err
	}
	if w.conn, err = w.db.Conn(ctx); err != nil {
		return err
	}
	if v, err := schemaVersion(ctx, w.conn); err != nil || v == 0 {
		return errors.Join(fmt.Errorf("%w: %s holds no order book", ErrDamaged, w.files.Book), err)
	}
	if err := w.readLedgers(ctx); err != nil {
		return err
	}
	if err := w.closeDB(); err != nil {
		return err
	}
	return finish(w.files, w.ledger)
}
