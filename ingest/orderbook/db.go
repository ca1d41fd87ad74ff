package orderbook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/marcboeker/go-duckdb/v2"
)

// Settings of every connection. Nothing is fetched from outside and the home
// folder is left alone.
var safeSettings = []string{
	"SET autoinstall_known_extensions = false",
	"SET autoload_known_extensions = false",
	"SET allow_community_extensions = false",
	"SET allow_persistent_secrets = false",
	"SET enable_progress_bar = false",
	"SET errors_as_json = false",
}

// openDB opens the database file at path. An empty path is a database in
// memory. The file is attached under the name book to an instance of its own:
// the driver otherwise shares instances by path, and would go on giving the
// old file after another took its name. more are settings of the instance, made
// once: the engine refuses some of them later on.
func openDB(ctx context.Context, path string, readOnly bool, more ...string) (*sql.DB, error) {
	set := slices.Clone(safeSettings)
	if path != "" {
		mode := ""
		if readOnly {
			mode = " (READ_ONLY)"
		}
		set = append(set, "ATTACH IF NOT EXISTS "+quote(path)+" AS book"+mode, "USE book")
	}
	var mu sync.Mutex
	c, err := duckdb.NewConnector("", func(e driver.ExecerContext) error {
		mu.Lock()
		todo := append(more, set...)
		more = nil
		mu.Unlock()
		for _, s := range todo {
			if _, err := e.ExecContext(context.WithoutCancel(ctx), s, nil); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	db := sql.OpenDB(c)
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, openError(path, err)
	}
	return db, nil
}

// limitMemory bounds what the engine keeps in memory, in megabytes, for up to
// manyRows orders or forms, and in proportion for more; beyond it work goes to disk.
func limitMemory(megabytes, rows int64) string {
	const manyRows = 1_250_000
	return fmt.Sprintf("SET memory_limit = '%dMB'", max(megabytes, megabytes*rows/manyRows))
}

// openError says in plain words why a book can't be opened.
func openError(path string, err error) error {
	text := err.Error()
	switch {
	case strings.Contains(text, "Could not set lock"), strings.Contains(text, "Conflicting lock"):
		return fmt.Errorf("%w: another database program has %s open; close it there, then try again (%w)", ErrBusy, path, err)
	case strings.Contains(text, "Cannot open file"), strings.Contains(text, "Permission denied"):
		return fmt.Errorf("can't open the order book %s: %w", path, err)
	default:
		return fmt.Errorf("%w: %s can't be read as an order book; restore a backup, or build it again from the kept sheets beside it (%w)", ErrDamaged, path, err)
	}
}

// quote writes text as an SQL string.
func quote(text string) string { return "'" + strings.ReplaceAll(text, "'", "''") + "'" }

// quoteName writes a name as an SQL identifier.
func quoteName(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
