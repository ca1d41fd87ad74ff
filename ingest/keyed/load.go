package keyed

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/load"
)

// loading is the lock that a load of keyed rows holds, and whoever must not meet
// one.
const loading = "loading"

// Still keeps keyed rows from being loaded until unlock is called; ErrBusy where
// they are just now.
func (s Store) Still() (unlock func(), err error) { return s.lock(loading) }

// Waits reports whether rows wait to be loaded. It is cheap where nothing is kept.
func (s Store) Waits() bool {
	list, _ := readAll(s.dir())
	return slices.ContainsFunc(list, func(r *Record) bool { return len(r.Waiting) > 0 })
}

// Load puts the waiting rows of all records into the book, as one load, and gives
// its report; nil where none wait. opt says who loads, and when. Rows that the book
// does not take stay where they are, and their record says why. A book that another
// program writes is orderbook.ErrBusy.
func (s Store) Load(ctx context.Context, opt load.Options) (*load.Report, error) {
	if _, err := os.Stat(s.dir()); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	unlock, err := s.lock(loading)
	if err != nil {
		return nil, err
	}
	defer unlock()
	list, damaged := readAll(s.dir())
	list = slices.DeleteFunc(list, func(r *Record) bool { return len(r.Waiting) == 0 })
	if len(list) == 0 {
		return nil, damaged
	}
	// In the folder of uploads: it is in no backup, and is cleared where a person is
	// forgotten.
	incoming := filepath.Join(s.Files.Dir, "incoming")
	if err := os.MkdirAll(incoming, 0o700); err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp(incoming, "keyed-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	of, err := writeSheets(dir, list)
	if err != nil {
		return nil, err
	}
	opt.Paths, opt.Need = slices.Sorted(maps.Keys(of)), []string{}
	report, err := load.Sheets(ctx, s.Files.Book, opt)
	if err != nil && !errors.Is(err, load.ErrNothing) {
		return report, err
	}
	refused := map[string]string{} // by order
	for _, k := range report.KeptOut {
		for path, orders := range of {
			if at := int(k.Line) - 2; filepath.Base(path) == k.File && at >= 0 && at < len(orders) {
				refused[orders[at]] = fmt.Sprintf("%s %q: %s", strings.ReplaceAll(k.Column, "_", " "), k.Text, k.Reason)
			}
		}
	}
	for _, r := range list {
		if err := s.loaded(r, refused[r.OrderID]); err != nil {
			return report, err
		}
	}
	return report, damaged
}

// loaded takes the rows that were loaded off those that wait; what was typed
// meanwhile goes on waiting. A refused record keeps all: what of it is in the book
// is found unchanged the next time.
func (s Store) loaded(was *Record, refused string) error {
	unlock, err := s.lock("lock")
	if err != nil {
		return err
	}
	defer unlock()
	now, err := s.Get(was.OrderID)
	if errors.Is(err, ErrNone) {
		return nil // forgotten
	}
	if err != nil {
		return err
	}
	if now.Refused = refused; refused == "" {
		now.Waiting = slices.DeleteFunc(now.Waiting, func(w Row) bool {
			return slices.ContainsFunc(was.Waiting, func(x Row) bool { return x.Sheet == w.Sheet && maps.Equal(x.Cells, w.Cells) })
		})
	}
	return s.write(now)
}

// writeSheets writes the waiting rows as order sheets, one file for all rows of a
// sheet that speak of the same columns: an empty cell would take away what the book
// has. It gives the order behind each row of each file.
func writeSheets(dir string, list []*Record) (of map[string][]string, err error) {
	type file struct {
		header []string
		rows   [][]string
		orders []string
	}
	files := map[string]*file{}
	var names []string
	for _, r := range list {
		for _, w := range r.Waiting {
			header := slices.Sorted(maps.Keys(w.Cells))
			key := w.Sheet + "\x00" + strings.Join(header, "\x00")
			f := files[key]
			if f == nil {
				f = &file{header: header}
				files[key] = f
				names = append(names, key)
			}
			row := make([]string, len(header))
			for i, h := range header {
				row[i] = w.Cells[h]
			}
			f.rows, f.orders = append(f.rows, row), append(f.orders, r.OrderID)
		}
	}
	of = map[string][]string{}
	for i, key := range names {
		f := files[key]
		sheet, _, _ := strings.Cut(key, "\x00")
		path := filepath.Join(dir, fmt.Sprintf("%s-keyed-%d.csv", sheet, i+1))
		of[path] = f.orders
		out, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_EXCL, 0o600)
		if err != nil {
			return nil, err
		}
		w := csv.NewWriter(out)
		w.Comma = ';' // so that a decimal comma is one
		err = errors.Join(w.Write(f.header), w.WriteAll(f.rows), out.Close())
		if err != nil {
			return nil, err
		}
	}
	return of, nil
}
