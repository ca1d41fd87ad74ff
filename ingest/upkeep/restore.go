package upkeep

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
)

// Restore makes a book out of a backup. Every file of the backup is held to its
// hash before anything is written, and again as it is copied. Names in the
// backup are opened inside its folder and nowhere else. A book or a folder of a
// book that is there is not touched, unless a restore that was cut short left
// it: then it is finished, or cleared and done anew. The book is put in place
// only when its checksum is that of the backup.
func Restore(ctx context.Context, dir, book, program string) (*Manifest, error) {
	from, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("%s is no backup: %w", dir, err)
	}
	defer from.Close()
	m, mark, err := readManifest(from, dir)
	if err != nil {
		return nil, err
	}
	f := bookfile.FilesOf(book)
	_, noBook := os.Lstat(f.Book)
	_, noDir := os.Lstat(f.Dir)
	left, noMark := os.ReadFile(f.Restoring())
	switch {
	case noBook == nil && (noMark != nil || string(left) != mark):
		return nil, alreadyThere(f.Book)
	case noMark != nil && !errors.Is(noDir, fs.ErrNotExist) && !barelyBegun(f):
		return nil, alreadyThere(f.Dir)
	}
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return nil, err
	}
	lock, err := bookfile.Lock(f, program)
	if err != nil {
		return nil, err
	}
	defer lock.Close()
	if noBook == nil { // cut short after the book was in its place
		err = finishRestore(ctx, f)
	} else {
		err = restore(ctx, from, m, f, mark)
	}
	if err != nil {
		return nil, fmt.Errorf("restoring the backup: %w", err)
	}
	return m, errors.Join(os.RemoveAll(f.Work()), durable.Remove(f.Restoring()), durable.SyncFolder(f.Dir), lock.Truncate(0))
}

// barelyBegun reports whether a book's folder holds nothing but what a restore makes
// first: its lock, and its mark half written.
func barelyBegun(f bookfile.Files) bool {
	entries, err := os.ReadDir(f.Dir)
	return err == nil && !slices.ContainsFunc(entries, func(e fs.DirEntry) bool {
		return e.Name() != filepath.Base(f.Lock()) && !strings.HasPrefix(e.Name(), filepath.Base(f.Restoring())+".")
	})
}

func alreadyThere(place string) error {
	return fmt.Errorf("%s is there already; a backup is restored to a new place only", place)
}

// restore fills the folder of a book and puts the book in its place. After an
// error nothing of it is left.
func restore(ctx context.Context, from *os.Root, m *Manifest, f bookfile.Files, mark string) (err error) {
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(f.Dir))
		}
	}()
	if err := clearFolder(f.Dir, filepath.Base(f.Restoring()), filepath.Base(f.Lock())); err != nil {
		return err
	}
	err = durable.Replace(f.Restoring(), f.Dir, func(w *os.File) error { _, err := w.WriteString(mark); return err })
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.Work(), 0o700); err != nil {
		return err
	}
	to, err := os.OpenRoot(f.Dir)
	if err != nil {
		return err
	}
	defer to.Close()
	for _, file := range m.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		name, beside := strings.CutPrefix(file.Path, "files/")
		if !beside {
			name = "work/" + file.Path
		}
		if err := copyChecked(to, name, from, file); err != nil {
			return err
		}
	}
	ledger, err := rebuild(ctx, m, f.Work(), f.Next())
	if err != nil {
		return err
	}
	if err := errors.Join(os.Chmod(f.Next(), 0o600), durable.Sync(f.Next()), os.Rename(f.Next(), f.Book)); err != nil {
		return err
	}
	return bookfile.Finish(f, ledger)
}

// finishRestore brings up to date what stands beside a restored book.
func finishRestore(ctx context.Context, f bookfile.Files) error {
	var ledger []bookfile.LedgerLine
	err := withBook(ctx, f.Book, func(conn *sql.Conn) (err error) {
		ledger, err = bookfile.ReadLedger(ctx, conn)
		return err
	})
	if err != nil {
		return err
	}
	return bookfile.Finish(f, ledger)
}

