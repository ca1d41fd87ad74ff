package bookfile

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
)

//go:embed sql/ledger.sql
var ledgerSQL string

// A LedgerLine is one load in the copy of the ledger beside the book.
type LedgerLine struct {
	Load     int64        `json:"load"`
	At       time.Time    `json:"at"`
	Program  string       `json:"program"`
	Checksum string       `json:"checksum"`
	Files    []LedgerFile `json:"files"`
}

// A LedgerFile is one sheet of a load: where it came from and what became of
// its rows. Rows read = taken + unchanged + kept out; Superseded counts rows
// of the book that ended.
type LedgerFile struct {
	Sheet      string `json:"sheet"`
	File       string `json:"file"`
	SHA256     string `json:"sha256"`
	Bytes      int64  `json:"bytes"`
	Read       int64  `json:"read"`
	Taken      int64  `json:"taken"`
	Unchanged  int64  `json:"unchanged"`
	Superseded int64  `json:"superseded"`
	KeptOut    int64  `json:"kept_out"`
	MapSHA256  string `json:"map_sha256,omitempty"`
}

// ReadLedger reads the ledger out of the book, oldest load first.
func ReadLedger(ctx context.Context, conn *sql.Conn) ([]LedgerLine, error) {
	rows, err := conn.QueryContext(ctx, "SELECT load_id, loaded_at, program, checksum FROM loads ORDER BY load_id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var lines []LedgerLine
	at := map[int64]int{}
	for rows.Next() {
		var l LedgerLine
		if err := rows.Scan(&l.Load, &l.At, &l.Program, &l.Checksum); err != nil {
			return nil, err
		}
		l.At = l.At.UTC()
		at[l.Load] = len(lines)
		lines = append(lines, l)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return nil, err
	}
	return lines, addLedgerFiles(ctx, conn, lines, at)
}

func addLedgerFiles(ctx context.Context, conn *sql.Conn, lines []LedgerLine, at map[int64]int) error {
	rows, err := conn.QueryContext(ctx, engine.Section(ledgerSQL, "ledger files"))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var load int64
		var f LedgerFile
		if err := rows.Scan(&load, &f.Sheet, &f.File, &f.SHA256, &f.Bytes, &f.Read, &f.Taken, &f.Unchanged,
			&f.Superseded, &f.KeptOut, &f.MapSHA256); err != nil {
			return err
		}
		if i, ok := at[load]; ok {
			lines[i].Files = append(lines[i].Files, f)
		}
	}
	return rows.Err()
}

// ReadLedgerCopy reads the copy beside the book. A last line that was cut
// short by a crash is left out; it is written again from the book.
func ReadLedgerCopy(f Files) ([]LedgerLine, error) {
	text, err := os.ReadFile(f.Ledger())
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	whole := text[:bytes.LastIndexByte(text, '\n')+1]
	var lines []LedgerLine
	for s := bufio.NewReader(bytes.NewReader(whole)); ; {
		line, err := s.ReadBytes('\n')
		if err != nil {
			return lines, nil // the end
		}
		var l LedgerLine
		err = json.Unmarshal(line, &l)
		again, encErr := json.Marshal(l) // keys are read in any case, but written in one
		if err != nil || encErr != nil || !bytes.Equal(append(again, '\n'), line) {
			return nil, fmt.Errorf("%w: line %d of %s is not what was written; remove it, and the next load writes it again", ErrDamaged, len(lines)+1, f.Ledger())
		}
		lines = append(lines, l)
	}
}

// CompareLedgers checks that the book holds every load that its copy lists, word
// for word. The copy may lag behind by loads whose publication was cut short, and
// in words while a person is being forgotten.
func CompareLedgers(f Files, book, copied []LedgerLine) error {
	_, settled := os.Stat(f.Forgetting())
	for i, c := range copied {
		if i >= len(book) || book[i].Load != c.Load || book[i].Checksum != c.Checksum {
			return fmt.Errorf("%w: %s lists load %d of %s, which %s does not hold any more; the file was damaged or replaced by an older one: restore a backup, or remove %s if the older book is meant",
				ErrDamaged, f.Ledger(), c.Load, c.At.Format(time.DateOnly), f.Book, f.Ledger())
		}
		if settled != nil && !sameLine(book[i], c) {
			return fmt.Errorf("%w: %s tells load %d otherwise than %s; remove it, and the next load writes it again", ErrDamaged, f.Ledger(), c.Load, f.Book)
		}
	}
	return nil
}

// sameLine reports whether two lines say the same; the files of one are in the
// order of the load, of the other in that of the book.
func sameLine(a, b LedgerLine) bool {
	return a.At.Equal(b.At) && a.Program == b.Program && slices.Equal(sortedFiles(a), sortedFiles(b))
}

func sortedFiles(l LedgerLine) []LedgerFile {
	return slices.SortedFunc(slices.Values(l.Files), func(a, b LedgerFile) int {
		return strings.Compare(fmt.Sprintf("%#v", a), fmt.Sprintf("%#v", b))
	})
}

// writeLedgerCopy replaces the copy beside the book.
func writeLedgerCopy(f Files, lines []LedgerLine) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	for _, l := range lines {
		if err := enc.Encode(l); err != nil {
			return err
		}
	}
	return durable.Replace(f.Ledger(), f.Work(), func(w *os.File) error {
		_, err := w.Write(b.Bytes())
		return err
	})
}
