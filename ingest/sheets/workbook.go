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

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
)

// maxCells is how many cells of one tab are read.
const maxCells = 40_000_000

// Workbook reads the tabs of a workbook that want answers true for, hidden
// ones left aside unless the only one wanted, and writes each to a CSV text in
// the folder dir, which is then read like any other sheet. The first row that
// holds anything is the header. hidden names the hidden tabs and counts the
// hidden rows that were passed over, for people.
func Workbook(ctx context.Context, t *Table, dir string, want func(tab string) bool) (tables []*Table, notes []string, err error) {
	grids, err := t.Grids()
	if err != nil {
		return nil, nil, err
	}
	rows := int64(0)
	for i, g := range grids {
		if !want(g.Tab) {
			continue
		}
		if g.Hidden && len(grids) > 1 {
			notes = append(notes, fmt.Sprintf("the tab %s of %s is hidden and was not read", g.Tab, t.Name))
			continue
		}
		w := tabWriter{rows: rows, t: &Table{Name: t.Name, Tab: g.Tab, Tabs: len(grids), Format: t.Format, Kept: t.Kept, Sep: ',',
			SHA256: t.SHA256, Bytes: t.Bytes, Unpack: t.Unpack, Read: filepath.Join(dir, fmt.Sprintf("%s.%d.csv", filepath.Base(t.Kept), i))}}
		if err := w.write(ctx, g); err != nil {
			return nil, nil, err
		}
		rows = w.rows
		if w.formulas > 0 {
			notes = append(notes, fmt.Sprintf("%s of %s in the tab %s hold formulas; what they gave when the file was saved was read", form.CountOf(w.formulas, "cell", "cells"), t.Name, g.Tab))
		}
		if w.hidden > 0 {
			notes = append(notes, fmt.Sprintf("%s of the tab %s of %s hidden and not read", form.CountOf(w.hidden, "row", "rows"), g.Tab, t.Name))
		}
		if w.t.Header != nil {
			tables = append(tables, w.t)
		}
	}
	return tables, notes, nil
}

// A tabWriter copies one tab to a CSV text.
type tabWriter struct {
	t        *Table
	days     []bool
	money    []bool
	rows     int64 // of all tabs so far
	cells    int
	formulas int
	hidden   int
}

func (w *tabWriter) write(ctx context.Context, g *grid.Grid) error {
	dst, err := os.Create(w.t.Read)
	if err != nil {
		return err
	}
	buf := bufio.NewWriterSize(dst, 1<<18)
	out := csv.NewWriter(buf)
	var failed error
	err = g.Rows(ctx, func(r grid.Row) bool {
		failed = w.row(out, r)
		return failed == nil
	})
	out.Flush()
	w.t.MadeHere()
	return errors.Join(failed, err, out.Error(), buf.Flush(), dst.Close())
}

// row copies one row; the first is the header.
func (w *tabWriter) row(out *csv.Writer, r grid.Row) error {
	if r.Hidden {
		w.hidden++
		return nil
	}
	if w.cells += len(r.Cells); w.cells > maxCells && w.t.Unpack == 0 {
		return w.t.wrong("tab %s has more than %d cells; lastroom load --unpack allows more, or save it as CSV UTF-8, which has no such limit", w.t.Tab, maxCells)
	}
	w.rows++
	if err := w.t.CheckRows(w.rows); err != nil {
		return err
	}
	if w.t.Header == nil {
		for _, c := range r.Cells {
			w.t.Header = append(w.t.Header, c.Text)
			w.days = append(w.days, isDay(c.Text))
			w.money = append(w.money, Fold(c.Text) == "cost")
		}
		return out.Write(w.t.Header)
	}
	if len(r.Cells) > len(w.t.Header) {
		return &FileError{File: w.t.Name, Line: int64(r.No), Reason: fmt.Sprintf("tab %s has more cells in this row than the header's %d", w.t.Tab, len(w.t.Header))}
	}
	w.t.RowNo = append(w.t.RowNo, r.No)
	record := make([]string, len(w.t.Header))
	for i, c := range r.Cells {
		if c.Formula {
			w.formulas++
		}
		record[i] = c.Text
		if c.Kind != grid.Number {
			continue
		}
		switch {
		case w.days[i]:
			record[i] = BareDay(c.Text)
		case w.money[i]:
			record[i] = PlainMoney(c.Text)
		}
	}
	return out.Write(record)
}

// BareDay is the day that a number without a format of days stands for in a
// column of days, 44816 → 2022-09-12; other numbers, a year or a day of the
// month, stay as they are and are no day.
func BareDay(text string) string {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || x < 32_874 || x > 55_153 { // 1990 to 2050
		return text
	}
	day, _ := grid.DayOf(x, false)
	return day
}

// PlainMoney writes a number of a workbook so that its point can't be taken
// for one of thousands: 1.25 → 1.250.0 would be, 1.2500 is not.
func PlainMoney(text string) string {
	if strings.Contains(text, ".") {
		return text + "0000"[:4-min(4, len(text)-1-strings.IndexByte(text, '.'))]
	}
	return text
}

// isDay reports whether a header is a column of days of some sheet.
func isDay(header string) bool {
	name := Fold(header)
	for _, s := range Catalogue {
		if c, ok := s.Column(name); ok && c.Kind == Day {
			return true
		}
	}
	return false
}
