package load

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

// rejects gathers the rows that were kept out, as a table that can be mended
// and loaded again by itself, whatever layout they came from: the columns of
// the order sheets, then the place the row came from and the reason. The
// first column names the sheet of each row.
type rejects struct {
	path   string
	sheets []*sheets.Sheet
	rows   []rejectRow
	comma  bool // a comma in a number may be a decimal sign
}

type rejectRow struct {
	sheet  *sheets.Sheet
	cells  map[string]string // by the sheet's columns
	line   int64
	at     string // file, tab and cell
	reason string
}

// add takes a row up. A good row that must be loaded again with its set has no
// reason.
func (r *rejects) add(p *part, rec sheets.Record, reason, cell string) {
	if r.path == "" {
		return
	}
	if !slices.Contains(r.sheets, p.sheet) {
		r.sheets = append(r.sheets, p.sheet)
	}
	r.comma = r.comma || p.table.DecimalComma()
	cells := rec.Cells
	if rec.No < 0 { // it could not be split: as many cells as a plain split gives
		if cells, _ = sheets.SplitRecord([]byte(rec.Text), p.table.Sep); cells == nil {
			cells = []string{rec.Text}
		}
	}
	row := rejectRow{sheet: p.sheet, cells: map[string]string{}, line: rec.Line, reason: reason, at: p.table.Name}
	if p.table.Tab != "" {
		row.at += ", tab " + p.table.Tab
	}
	if cell != "" {
		row.at += ", " + cell
	}
	for i, c := range p.sheet.Columns {
		if at := p.layout.Cells[i].At; at >= 0 && at < len(cells) {
			row.cells[c.Name] = cells[at]
		}
	}
	for i, c := range p.sheet.Columns { // the unit that the header names goes with the number
		unit := p.layout.Cells[i].Unit
		if text := row.cells[c.Name]; c.Kind != sheets.Length || unit == form.NoUnit || strings.TrimSpace(text) == "" {
			continue
		}
		beside := c.Name + "_unit"
		if c.Name == "value" {
			beside = "unit"
		}
		_, there := p.sheet.Column(beside)
		switch {
		case !there && lengths.WrittenIn(row.cells[c.Name], form.NoUnit) == form.NoUnit:
			row.cells[c.Name] += " " + unit.String()
		case there && row.cells[beside] == "":
			row.cells[beside] = unit.String()
		}
	}
	r.rows = append(r.rows, row)
}

// write writes the file, if there is anything to write, and gives its name.
// What a spreadsheet program would run as a formula gets an apostrophe, which
// is taken off again when the file is loaded.
func (r *rejects) write() (string, error) {
	if len(r.rows) == 0 {
		return "", nil
	}
	f, err := os.OpenFile(r.path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
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
	return r.path, nil
}

// columns are those that any row has, in the order of the sheets, keys always.
func (r *rejects) columns() (names []string) {
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
