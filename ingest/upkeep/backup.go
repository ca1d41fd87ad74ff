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

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/seals"
)

// backupFormat is the version of the layout of a backup.
const backupFormat = 1

// manifestName is the file of a backup that lists all others.
const manifestName = "manifest.json"

// A Manifest says what a backup or an export holds. Every file of it is listed
// with its hash.
type Manifest struct {
	Format   int            `json:"format"`
	Kind     string         `json:"kind"` // backup or export
	Program  string         `json:"program"`
	Schema   int            `json:"schema_version"`
	Checksum string         `json:"checksum"`
	Loads    int            `json:"loads"`
	Files    []ManifestFile `json:"files"`
}

// A ManifestFile is one file of a backup, by its path within it.
type ManifestFile struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	Rows   int64  `json:"rows,omitempty"` // of a table
}

// Backup writes all of a book into a new folder: each table, history included,
// as a Parquet file under tables/, and what stands beside the book (kept
// sheets, notebooks, runs) under files/; manifest.json, written last, lists
// them with their hashes. The same book gives the same bytes. A folder that
// holds anything already is refused.
func Backup(ctx context.Context, book, dir, program string) (*Manifest, error) {
	f := bookfile.FilesOf(book)
	if err := bookfile.Settle(ctx, f, program); err != nil {
		return nil, err
	}
	lock, err := bookfile.Lock(f, program)
	if err != nil {
		return nil, err
	}
	defer lock.Close()
	if err := checkKept(f); err != nil {
		return nil, err
	}
	if err := f.Seal(); err != nil {
		return nil, err
	}
	if err := newFolder(dir); err != nil {
		return nil, err
	}
	m := &Manifest{Format: backupFormat, Kind: "backup", Program: program}
	err = withBook(ctx, f.Book, func(conn *sql.Conn) error { return m.addTables(ctx, conn, dir) })
	if err != nil {
		return nil, fmt.Errorf("writing the backup: %w", err)
	}
	if err := copyBeside(f, filepath.Join(dir, "files")); err != nil {
		return nil, fmt.Errorf("writing the backup: %w", err)
	}
	if err := m.finish(dir); err != nil {
		return nil, fmt.Errorf("writing the backup: %w", err)
	}
	return m, errors.Join(lock.Truncate(0))
}

// checkKept holds the kept sheets, and what people wrote beside the book, to their
// hashes: damage is not carried on.
func checkKept(f bookfile.Files) error {
	if damaged, _, err := seals.Verify(f.Dir); err != nil || len(damaged) > 0 {
		return errors.Join(err, errors.New(strings.Join(damaged, "\n")))
	}
	kept, err := keptSheetsOf(f)
	for _, name := range kept {
		sum, err := durable.Hash(filepath.Join(f.Sheets(), name))
		if err != nil {
			return err
		}
		if sum != keptName(name) {
			return fmt.Errorf("the kept sheet %s has another content than when it was loaded; put the sheet there again, from your own files or a backup, then back up", filepath.Join(f.Sheets(), name))
		}
	}
	return err
}

// unfinishedName is the file in a folder that is being written, by which the next
// one knows what was cut short.
const unfinishedName = "unfinished.txt"

// newFolder makes a folder, or takes an empty one, or one that was left when a
// backup or an export was cut short: that is cleared.
func newFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	mark := filepath.Join(dir, unfinishedName)
	if _, err := os.Stat(mark); err == nil {
		if err := clearFolder(dir, unfinishedName); err != nil {
			return err
		}
		return nil
	}
	entries, err := os.ReadDir(dir)
	if err == nil && len(entries) > 0 {
		return fmt.Errorf("%s is not empty; name a new folder", dir)
	}
	return errors.Join(err, os.WriteFile(mark, []byte("This folder is being written, or that was cut short. Do it again, or remove the folder.\n"), 0o600))
}

