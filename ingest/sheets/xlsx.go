package sheets

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Limits of a workbook. More than these is told to be saved as CSV, which has
// none.
const (
	maxUnzipped = 64 << 20
	maxEntries  = 2000
	maxCells    = 10_000_000
)

// Workbook reads the tabs of a workbook that want answers true for and writes
// each to a CSV text in the folder dir, which is then read like any other
// sheet. A day is kept as a day, a number as its shortest decimal. isDay says
// which headers hold days. Formulas are refused: what they would give is not in
// the record.
func Workbook(ctx context.Context, t *Table, dir string, want func(tab string) bool, isDay func(header string) bool) ([]*Table, error) {
	if err := checkZip(t, want); err != nil {
		return nil, err
	}
	f, err := excelize.OpenFile(t.Kept, excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipped, TmpDir: dir})
	if err != nil {
		return nil, bookError(t, err)
	}
	defer f.Close()
	props, err := f.GetWorkbookProps()
	if err != nil {
		return nil, bookError(t, err)
	}
	from1904 := props.Date1904 != nil && *props.Date1904
	var tables []*Table
	tabs := f.GetSheetList()
	for i, tab := range tabs {
		if !want(tab) {
			continue
		}
		r := tabReader{isDay: isDay, from1904: from1904, t: &Table{Name: t.Name, Tab: tab, Tabs: len(tabs), Format: XLSX, Kept: t.Kept, Sep: ',',
			SHA256: t.SHA256, Bytes: t.Bytes, Read: filepath.Join(dir, fmt.Sprintf("%s.%d.csv", filepath.Base(t.Kept), i))}}
		if err := r.read(ctx, f, tab); err != nil {
			return nil, err
		}
		if r.t.Header != nil {
			tables = append(tables, r.t)
		}
	}
	return tables, nil
}

func bookError(t *Table, err error) error {
	return &FileError{File: t.Name, Reason: "can't be read as a workbook (" + err.Error() + "); save it again as .xlsx without a password, or as CSV UTF-8"}
}

// A tabReader copies one tab to a CSV text.
type tabReader struct {
	t        *Table
	isDay    func(string) bool
	from1904 bool
	days     []bool
	cells    int
}

func (r *tabReader) read(ctx context.Context, f *excelize.File, tab string) (err error) {
	rows, err := f.Rows(tab)
	if err != nil {
		return bookError(r.t, err)
	}
	dst, err := os.Create(r.t.Read)
	if err != nil {
		return err
	}
	buf := bufio.NewWriterSize(dst, 1<<18)
	w := csv.NewWriter(buf)
	for no := int32(1); rows.Next(); no++ {
		if err = errors.Join(r.row(rows, w, no), ctx.Err()); err != nil {
			break
		}
	}
	if rowsErr := errors.Join(rows.Error(), rows.Close()); rowsErr != nil && err == nil {
		err = bookError(r.t, rowsErr)
	}
	w.Flush()
	r.t.text.lines = 1 // the text has line feeds
	return errors.Join(err, w.Error(), buf.Flush(), dst.Close())
}

// row copies one row; the first that holds anything is the header.
func (r *tabReader) row(rows *excelize.Rows, w *csv.Writer, no int32) error {
	cells, err := rows.Columns()
	if err != nil {
		return bookError(r.t, err)
	}
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 {
		return nil
	}
	if r.cells += len(cells); r.cells > maxCells {
		return r.tooMuch("more than %d cells", maxCells)
	}
	if r.t.Header == nil {
		if len(cells) > MaxColumns {
			return r.tooMuch("%d columns", len(cells))
		}
		r.t.Header = cells
		for _, h := range cells {
			r.days = append(r.days, r.isDay(h))
		}
		return w.Write(cells)
	}
	if len(cells) > len(r.t.Header) {
		return &FileError{File: r.t.Name, Line: int64(no), Reason: fmt.Sprintf("tab %s has more cells in this row than the header's %d", r.t.Tab, len(r.t.Header))}
	}
	r.t.RowNo = append(r.t.RowNo, no)
	record := make([]string, len(r.t.Header))
	for i, c := range cells {
		record[i] = r.cell(i, c)
	}
	return w.Write(record)
}

func (r *tabReader) tooMuch(format string, args ...any) error {
	return &FileError{File: r.t.Name, Reason: "tab " + r.t.Tab + " has " + fmt.Sprintf(format, args...) + "; save it as CSV UTF-8"}
}

// cell is the text of a cell: a day number becomes the day, and a number
// written with all its binary digits the decimal it was typed as.
func (r *tabReader) cell(i int, raw string) string {
	raw = strings.ReplaceAll(raw, "\x00", "")
	if raw == "" || raw[0] < '0' || raw[0] > '9' {
		return raw
	}
	x, err := strconv.ParseFloat(raw, 64)
	if err != nil {
		return raw
	}
	if r.days[i] && x >= 1 && x < 2_958_466 && x == float64(int64(x)) {
		if day, err := excelize.ExcelDateToTime(x, r.from1904); err == nil {
			return day.Format("2006-01-02")
		}
	}
	if len(raw) > 15 && strings.ContainsRune(raw, '.') {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return raw
}

// IsDay reports whether a header is a column of days of some sheet.
func IsDay(header string) bool {
	name := Fold(header)
	for _, s := range Catalogue {
		if c, ok := s.Column(name); ok && c.Kind == Day {
			return true
		}
	}
	return false
}
