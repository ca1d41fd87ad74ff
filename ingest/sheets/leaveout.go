package sheets

import (
	"context"
	"errors"
	"io"
	"os"
	"strings"

	"lastroom/ingest/grid"
)

// LeaveOut writes the sheet at path without the rows for which drop answers
// true in some cell to the file to, byte for byte what it was elsewhere. drop
// is asked with the folded header and the trimmed cell; of a workbook's tab
// without such columns with "" for the header. known is false where no column
// names an order, a form, a customer or a subject, or where drop is true in such
// a tab: then nothing is written, for it can't be told whose a row is. scratch is a file
// that may be written over. Rows that can't be split into cells are dropped
// where any part of them is.
//
// It reads text, which is written as UTF-8, and XLSX workbooks; Parquet is the database's business.
func LeaveOut(ctx context.Context, path, to, scratch string, drop func(column, cell string) bool) (dropped int64, known bool, err error) {
	if formatOf(path) == XLSX {
		return leaveOutWorkbook(path, to, drop)
	}
	t, err := Intake(ctx, path, scratch)
	if err != nil {
		return 0, false, err
	}
	defer os.Remove(scratch)
	defer os.Remove(t.Read)
	if t.Format != CSV || t.ReadHeader() != nil { // laid out its own way
		return 0, false, nil
	}
	columns := WhoseColumns(t.Header)
	if len(columns) == 0 {
		s, ok := Guess(t.Header) // costs and measurers name no one
		return 0, ok && (s.Name == "costs" || s.Name == "measurers"), nil
	}
	cuts, err := t.cuts(columns, drop)
	if err != nil || len(cuts) == 0 {
		return 0, true, err
	}
	return int64(len(cuts)), true, copyWithout(to, t.Read, cuts)
}

// WhoseColumns are the places of the columns that say whose a row is, with
// their folded names.
func WhoseColumns(header []string) map[int]string {
	columns := map[int]string{}
	for i, h := range header {
		switch name := Fold(h); name {
		case "order_id", "form_id", "customer_id", "subject_id", "earlier_order_id", "remake_of_order_id":
			columns[i] = name
		}
	}
	return columns
}

// A cut is a stretch of bytes to leave out.
type cut struct{ from, to int64 }

func (t *Table) cuts(columns map[int]string, drop func(column, cell string) bool) (cuts []cut, err error) {
	info, err := os.Stat(t.Read)
	if err != nil {
		return nil, err
	}
	open, size := false, info.Size()
	err = t.Records(nil, nil, func(r Record) bool {
		if open {
			cuts[len(cuts)-1].to = r.At
		}
		open = dropRecord(t, r, columns, drop)
		if open {
			cuts = append(cuts, cut{r.At, size})
		}
		return true
	})
	return cuts, err
}

func dropRecord(t *Table, r Record, columns map[int]string, drop func(column, cell string) bool) bool {
	if r.No < 0 {
		for _, part := range strings.Split(r.Text, string(t.Sep)) {
			for _, name := range columns {
				if drop(name, strings.Trim(part, "\" \t")) {
					return true
				}
			}
		}
		return false
	}
	return dropRow(r.Cells, columns, drop)
}

func dropRow(cells []string, columns map[int]string, drop func(column, cell string) bool) bool {
	for i, name := range columns {
		if i < len(cells) && drop(name, strings.TrimSpace(cells[i])) {
			return true
		}
	}
	return false
}

func copyWithout(to, from string, cuts []cut) (err error) {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, dst.Close()) }()
	at := int64(0)
	for _, c := range cuts {
		if _, err := io.Copy(dst, io.NewSectionReader(src, at, c.from-at)); err != nil {
			return err
		}
		at = c.to
	}
	if _, err := src.Seek(at, io.SeekStart); err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return err
}

// Mentions reports whether any cell of a file that is kept is one of the texts
// that has answers true for, whatever its layout.
func Mentions(ctx context.Context, path, scratch string, has func(text string) bool) (found bool, err error) {
	t, err := Intake(ctx, path, scratch)
	if err != nil {
		return false, err
	}
	defer os.Remove(scratch)
	defer os.Remove(t.Read)
	grids, err := t.Grids()
	if err != nil {
		return false, err
	}
	for _, g := range grids {
		err := g.Rows(ctx, func(r grid.Row) bool {
			for _, c := range r.Cells {
				found = found || has(strings.TrimSpace(c.Text))
			}
			return !found
		})
		if err != nil || found {
			return found, err
		}
	}
	return false, nil
}
