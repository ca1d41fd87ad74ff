package bookfile

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
)

// Finish brings what stands beside a new book up to date: the names on disk,
// the copy of the ledger, the snapshot. Each step is whole or not at all.
func Finish(f Files, ledger []LedgerLine) error {
	return (&Writer{Files: f, Ledger: ledger}).finish()
}

func (w *Writer) finish() error {
	if err := durable.SyncFolder(filepath.Dir(w.Files.Book)); err != nil {
		return err
	}
	if err := writeLedgerCopy(w.Files, w.Ledger); err != nil {
		return err
	}
	w.Step("ledger")
	if err := takeSnapshot(w.Files); err != nil {
		return err
	}
	w.Step("snapshot")
	if err := w.Files.Seal(); err != nil {
		return err
	}
	w.Step("sealed")
	return nil
}

// takeSnapshot puts a copy of the present book in front of readers. It has the
// book's time, by which Settled knows it.
func takeSnapshot(f Files) error {
	info, err := os.Stat(f.Book)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.Work(), 0o700); err != nil {
		return err
	}
	tmp := filepath.Join(f.Work(), "snapshot.duckdb")
	if err := durable.Copy(tmp, f.Book); err != nil {
		return err
	}
	if err := errors.Join(os.Chtimes(tmp, info.ModTime(), info.ModTime()), durable.Sync(tmp)); err != nil {
		return err
	}
	if err := os.Rename(tmp, f.Snapshot()); err != nil {
		return err
	}
	return durable.SyncFolder(f.Dir)
}

// Settled reports whether the snapshot is the present book.
func Settled(f Files) (bool, error) {
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

// CatchUp finishes a publication that was cut short, or publishes a book that
// was brought up to date, for a writer that has nothing else to change.
func (w *Writer) CatchUp(ctx context.Context) error {
	if w.older {
		return w.PublishAnew(ctx, []LedgerFile{{Sheet: "brought-up", File: "the book was brought up to date"}})
	}
	if ok, err := Settled(w.Files); ok || err != nil {
		return err
	}
	return w.finish()
}

// Settle makes sure that the snapshot of a book is its newest state: it
// finishes a publication that was cut short, and takes a first snapshot of a
// book that came without its folder. While a writer is at work the snapshot
// stays as it is. It is cheap when there is nothing to do.
func Settle(ctx context.Context, f Files, program string) error {
	if ok, err := Settled(f); ok || err != nil {
		return err
	}
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return err
	}
	lock, err := Lock(f, program)
	if errors.Is(err, ErrBusy) {
		if _, missing := os.Stat(f.Snapshot()); missing == nil {
			return nil
		}
	}
	if err != nil {
		return err
	}
	w := &Writer{Files: f, lock: lock}
	defer w.Close()
	return w.settle(ctx)
}

// settle compares the ledgers of the book as it stands and publishes it.
func (w *Writer) settle(ctx context.Context) error {
	if err := w.connect(ctx); err != nil {
		return err
	}
	if err := w.probe(ctx); err != nil {
		return err
	}
	if err := engine.Attach(ctx, w.Conn, w.Files.Book, true); err != nil {
		return cantOpen(w.Files.Book, err)
	}
	if _, err := w.Conn.ExecContext(ctx, "USE book"); err != nil {
		return err
	}
	if v, err := SchemaVersion(ctx, w.Conn); err != nil || v == 0 {
		return errors.Join(fmt.Errorf("%w: %s holds no order book", ErrDamaged, w.Files.Book), err)
	}
	if err := w.readLedgers(ctx); err != nil {
		return err
	}
	if err := readAll(ctx, w.Conn, w.Files); err != nil {
		return err
	}
	if err := w.closeDB(); err != nil {
		return err
	}
	return w.finish()
}

// readAll reads every column of every table of a book that is to be copied over
// its snapshot, so that a damaged block is met first: the engine looks at a
// block's checksum when it reads it.
func readAll(ctx context.Context, conn *sql.Conn, f Files) error {
	tables, err := engine.Texts(ctx, conn, "SELECT table_name FROM duckdb_tables() WHERE database_name = current_database() AND NOT temporary ORDER BY ALL")
	for _, t := range tables {
		var sum sql.NullString
		if err == nil {
			err = conn.QueryRowContext(ctx, "SELECT CAST(sum(hash(t)) AS VARCHAR) FROM "+engine.QuoteName(t[0])+" t").Scan(&sum)
		}
	}
	if err == nil || ctx.Err() != nil {
		return ctx.Err()
	}
	const asBefore = "restore a backup"
	advice := asBefore
	if _, missing := os.Stat(f.Snapshot()); missing == nil {
		advice = "copy " + f.Snapshot() + ", which is the book after its last load that was finished, over it, or " + asBefore
	}
	return fmt.Errorf("%w: %s can't be read whole (%s); %s", ErrDamaged, f.Book, engine.FirstLine(err), advice)
}
