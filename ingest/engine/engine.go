// Package engine is the only one that imports the database's driver, so that a
// successor of it is a matter of this package. It knows nothing of order books.
//
//  1. [Open] opens a database file, or one in memory, with settings under which
//     nothing is fetched from outside; [Attach] gives one in memory a file.
//     [LimitMemory] and [OneThread] are further settings.
//  2. Statements that stand in .sql files are cut by [Section] and run by
//     [Script]; [Number] and [Texts] run a query with a plain answer.
//  3. [Append] brings rows in and [EachRow] takes them out in bulk, past the
//     conversions of database/sql; [RowsFunction] shows rows without bringing them in.
//  4. [Prepare] says what a statement is, before it runs.
package engine

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"syscall"

	"github.com/marcboeker/go-duckdb/v2"
)

// instance are the settings of every instance: nothing is fetched from outside and the
// home folder is left alone. Given when it is made they take no time, where a statement
// each takes half a millisecond.
const instance = "?autoinstall_known_extensions=false&autoload_known_extensions=false" +
	"&allow_community_extensions=false&allow_persistent_secrets=false"

// IsDatabase reports whether a file begins as a database does (the four letters of
// the format after its checksum); one that can't be read may be.
func IsDatabase(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return true
	}
	defer f.Close()
	head := make([]byte, 12)
	if _, err := io.ReadFull(f, head); err != nil {
		return false
	}
	return string(head[8:]) == "DUCK"
}

// Open opens the database file at path. An empty path is a database in
// memory. The file is attached under the name book to an instance of its own:
// the driver otherwise shares instances by path, and would go on giving the
// old file after another took its name. more are settings of the instance, made
// once: the engine refuses some of them later on.
func Open(ctx context.Context, path string, readOnly bool, more ...string) (*sql.DB, error) {
	once, each := slices.Clone(more), ""
	if path != "" {
		once, each = append(once, attach(path, readOnly)), "USE book"
	}
	var mu sync.Mutex
	c, err := duckdb.NewConnector(instance, func(e driver.ExecerContext) error {
		mu.Lock() // another connection finds the file attached
		defer mu.Unlock()
		run := once
		if each != "" {
			run = append(run, each)
		}
		for _, s := range run {
			if _, err := e.ExecContext(context.WithoutCancel(ctx), s, nil); err != nil {
				return err
			}
		}
		once = nil
		return nil
	})
	if err != nil {
		return nil, err
	}
	db := sql.OpenDB(c)
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// Attach attaches a database file under the name book to a database in memory. To
// make a database takes longer than to attach a file to one that is there.
func Attach(ctx context.Context, conn *sql.Conn, path string, readOnly bool) error {
	_, err := conn.ExecContext(context.WithoutCancel(ctx), attach(path, readOnly))
	return err
}

func attach(path string, readOnly bool) string {
	mode := ""
	if readOnly {
		mode = " (READ_ONLY)"
	}
	return "ATTACH IF NOT EXISTS " + Quote(path) + " AS book" + mode
}

// OneThread keeps the engine to the threads that ask. Several threads on one
// question race, and have crashed, where an aggregate goes to disk (DuckDB 1.4.1);
// what takes long is asked in parts, several at a time.
const OneThread = "SET threads = 1"

// AllThreads ends OneThread.
const AllThreads = "RESET threads"

// LimitMemory bounds what the engine keeps in memory, in megabytes, for up to
// manyRows orders or forms, and in proportion for more; beyond it work goes to disk.
func LimitMemory(megabytes, rows int64) string {
	const manyRows = 1_250_000
	return fmt.Sprintf("SET memory_limit = '%dMB'", max(megabytes, megabytes*rows/manyRows))
}

// EndTransaction rolls back what may be open. Where that fails, as after the disk
// was full, the engine gives an error here, but ends the program when it is closed
// with the transaction open (DuckDB 1.4.1). What is rolled back is thrown away in
// any case.
func EndTransaction(conn *sql.Conn) {
	_, _ = conn.ExecContext(context.Background(), "ROLLBACK")
}

// DiskFull reports whether an error, the engine's too, comes of a disk without
// room.
func DiskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || err != nil && strings.Contains(err.Error(), "No space left on device")
}

// Corrupt reports whether an error is the engine's of a block that is not what
// was written.
func Corrupt(err error) bool {
	return err != nil && (strings.Contains(err.Error(), "Corrupt database file") || strings.Contains(err.Error(), "does not match stored checksum"))
}

// FirstLine is the first line of an engine's error; below it the engine draws
// where, or speaks of its own insides.
func FirstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}
