package upkeep

import (
	"context"
	"database/sql"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/keyed"
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
	// Training are files of practice and measuring sessions that were removed, or
	// written anew without the person.
	Training int `json:"training_files"`
	// Left are the places that still hold the person and that people must see to:
	// what they wrote themselves, and copies made before.
	Left []string `json:"left"`
}

// errNobody is wrapped by the error of Forget where the book knows no such
// customer.
var errNobody = errors.New("the order book knows no such customer")

// A forgetting is what is about to be removed, noted beside the book before
// anything is. It stands there until all of it is gone.
type forgetting struct {
	Since    time.Time `json:"since"`
	Customer string    `json:"customer"`
	Orders   []string  `json:"orders"`
	Forms    []string  `json:"forms"`
}

// Forget removes a customer from a book for good:
//
//  1. what is to go is noted beside the book, with all ids that stand for the
//     person, those of rows that were kept out of the book too;
//  2. the rows go from the tables and their history, and the kept sheets are
//     written anew without them;
//  3. the database file is written anew, so that nothing is left in its free
//     blocks, and takes the book's place; then the snapshot;
//  4. the old sheets, what was typed in at the desk, the runs that name the person,
//     uploads that were cut short and the cache are removed;
//  5. what can't be changed is looked through and named: [Forgotten].Left;
//  6. the note goes.
//
// Cut short at any moment it is finished by [FinishForgetting]. The ledger says
// that a person was forgotten, not who. Loading the same sheets again brings the
// person back.
func Forget(ctx context.Context, book, customer string, opt bookfile.WriterOptions) (*Forgotten, error) {
	if _, err := os.Stat(book); err != nil {
		return nil, fmt.Errorf("there is no order book %s", book)
	}
	if strings.TrimSpace(customer) == "" {
		return nil, errors.New("name the customer_id of the person to forget")
	}
	begun, err := readForgetting(bookfile.FilesOf(book))
	if err != nil {
		return nil, err
	}
	if begun != nil && begun.Customer != customer {
		if _, err := FinishForgetting(ctx, book, opt); err != nil {
			return nil, err
		}
		begun = nil
	}
	return forget(ctx, book, customer, begun, opt)
}

// FinishForgetting does what is left of a Forget that was cut short; nil where
// there is none. It is cheap then.
func FinishForgetting(ctx context.Context, book string, opt bookfile.WriterOptions) (*Forgotten, error) {
	begun, err := readForgetting(bookfile.FilesOf(book))
	if begun == nil || err != nil {
		return nil, err
	}
	return forget(ctx, book, begun.Customer, begun, opt)
}

func readForgetting(f bookfile.Files) (*forgetting, error) {
	text, err := os.ReadFile(f.Forgetting())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var n forgetting
	if err := json.Unmarshal(text, &n); err != nil || n.Customer == "" {
		return nil, fmt.Errorf("%s, the note of a person to forget, is damaged: remove it and forget the person again", f.Forgetting())
	}
	return &n, nil
}

