// Package loading puts what the form desk keeps into the order book, as order sheets
// are: all checks of a load hold for it.
package loading

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

	"lastroom/ingest/keyed"
	"lastroom/ingest/load"
)

// Load puts the waiting rows of all records into the book, as one load, and gives
// its report; nil where none wait. opt says who loads, and when. Rows that the book
// does not take stay where they are, and their record says why. A book that another
// program writes is bookfile.ErrBusy.
func Load(ctx context.Context, s keyed.Store, opt load.Options) (*load.Report, error) {
	if _, err := os.Stat(s.Files.Keyed()); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	goOn, err := s.Still()
	if err != nil {
		return nil, err
	}
	defer goOn()
	list, damaged := s.Open()
	list = slices.DeleteFunc(list, func(r *keyed.Record) bool { return len(r.Waiting) == 0 })
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
		if err := s.Loaded(r, refused[r.OrderID]); err != nil {
			return report, err
		}
	}
	return report, damaged
}

// writeSheets writes the waiting rows as order sheets, one file for all rows of a
// sheet that speak of the same columns: an empty cell would take away what the book
// has. It gives the order behind each row of each file.
func writeSheets(dir string, list []*keyed.Record) (of map[string][]string, err error) {
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
