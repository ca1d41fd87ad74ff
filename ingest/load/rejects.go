package load

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"

	"lastroom/ingest/sheets"
)

// rejects gathers the rows that were kept out, as a table that can be mended
// and loaded again: the header of the sheet, then the line and the reason. Rows
// of several sheets share one table with a column that names the sheet.
type rejects struct {
	path   string
	header []string
	at     map[string]int
	sheets []string
	rows   []rejectRow
	wide   map[string]int // where the row of a line of a wide table stands
}

type rejectRow struct {
	sheet  string
	cells  map[int]string
	line   int64
	reason string
}

func newRejects(path string) *rejects {
	return &rejects{path: path, at: map[string]int{}, wide: map[string]int{}}
}

// add takes a row up. A good row that must be loaded again with its set has no
// reason.
func (r *rejects) add(p *part, rec sheets.Record, reason string) {
	if r.path == "" {
		return
	}
	sheet := p.sheet.Name
	if p.mapped != nil { // the wide row stands once, whatever sheets it fills
		sheet = p.table.Name
		key := fmt.Sprint(rec.Line, " ", sheet)
		if i, ok := r.wide[key]; ok {
			r.rows[i].reason += "; " + reason
			return
		}
		r.wide[key] = len(r.rows)
	}
	if !slices.Contains(r.sheets, sheet) {
		r.sheets = append(r.sheets, sheet)
	}
	row := rejectRow{sheet: sheet, cells: map[int]string{}, line: rec.Line, reason: reason}
	cells := rec.Cells
	if rec.No < 0 { // it could not be split: as many cells as a plain split gives
		cells, _ = sheets.SplitRecord([]byte(rec.Text), p.table.Sep)
	}
	for i, h := range p.table.Header {
		at := r.column(h)
		if at >= 0 && i < len(cells) {
			row.cells[at] = cells[i]
		}
	}
	if len(cells) == 0 {
		row.cells[r.column(p.table.Header[0])] = rec.Text
	}
	r.rows = append(r.rows, row)
}

// column is the place of a header in the table; -1 for those that a file of
// rejects adds itself.
func (r *rejects) column(header string) int {
	if sheets.IsMending(header) {
		return -1
	}
	at, ok := r.at[sheets.Fold(header)]
	if !ok {
		at = len(r.header)
		r.at[sheets.Fold(header)] = at
		r.header = append(r.header, header)
	}
	return at
}

// write writes the file, if there is anything to write, and gives its name.
func (r *rejects) write() (string, error) {
	if len(r.rows) == 0 {
		return "", nil
	}
	f, err := os.OpenFile(r.path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return "", fmt.Errorf("can't write the rows kept out: %w", err)
	}
	w := csv.NewWriter(f)
	header := append(slices.Clone(r.header), sheets.MendLine, sheets.MendReason)
	if len(r.sheets) > 1 {
		header = append([]string{sheets.SheetColumn}, header...)
	}
	err = w.Write(header)
	for _, row := range r.rows {
		cells := make([]string, len(r.header), len(header))
		for at, c := range row.cells {
			cells[at] = c
		}
		cells = append(cells, strconv.FormatInt(row.line, 10), row.reason)
		if len(r.sheets) > 1 {
			cells = append([]string{row.sheet}, cells...)
		}
		err = errors.Join(err, w.Write(cells))
	}
	w.Flush()
	if err := errors.Join(err, w.Error(), f.Close()); err != nil {
		return "", fmt.Errorf("can't write the rows kept out: %w", err)
	}
	return r.path, nil
}