func forget(ctx context.Context, book, customer string, begun *forgetting, opt bookfile.WriterOptions) (*Forgotten, error) {
	// What was typed in at the desk must not come into the book meanwhile.
	goOn, err := keyed.Store{Files: bookfile.FilesOf(book)}.Still()
	if err != nil {
		return nil, err
	}
	defer goOn()
	w, err := bookfile.OpenWriter(ctx, book, opt)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	g := &Forgotten{Left: []string{}}
	person, err := whose(ctx, w, customer, begun)
	if err != nil {
		return nil, err
	}
	if begun == nil {
		begun = &forgetting{Since: opt.Now, Customer: customer}
	}
	begun.Orders, begun.Forms = slices.Sorted(maps.Keys(person["order_id"])), slices.Sorted(maps.Keys(person["form_id"]))
	resumed, err := noteForgetting(w.Files, begun)
	if err != nil {
		return nil, err
	}
	w.Step("noted")
	g.Orders, g.Forms = len(begun.Orders), len(begun.Forms)
	if err := g.fromTables(ctx, w.Conn, customer); err != nil {
		return nil, err
	}
	moved, err := g.fromSheets(ctx, w, person)
	if err != nil {
		return nil, err
	}
	w.Step("sheets")
	nobody := g.Rows == 0 && len(moved) == 0
	typed, err := keyed.Store{Files: w.Files}.Of(customer, person["order_id"])
	if err != nil {
		return nil, err
	}
	if err := g.fromTraining(w.Files, customer); err != nil {
		return nil, err
	}
	w.Step("training")
	if nobody && !resumed && len(typed) == 0 && g.Training == 0 {
		return nil, errors.Join(fmt.Errorf("%w: %q", errNobody, customer), durable.Remove(w.Files.Forgetting()))
	}
	if err := renameSheets(ctx, w, moved, person); err != nil {
		return nil, err
	}
	if nobody { // cut short after the book was in its place
		err = w.CatchUp(ctx)
	} else {
		err = w.PublishAnew(ctx, []bookfile.LedgerFile{{Sheet: "forgotten", File: "a person was forgotten", Superseded: g.Rows}})
	}
	if err != nil {
		return nil, err
	}
	for _, old := range slices.Sorted(maps.Keys(moved)) {
		if err := durable.Remove(filepath.Join(w.Files.Sheets(), old)); err != nil {
			return g, err
		}
		w.Step("old sheet")
	}
	if err := (keyed.Store{Files: w.Files}).Forget(typed); err != nil {
		return g, err
	}
	w.Step("typed")
	if err := os.RemoveAll(w.Files.Cache()); err != nil {
		return g, err
	}
	w.Step("cache")
	if err := g.fromFolders(w, person); err != nil {
		return g, err
	}
	w.Step("folders")
	if err := g.lookAtCopies(ctx, w.Files, person); err != nil {
		return g, err
	}
	if err := durable.SyncFolder(w.Files.Dir); err != nil {
		return g, err
	}
	return g, errors.Join(durable.Remove(w.Files.Forgetting()), durable.SyncFolder(w.Files.Dir))
}

// noteForgetting writes the note, and says whether there was one.
func noteForgetting(f bookfile.Files, n *forgetting) (resumed bool, err error) {
	if _, err := os.Stat(f.Forgetting()); err == nil {
		resumed = true
	}
	text, err := json.Marshal(n)
	if err != nil {
		return resumed, err
	}
	return resumed, durable.Replace(f.Forgetting(), f.Work(), func(w *os.File) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}

// fromTables deletes the rows of gone_order and gone_form (see whose) in the
// open transaction.
func (g *Forgotten) fromTables(ctx context.Context, conn *sql.Conn, customer string) error {
	for _, s := range engine.Statements(engine.Section(forgetSQL, "rows")) {
		var args []any
		if strings.Contains(s, "= $1") {
			args = append(args, customer)
		}
		res, err := conn.ExecContext(ctx, s, args...)
		if err != nil {
			return fmt.Errorf("forgetting a person: %w", err)
		}
		if n, err := res.RowsAffected(); err == nil {
			g.Rows += n
		}
	}
	if _, err := conn.ExecContext(ctx, engine.Section(forgetSQL, "unused")); err != nil {
		return fmt.Errorf("forgetting a person: %w", err)
	}
	return nil
}

// renameSheets puts the new hashes of kept sheets that were written anew into
// the ledger; a sheet that was removed has none. A file that was named after the
// person loses its name.
func renameSheets(ctx context.Context, w *bookfile.Writer, moved map[string]string, ids personIDs) error {
	for i := range w.Ledger {
		for k := range w.Ledger[i].Files {
			was := w.Ledger[i].Files[k]
			is := was
			for old, name := range moved {
				if was.SHA256 == keptName(old) {
					is.SHA256 = keptName(name)
				}
			}
			if was.SHA256 != "" && ids.inFile("", []byte(was.File)) {
				is.File = "a sheet"
			}
			if is == was {
				continue
			}
			w.Ledger[i].Files[k] = is
			if _, err := w.Conn.ExecContext(ctx, "UPDATE load_files SET sha256 = ?, file = ? WHERE load_id = ? AND sha256 = ? AND file = ?",
				is.SHA256, is.File, w.Ledger[i].Load, was.SHA256, was.File); err != nil {
				return err
			}
		}
	}
	return nil
}