// withBook opens a database file read-only for a while, with one thread, so
// that what is written from it is the same each time, and with memory for a
// laptop: sorting a large book for an export goes to disk beyond it.
func withBook(ctx context.Context, path string, do func(*sql.Conn) error) error {
	spill, err := os.MkdirTemp("", "lastroom-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(spill)
	db, err := bookfile.Open(ctx, path, true, "SET temp_directory = "+engine.Quote(spill), engine.OneThread, "SET memory_limit = '1GB'")
	if err != nil {
		return err
	}
	defer db.Close()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := bookfile.CheckSchema(ctx, conn); err != nil {
		return err
	}
	return do(conn)
}

// addTables writes every table. Parquet has no 128-bit integers, so such
// columns travel as text.
func (m *Manifest) addTables(ctx context.Context, conn *sql.Conn, dir string) error {
	if err := m.describe(ctx, conn); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(dir, "tables"), 0o700); err != nil {
		return err
	}
	names, err := bookTables(ctx, conn)
	if err != nil {
		return err
	}
	for _, name := range names {
		path := filepath.Join("tables", name+".parquet")
		columns, err := tableColumns(ctx, conn, name)
		if err != nil {
			return err
		}
		q := fmt.Sprintf("COPY (SELECT %s FROM book.%s) TO %s (FORMAT parquet, COMPRESSION zstd)",
			strings.Join(columns, ", "), engine.QuoteName(name), engine.Quote(filepath.Join(dir, path)))
		rows, err := copied(ctx, conn, q)
		if err != nil {
			return fmt.Errorf("table %s: %w", name, err)
		}
		m.Files = append(m.Files, ManifestFile{Path: filepath.ToSlash(path), Rows: rows})
	}
	return nil
}

// describe notes the schema, the checksum and the number of loads.
func (m *Manifest) describe(ctx context.Context, conn *sql.Conn) error {
	var err error
	if m.Schema, err = bookfile.SchemaVersion(ctx, conn); err != nil {
		return err
	}
	if m.Checksum, err = bookfile.Checksum(ctx, conn); err != nil {
		return err
	}
	return conn.QueryRowContext(ctx, "SELECT count(*) FROM loads").Scan(&m.Loads)
}

func copied(ctx context.Context, conn *sql.Conn, q string) (rows int64, err error) {
	res, err := conn.ExecContext(ctx, q)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// tableColumns are a table's columns as they are written to Parquet.
func tableColumns(ctx context.Context, conn *sql.Conn, table string) (columns []string, err error) {
	const q = "SELECT column_name, data_type FROM duckdb_columns() WHERE database_name = 'book' AND table_name = ? ORDER BY column_index"
	rows, err := conn.QueryContext(ctx, q, table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var name, kind string
		if err := rows.Scan(&name, &kind); err != nil {
			return nil, err
		}
		name = engine.QuoteName(name)
		if kind == "HUGEINT" || strings.HasPrefix(kind, "ENUM") {
			name = "CAST(" + name + " AS VARCHAR) AS " + name
		}
		columns = append(columns, name)
	}
	return columns, rows.Err()
}

// besideBook are the folders beside a book that a backup leaves out: they are
// made anew, or hold nothing of their own.
var notInBackup = []string{"lock", "work", "cache", "snapshot.duckdb", "ledger.jsonl", "copies.jsonl", seals.Name, "forgetting.json", "restoring", "incoming", "keyed/lock", "keyed/loading", "keyed/new"}

// copyBeside copies what stands beside the book.
func copyBeside(f bookfile.Files, to string) error {
	return filepath.WalkDir(f.Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(f.Dir, path)
		if err != nil {
			return err
		}
		if slices.Contains(notInBackup, filepath.ToSlash(rel)) {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(to, rel), 0o700)
		}
		if !d.Type().IsRegular() {
			return nil
		}
		return durable.Copy(filepath.Join(to, rel), path)
	})
}

// finish lists all files with their hashes and writes the manifest.
func (m *Manifest) finish(dir string) error {
	rows := map[string]int64{}
	for _, f := range m.Files {
		rows[f.Path] = f.Rows
	}
	m.Files = nil
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == unfinishedName {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		sum, err := durable.Hash(path)
		rel = filepath.ToSlash(rel)
		m.Files = append(m.Files, ManifestFile{Path: rel, SHA256: sum, Bytes: info.Size(), Rows: rows[rel]})
		return errors.Join(err, durable.Sync(path))
	})
	if err != nil {
		return err
	}
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, manifestName)
	if err := os.WriteFile(path, append(text, '\n'), 0o600); err != nil {
		return err
	}
	return errors.Join(durable.Sync(path), durable.SyncFolder(dir), durable.Remove(filepath.Join(dir, unfinishedName)), durable.SyncFolder(dir))
}
