package upkeep

import (
	"context"
	"database/sql"
	_ "embed"
	"fmt"
	"os"
	"path/filepath"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
)

//go:embed sql/export.sql
var exportSQL string

//go:embed export.txt
var exportNotes string

// Export writes what a book holds now into a new folder as Parquet files that
// any engine reads: one folder a table, parted by year (year=2026/…; the year a
// row's day falls in, 0 where it has none). README.txt in it says what the
// columns mean, manifest.json lists the files with their hashes. The same book
// gives the same bytes.
func Export(ctx context.Context, book, dir, program string) (*Manifest, error) {
	f := bookfile.FilesOf(book)
	if err := bookfile.Settle(ctx, f, program); err != nil {
		return nil, err
	}
	if err := newFolder(dir); err != nil {
		return nil, err
	}
	m := &Manifest{Format: backupFormat, Kind: "export", Program: program}
	err := withBook(ctx, f.Snapshot(), func(conn *sql.Conn) error {
		if err := m.describe(ctx, conn); err != nil {
			return err
		}
		for name, query := range engine.NamedQueries(exportSQL, "-- table ") {
			q := fmt.Sprintf("COPY (%s) TO %s (FORMAT parquet, COMPRESSION zstd, PARTITION_BY (year))", query, engine.Quote(filepath.Join(dir, name)))
			if _, err := conn.ExecContext(ctx, q); err != nil {
				return fmt.Errorf("table %s: %w", name, err)
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("writing the export: %w", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "README.txt"), []byte(exportNotes), 0o600); err != nil {
		return nil, err
	}
	return m, m.finish(dir)
}
