// Package rejects is about the rows that a load kept out: why (Causes), and the file of
// them (File), to be mended and loaded again.
package rejects

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// A File gathers the rows that were kept out, as a table that can be mended
// and loaded again by itself, whatever layout they came from: the columns of
// the order sheets, then the place the row came from and the reason. The
// first column names the sheet of each row.
type File struct {
	Path string // "": none is written

	sheets []*sheets.Sheet
	rows   []row
	comma  bool // a comma in a number may be a decimal sign
}

type row struct {
	sheet  *sheets.Sheet
	cells  map[string]string // by the sheet's columns
	line   int64
	at     string // file, tab and cell
	reason string
}

// A Part is where rows come from: a sheet as a table has it.
type Part struct {
	Sheet  *sheets.Sheet
	Table  *sheets.Table
	Layout sheets.Layout
}

// Add takes a row up. A good row that must be loaded again with its set has no
// reason.
func (r *File) Add(p Part, rec sheets.Record, reason, cell string) {
	if r.Path == "" {
		return
	}
	if !slices.Contains(r.sheets, p.Sheet) {
		r.sheets = append(r.sheets, p.Sheet)
	}
	r.comma = r.comma || p.Table.DecimalComma()
	cells := rec.Cells
	if rec.No < 0 { // it could not be split: as many cells as a plain split gives
		if cells, _ = sheets.SplitRecord([]byte(rec.Text), p.Table.Sep); cells == nil {
			cells = []string{rec.Text}
		}
	}
	one := row{sheet: p.Sheet, cells: map[string]string{}, line: rec.Line, reason: reason, at: p.Table.Name}
	if p.Table.Tab != "" {
		one.at += ", tab " + p.Table.Tab
	}
	if cell != "" {
		one.at += ", " + cell
	}
	for i, c := range p.Sheet.Columns {
		if at := p.Layout.Cells[i].At; at >= 0 && at < len(cells) {
			one.cells[c.Name] = cells[at]
		}
	}
	for i, c := range p.Sheet.Columns { // the unit that the header names goes with the number
		unit := p.Layout.Cells[i].Unit
		if text := one.cells[c.Name]; c.Kind != sheets.Length || unit == form.NoUnit || strings.TrimSpace(text) == "" {
			continue
		}
		beside := c.Name + "_unit"
		if c.Name == "value" {
			beside = "unit"
		}
		_, there := p.Sheet.Column(beside)
		switch {
		case !there && lengths.WrittenIn(one.cells[c.Name], form.NoUnit) == form.NoUnit:
			one.cells[c.Name] += " " + unit.String()
		case there && one.cells[beside] == "":
			one.cells[beside] = unit.String()
		}
	}
	r.rows = append(r.rows, one)
}

// Write writes the file, if there is anything to write, and gives its name.
// What a spreadsheet program would run as a formula gets an apostrophe, which
// is taken off again when the file is loaded.
func (r *File) Write() (string, error) {
	if len(r.rows) == 0 {
		return "", nil
	}
	f, err := os.OpenFile(r.Path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return "", fmt.Errorf("can't write the rows kept out: %w", err)
	}
	w := csv.NewWriter(f)
	if r.comma {
		w.Comma = ';'
	}
	header := r.columns()
	err = w.Write(slices.Concat([]string{sheets.SheetColumn}, header, []string{sheets.MendLine, sheets.MendAt, sheets.MendReason}))
	for _, row := range r.rows {
		cells := []string{row.sheet.Name}
		for _, name := range header {
			cells = append(cells, sheets.Harmless(row.cells[name]))
		}
		cells = append(cells, strconv.FormatInt(row.line, 10), sheets.Harmless(row.at), sheets.Harmless(row.reason))
		err = errors.Join(err, w.Write(cells))
	}
	w.Flush()
	if err := errors.Join(err, w.Error(), f.Close()); err != nil {
		return "", fmt.Errorf("can't write the rows kept out: %w", err)
	}
	return r.Path, nil
}

// columns are those that any row has, in the order of the sheets, keys always.
func (r *File) columns() (names []string) {
	for _, s := range r.sheets {
		for _, c := range s.Columns {
			there := c.Kind == sheets.ID || s.IsKey(c.Name)
			for _, row := range r.rows {
				_, ok := row.cells[c.Name]
				there = there || row.sheet == s && ok
			}
			if there && !slices.Contains(names, c.Name) {
				names = append(names, c.Name)
			}
		}
	}
	return names
}
