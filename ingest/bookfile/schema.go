package bookfile

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"lastroom/ingest/engine"
	"strconv"
	"strings"
	"time"
)

//go:embed sql/schema.sql sql/migrate
var schemaFiles embed.FS

// FirstVersion is the schema version that sql/schema.sql makes. Later versions
// are reached through the files of sql/migrate, one a version, named by it.
const FirstVersion = 1

// migrations are the steps past FirstVersion, in order.
func migrations() ([]string, error) {
	names, err := fs.Glob(schemaFiles, "sql/migrate/*.sql")
	if err != nil {
		return nil, err
	}
	for i, name := range names { // Glob sorts
		base := strings.TrimSuffix(name[len("sql/migrate/"):], ".sql")
		n, err := strconv.Atoi(base)
		if err != nil || n != FirstVersion+1+i {
			return nil, fmt.Errorf("migration %s is out of order", name)
		}
	}
	return names, nil
}

// NewestVersion is the schema version that BringUp reaches.
func NewestVersion() (int, error) {
	names, err := migrations()
	return FirstVersion + len(names), err
}

// BringUp makes the tables of an empty database, or migrates an older book, to
// the newest schema version. It must run in a transaction.
func BringUp(ctx context.Context, conn *sql.Conn) error {
	newest, err := NewestVersion()
	if err != nil {
		return err
	}
	return BringUpTo(ctx, conn, newest)
}

// BringUpTo does the same up to a given version.
func BringUpTo(ctx context.Context, conn *sql.Conn, version int) error {
	names, err := migrations()
	if err != nil {
		return err
	}
	have, err := SchemaVersion(ctx, conn)
	if err != nil {
		return err
	}
	if newest := FirstVersion + len(names); max(have, version) > newest {
		return tooNew(max(have, version), newest)
	}
	if have == 0 {
		if err := runFile(ctx, conn, "sql/schema.sql"); err != nil {
			return err
		}
		have = FirstVersion
	}
	for ; have < version; have++ {
		if err := runFile(ctx, conn, names[have-FirstVersion]); err != nil {
			return fmt.Errorf("migrating the order book to schema version %d: %w", have+1, err)
		}
	}
	_, err = conn.ExecContext(ctx, "UPDATE schema_version SET version = ? WHERE version <> ?", have, have)
	return err
}

func tooNew(have, newest int) error {
	return fmt.Errorf("the order book has schema version %d, newer than this program knows (%d); use the newer program", have, newest)
}

// ErrOlder is wrapped by the error of a book that must be brought up first.
var ErrOlder = errors.New("the order book was made by an older program")

// CheckSchema refuses a book whose tables are not those this program knows.
func CheckSchema(ctx context.Context, conn *sql.Conn) error {
	newest, err := NewestVersion()
	if err != nil {
		return err
	}
	have, err := SchemaVersion(ctx, conn)
	switch {
	case err != nil:
		return err
	case have == 0:
		return fmt.Errorf("%w: the file holds no order book", ErrDamaged)
	case have < newest:
		return fmt.Errorf("%w (schema version %d, now %d); lastroom book info brings it up to date", ErrOlder, have, newest)
	case have > newest:
		return tooNew(have, newest)
	}
	return nil
}

// BringUpBook brings an older book up to the newest schema version.
func BringUpBook(ctx context.Context, book, program string) error {
	w, err := OpenWriter(ctx, book, WriterOptions{Program: program, Now: time.Now()})
	if err != nil {
		return err
	}
	defer w.Close()
	return w.CatchUp(ctx)
}

// SchemaVersion is the version of the book, 0 for an empty database. The engine's
// list of tables takes it 10 ms at first, so it is asked only where that of the
// version is not to be read.
func SchemaVersion(ctx context.Context, conn *sql.Conn) (version int, err error) {
	err = conn.QueryRowContext(ctx, "SELECT version FROM schema_version").Scan(&version)
	if err == nil {
		return version, nil
	}
	var tables, known int
	if err := conn.QueryRowContext(ctx, engine.Section(ledgerSQL, "is it a book")).Scan(&tables, &known); err != nil {
		return 0, err
	}
	if tables == 0 {
		return 0, nil
	}
	if known == 0 {
		return 0, fmt.Errorf("%w: the file is a database, but no order book", ErrDamaged)
	}
	return 0, err
}

func runFile(ctx context.Context, conn *sql.Conn, name string) error {
	text, err := fs.ReadFile(schemaFiles, name)
	if err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, string(text))
	return err
}
