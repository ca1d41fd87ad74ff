package upkeep

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

// Restore makes a book out of a backup. It first checks every file of the
// backup against its hash, refuses to touch a book or a folder of a book that
// is there, and puts the book in place only when its checksum is that of the
// backup.
func Restore(ctx context.Context, dir, book, program string) (*Manifest, error) {
	m, err := readManifest(dir)
	if err != nil {
		return nil, err
	}
	f := orderbook.FilesOf(book)
	for _, path := range []string{f.Book, f.Dir} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s is there already; a backup is restored to a new place only", path)
		}
	}
	if err := os.MkdirAll(f.Work(), 0o700); err != nil {
		return nil, err
	}
	lock, err := orderbook.Lock(f, program)
	if err != nil {
		return nil, err
	}
	defer lock.Close()
	ledger, err := rebuild(ctx, m, dir, f.Next())
	if err == nil {
		err = restoreBeside(m, dir, f)
	}
	if err == nil {
		err = errors.Join(durable.Sync(f.Next()), os.Rename(f.Next(), f.Book))
	}
	if err == nil {
		err = orderbook.Finish(f, ledger)
	}
	if err != nil {
		return nil, fmt.Errorf("restoring the backup: %w", errors.Join(err, os.RemoveAll(f.Dir)))
	}
	return m, errors.Join(os.RemoveAll(f.Work()), lock.Truncate(0))
}

// readManifest reads a backup's list of files and checks all of them.
func readManifest(dir string) (*Manifest, error) {
	text, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil {
		return nil, fmt.Errorf("%s is no backup: %w", dir, err)
	}
	m := &Manifest{}
	if err := json.Unmarshal(text, m); err != nil || m.Kind != "backup" {
		return nil, fmt.Errorf("%s is no backup: its %s can't be read", dir, manifestName)
	}
	if m.Format != backupFormat {
		return nil, fmt.Errorf("the backup has format %d; this program reads format %d", m.Format, backupFormat)
	}
	for _, f := range m.Files {
		if !filepath.IsLocal(filepath.FromSlash(f.Path)) {
			return nil, fmt.Errorf("the backup names a file outside itself: %q", f.Path)
		}
		sum, err := durable.Hash(filepath.Join(dir, filepath.FromSlash(f.Path)))
		if err != nil {
			return nil, fmt.Errorf("the backup lacks a file: %w", err)
		}
		if sum != f.SHA256 {
			return nil, fmt.Errorf("the backup is damaged: %s is not what was written", f.Path)
		}
	}
	return m, nil
}

// rebuild makes the database file and compares its checksum with the backup's.
func rebuild(ctx context.Context, m *Manifest, dir, path string) (ledger []orderbook.LedgerLine, err error) {
	db, err := orderbook.Open(ctx, path, false, "SET temp_directory = "+engine.Quote(filepath.Dir(path)+"/spill"))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	if newest, err := orderbook.NewestVersion(); err != nil || m.Schema < orderbook.FirstVersion || m.Schema > newest {
		return nil, errors.Join(fmt.Errorf("the backup has schema version %d, this program %d; restore it with the program that made it (%s)", m.Schema, newest, m.Program), err)
	}
	if err := orderbook.BringUpTo(ctx, conn, m.Schema); err != nil {
		return nil, err
	}
	if err := readTables(ctx, conn, m, dir); err != nil {
		return nil, err
	}
	sum, err := orderbook.Checksum(ctx, conn)
	if err != nil {
		return nil, err
	}
	if sum != m.Checksum {
		return nil, fmt.Errorf("the restored content has the checksum %s, the backup %s", sum, m.Checksum)
	}
	if err := orderbook.BringUp(ctx, conn); err != nil {
		return nil, err
	}
	if ledger, err = orderbook.ReadLedger(ctx, conn); err != nil {
		return nil, err
	}
	_, err = conn.ExecContext(ctx, "CHECKPOINT")
	return ledger, err
}

// readTables fills the tables of an empty book from the backup's files.
func readTables(ctx context.Context, conn *sql.Conn, m *Manifest, dir string) error {
	names, err := bookTables(ctx, conn)
	if err != nil {
		return err
	}
	for _, f := range m.Files {
		name, ok := strings.CutPrefix(f.Path, "tables/")
		if !ok {
			continue
		}
		name = strings.TrimSuffix(name, ".parquet")
		if !slices.Contains(names, name) {
			return fmt.Errorf("the backup has a table %q that no book has", name)
		}
		q := fmt.Sprintf("DELETE FROM book.%[1]s; INSERT INTO book.%[1]s BY NAME SELECT * FROM read_parquet(%[2]s)",
			engine.QuoteName(name), engine.Quote(filepath.Join(dir, filepath.FromSlash(f.Path))))
		if _, err := conn.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("table %s: %w", name, err)
		}
	}
	return nil
}

// restoreBeside puts what stood beside the book in its place.
func restoreBeside(m *Manifest, dir string, f orderbook.Files) error {
	for _, file := range m.Files {
		rel, ok := strings.CutPrefix(file.Path, "files/")
		if !ok {
			continue
		}
		to := filepath.Join(f.Dir, filepath.FromSlash(rel))
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return err
		}
		if err := durable.Copy(to, filepath.Join(dir, filepath.FromSlash(file.Path))); err != nil {
			return err
		}
		if err := durable.Sync(to); err != nil {
			return err
		}
	}
	return nil
}
