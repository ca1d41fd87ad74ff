package upkeep

import (
	"bytes"
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

//go:embed sql/forget.sql
var forgetSQL string

// Forgotten is what Forget removed, in counts.
type Forgotten struct {
	Orders    int   `json:"orders"`
	Forms     int   `json:"forms"`
	Rows      int64 `json:"rows"`           // of tables, history included
	Sheets    int   `json:"sheets_changed"` // kept sheets written anew
	SheetRows int64 `json:"sheet_rows"`     // rows left out of them
	// SheetsRemoved are kept sheets in a layout of the shop's own: who a row
	// belongs to can't be told, so they went whole.
	SheetsRemoved int `json:"sheets_removed"`
	Runs          int `json:"runs_removed"` // stored notebook runs that named an order or form
}

// ErrNobody is wrapped by the error of Forget where the book knows no such
// customer.
var ErrNobody = errors.New("the order book knows no such customer")

// Forget removes a customer from a book for good: from the tables and their
// history, from the kept sheets, the snapshot, the cache and the stored runs.
// The database file is written anew, so that nothing is left in its free
// blocks. The ledger says that a person was forgotten, not who.
//
// Backups and exports made before are not touched; whoever keeps them must
// remove them. Loading the same sheets again brings the person back.
func Forget(ctx context.Context, book, customer string, opt orderbook.WriterOptions) (*Forgotten, error) {
	f := orderbook.FilesOf(book)
	if _, err := os.Stat(book); err != nil {
		return nil, fmt.Errorf("there is no order book %s", book)
	}
	if strings.TrimSpace(customer) == "" {
		return nil, errors.New("name the customer_id of the person to forget")
	}
	w, err := orderbook.OpenWriter(ctx, book, opt)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	g := &Forgotten{}
	ids, err := g.fromTables(ctx, w.Conn, customer)
	if err != nil {
		return nil, err
	}
	moved, err := g.fromSheets(ctx, f, ids)
	if err != nil {
		return nil, err
	}
	if g.Rows == 0 && g.SheetRows == 0 && g.SheetsRemoved == 0 {
		return nil, fmt.Errorf("%w: %q", ErrNobody, customer)
	}
	if err := renameSheets(ctx, w, moved); err != nil {
		return nil, err
	}
	if err := w.PublishAnew(ctx, []orderbook.LedgerFile{{Sheet: "forgotten", File: "a person was forgotten", Superseded: g.Rows}}); err != nil {
		return nil, err
	}
	for old := range moved {
		if err := durable.Remove(filepath.Join(f.Sheets(), old)); err != nil {
			return g, err
		}
	}
	g.Runs, err = forgetRuns(f.Runs(), ids)
	return g, errors.Join(err, os.RemoveAll(f.Cache()))
}

// personIDs are the ids that stand for a person: by the folded name of the
// column they stand in.
type personIDs map[string]map[string]bool

func (ids personIDs) has(column, value string) bool { return ids[column][value] }

// fromTables deletes the person's rows in the open transaction.
func (g *Forgotten) fromTables(ctx context.Context, conn *sql.Conn, customer string) (personIDs, error) {
	for _, s := range strings.Split(engine.Section(forgetSQL, "rows"), ";\n") {
		if strings.TrimSpace(s) == "" {
			continue
		}
		var args []any
		if strings.Contains(s, "= $1") || strings.Contains(s, "FROM $1") {
			args = append(args, customer)
		}
		res, err := conn.ExecContext(ctx, s, args...)
		if err != nil {
			return nil, fmt.Errorf("forgetting a person: %w", err)
		}
		if n, err := res.RowsAffected(); err == nil && strings.Contains(s, "DELETE FROM") {
			g.Rows += n
		}
	}
	if _, err := conn.ExecContext(ctx, engine.Section(forgetSQL, "unused")); err != nil {
		return nil, fmt.Errorf("forgetting a person: %w", err)
	}
	orders, err := idsOf(ctx, conn, "gone_order", "order_id")
	if err != nil {
		return nil, err
	}
	forms, err := idsOf(ctx, conn, "gone_form", "form_id")
	g.Orders, g.Forms = len(orders), len(forms)
	who := map[string]bool{customer: true}
	return personIDs{"customer_id": who, "subject_id": who, "order_id": orders, "form_id": forms}, err
}

func idsOf(ctx context.Context, conn *sql.Conn, table, column string) (map[string]bool, error) {
	rows, err := conn.QueryContext(ctx, "SELECT "+column+" FROM "+table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	ids := map[string]bool{}
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids[id] = true
	}
	return ids, rows.Err()
}

// renameSheets puts the new hashes of kept sheets that were written anew into
// the ledger; a sheet that was removed has none.
func renameSheets(ctx context.Context, w *orderbook.Writer, moved map[string]string) error {
	for old, name := range moved {
		was, is := keptName(old), keptName(name)
		if _, err := w.Conn.ExecContext(ctx, "UPDATE load_files SET sha256 = ? WHERE sha256 = ?", is, was); err != nil {
			return err
		}
		for i := range w.Ledger {
			for k := range w.Ledger[i].Files {
				if w.Ledger[i].Files[k].SHA256 == was {
					w.Ledger[i].Files[k].SHA256 = is
				}
			}
		}
	}
	return nil
}

// forgetRuns removes stored runs in which one of the person's ids stands as a
// word of its own.
func forgetRuns(dir string, ids personIDs) (removed int, err error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		names, err := mentions(path, ids)
		if err != nil {
			return removed, err
		}
		if names {
			if err := os.RemoveAll(path); err != nil {
				return removed, err
			}
			removed++
		}
	}
	return removed, nil
}

// mentions reports whether a file, or any file of a folder, has one of the ids
// as a word.
func mentions(path string, ids personIDs) (found bool, err error) {
	err = filepath.WalkDir(path, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, set := range ids {
			for id := range set {
				if hasWord(text, []byte(id)) {
					found = true
					return fs.SkipAll
				}
			}
		}
		return nil
	})
	return found, err
}

// hasWord reports whether word stands in text with no letter or digit beside it.
func hasWord(text, word []byte) bool {
	for at := 0; ; {
		i := bytes.Index(text[at:], word)
		if i < 0 {
			return false
		}
		start, end := at+i, at+i+len(word)
		if (start == 0 || !wordByte(text[start-1])) && (end == len(text) || !wordByte(text[end])) {
			return true
		}
		at = start + 1
	}
}

func wordByte(b byte) bool {
	return b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= 0x80
}