// clearFolder removes what is in a folder, but for some names.
func clearFolder(dir string, but ...string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !slices.Contains(but, e.Name()) {
			if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// copyChecked copies a file of a backup and compares its hash on the way.
func copyChecked(to *os.Root, name string, from *os.Root, file ManifestFile) error {
	if err := to.MkdirAll(path.Dir(name), 0o700); err != nil {
		return err
	}
	src, err := from.Open(file.Path)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := to.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	sum := sha256.New()
	_, err = io.Copy(io.MultiWriter(dst, sum), src)
	if err := errors.Join(err, dst.Sync(), dst.Close()); err != nil {
		return err
	}
	if hex.EncodeToString(sum.Sum(nil)) != file.SHA256 {
		return damagedBackup(file.Path)
	}
	return nil
}

func damagedBackup(name string) error {
	return fmt.Errorf("the backup is damaged: %s is not what was written; restore another backup", name)
}

// readManifest reads a backup's list of files and checks all of them. mark is
// the hash of the list.
func readManifest(from *os.Root, dir string) (m *Manifest, mark string, err error) {
	text, err := from.ReadFile(manifestName)
	if err != nil {
		return nil, "", fmt.Errorf("%s is no backup: %w", dir, err)
	}
	m = &Manifest{}
	if err := json.Unmarshal(text, m); err != nil || m.Kind != "backup" {
		return nil, "", fmt.Errorf("%s is no backup: its %s can't be read", dir, manifestName)
	}
	if m.Format != backupFormat {
		return nil, "", fmt.Errorf("the backup has format %d; this program reads format %d", m.Format, backupFormat)
	}
	seen := map[string]bool{}
	for _, f := range m.Files {
		if err := goodName(f.Path); err != nil {
			return nil, "", err
		}
		if seen[f.Path] {
			return nil, "", fmt.Errorf("the backup names a file twice: %q", f.Path)
		}
		seen[f.Path] = true
		src, err := from.Open(f.Path)
		if err != nil {
			return nil, "", fmt.Errorf("the backup lacks a file: %w", err)
		}
		sum := sha256.New()
		_, err = io.Copy(sum, src)
		if err := errors.Join(err, src.Close()); err != nil {
			return nil, "", fmt.Errorf("the backup's file %s can't be read: %w", f.Path, err)
		}
		if hex.EncodeToString(sum.Sum(nil)) != f.SHA256 {
			return nil, "", damagedBackup(f.Path)
		}
	}
	sum := sha256.Sum256(text)
	return m, hex.EncodeToString(sum[:]), nil
}

// goodName refuses a name that Backup does not write: the system's rooted access
// to files keeps names inside, and this what they may replace there.
func goodName(name string) error {
	inner, beside := strings.CutPrefix(name, "files/")
	table, isTable := strings.CutPrefix(name, "tables/")
	first, _, _ := strings.Cut(inner, "/")
	switch {
	case !fs.ValidPath(name) || strings.ContainsRune(name, '\\') || !filepath.IsLocal(filepath.FromSlash(name)):
		return fmt.Errorf("the backup names a file outside itself: %q", name)
	case beside && !slices.Contains(notInBackup, first):
	case isTable && !strings.Contains(table, "/"):
	default:
		return fmt.Errorf("the backup names a file that no backup has: %q", name)
	}
	return nil
}

// rebuild makes the database file and compares its checksum with the backup's.
func rebuild(ctx context.Context, m *Manifest, dir, file string) (ledger []bookfile.LedgerLine, err error) {
	db, err := bookfile.Open(ctx, file, false, "SET temp_directory = "+engine.Quote(filepath.Dir(file)+"/spill"))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	if newest, err := bookfile.NewestVersion(); err != nil || m.Schema < bookfile.FirstVersion || m.Schema > newest {
		return nil, errors.Join(fmt.Errorf("the backup has schema version %d, this program %d; restore it with the program that made it (%s)", m.Schema, newest, m.Program), err)
	}
	if err := bookfile.BringUpTo(ctx, conn, m.Schema); err != nil {
		return nil, err
	}
	if err := readTables(ctx, conn, m, dir); err != nil {
		return nil, err
	}
	sum, err := bookfile.Checksum(ctx, conn)
	if err != nil {
		return nil, err
	}
	if sum != m.Checksum {
		return nil, fmt.Errorf("the restored content has the checksum %s, the backup %s", sum, m.Checksum)
	}
	if err := bookfile.BringUp(ctx, conn); err != nil {
		return nil, err
	}
	if ledger, err = bookfile.ReadLedger(ctx, conn); err != nil {
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
