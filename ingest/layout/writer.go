package layout

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// A writer writes the rows of one order sheet.
type writer struct {
	r       *rows
	s       *sheet
	part    int
	names   []string // the sheet's columns that are written
	columns map[string]at[source]
	place   at[source]
	reason  at[source]
	spots   []spot

	file  *os.File
	buf   *bufio.Writer
	csv   *csv.Writer
	table *sheets.Table
	froms []int16 // of measurements: the column of each record's number
	last  []string
	no    int32
}

// open makes the text of a part and its header.
func (w *writer) open() (err error) {
	r := w.r
	from := r.file.Table
	for _, c := range w.s.Sheet.Columns {
		_, ok := w.columns[c.Name]
		switch {
		case w.s.Name == "measurements":
			ok = true
		case w.s.Name == "outcomes" && w.reason.col >= 0 && wording.FitColumn[c.Name] == "":
			ok = ok || c.Name == "zone" || c.Name == "direction" || c.Name == "side" || c.Name == "cause"
		}
		if ok {
			w.names = append(w.names, c.Name)
		}
	}
	sep := byte(',')
	if r.t.Decimal != wording.Point || !r.t.decimalSaid && r.grid.Sep != ',' {
		sep = ';' // a comma in a length is a decimal sign
	}
	r.c.texts++
	path := filepath.Join(r.c.dir, fmt.Sprintf("mapped-%d.csv", r.c.texts))
	w.table = &sheets.Table{Name: from.Name, Tab: r.grid.Tab, Format: sheets.CSV, Read: path, Kept: from.Kept, Header: w.names, Sep: sep,
		SHA256: from.SHA256, Bytes: from.Bytes}
	w.table.MadeHere()
	if w.file, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600); err != nil {
		return err
	}
	w.buf = bufio.NewWriterSize(w.file, 1<<18)
	w.csv = csv.NewWriter(w.buf)
	w.csv.Comma = rune(sep)
	w.part = len(r.c.out.Parts)
	r.c.out.Parts = append(r.c.out.Parts, Part{Sheet: w.s.Sheet, Table: w.table, Path: r.file.Path})
	return w.csv.Write(w.names)
}

// row writes what a row of the table says for the sheet.
func (w *writer) row(no int32, texts []string, key string) error {
	if w.s.Name == "measurements" {
		return w.numbers(no, texts, key)
	}
	record := make([]string, len(w.names))
	some := false // anything but keys and what is always so
	for i, name := range w.names {
		c, _ := w.s.Column(name)
		from, ok := w.columns[name]
		if !ok {
			continue
		}
		record[i] = w.r.value(c, from.what, from.col, texts, key)
		if from.col >= 0 {
			w.r.see(w.s.Sheet, name, "", from.col, texts[from.col], record[i], form.NoUnit)
		}
		if from.col >= 0 && c.Kind != sheets.ID && !w.s.IsKey(name) && texts[from.col] != "" {
			some = some || record[i] != ""
		}
	}
	get := func(name string) string {
		if i := slices.Index(w.names, name); i >= 0 {
			return record[i]
		}
		return ""
	}
	switch w.s.Name {
	case "outcomes":
		if w.reason.col >= 0 {
			some = w.fit(record, texts) || some
		}
		if !w.isOutcome(get, some) {
			return nil
		}
	case "callbacks":
		if get("called_on") == "" {
			return nil
		}
	case "orders", "forms":
		id := record[slices.Index(w.names, w.s.Key[0])]
		if id == "" && !some {
			return nil
		}
		// Several rows of one order: what one leaves empty another may say.
		if w.last != nil && id != "" && w.last[slices.Index(w.names, w.s.Key[0])] == id && merge(w.last, record) {
			return nil
		}
		if err := w.flush(); err != nil {
			return err
		}
		w.last, w.no = record, no
		return nil
	default:
		if get(w.s.Key[0]) == "" && !some {
			return nil
		}
	}
	return w.put(no, record)
}

// put writes a record of a row; one of a broken row is kept aside.
func (w *writer) put(no int32, record []string) error {
	if w.r.broken != "" {
		b := Broken{Line: int64(no), Cells: slices.Clone(record), Reason: w.r.broken}
		for i, name := range w.names {
			if c, _ := w.s.Column(name); w.r.shifted && (c.Kind == sheets.ID || w.s.IsKey(name)) {
				b.Cells[i] = "" // so that it can't be loaded unseen
			}
		}
		part := &w.r.c.out.Parts[w.part]
		part.Broken = append(part.Broken, b)
		return nil
	}
	w.table.RowNo = append(w.table.RowNo, no)
	return w.csv.Write(record)
}

// isOutcome reports whether there is a report of fit in a row: a result, and
// where that is always the same anything else.
func (w *writer) isOutcome(get func(string) string, some bool) bool {
	result := w.columns["result"].what
	if result.Always != "" {
		return some && (get("order_id") != "" || w.columns["order_id"].what.Without == "")
	}
	return get("result") != ""
}

// fit fills in what the reason says, where no column says it.
func (w *writer) fit(record []string, texts []string) bool {
	text := texts[w.reason.col]
	if p := wording.Plain(text); p == "" || wording.Blank[p] || w.r.t.Blank[p] {
		return false
	}
	found, some := wording.ReadFit(text, w.reason.what.Phrases)
	if !some && record[slices.Index(w.names, "result")] != "kept" { // "fine" is no complaint
		w.r.phrases[text]++
	}
	for i, name := range w.names {
		if _, mapped := w.columns[name]; !mapped && record[i] == "" {
			record[i] = found[name]
		}
	}
	return true
}

// merge puts into into what it leaves empty and more says; false where they
// say different things.
func merge(into, more []string) bool {
	for i := range into {
		if into[i] != "" && more[i] != "" && into[i] != more[i] {
			return false
		}
	}
	for i := range into {
		if into[i] == "" {
			into[i] = more[i]
		}
	}
	return true
}

func (w *writer) flush() error {
	if w.last == nil {
		return nil
	}
	err := w.put(w.no, w.last)
	w.last = nil
	return err
}

// close ends the text of a part.
func (w *writer) close() error {
	err := w.flush()
	w.csv.Flush()
	err = errors.Join(err, w.csv.Error(), w.buf.Flush(), w.file.Close())
	cols := map[string]int{}
	for name, from := range w.columns {
		cols[name] = from.col
	}
	tab, froms, paths := w.table, w.froms, w.r.head.Paths
	workbook := w.r.grid.Tab != ""
	tab.Place = func(record int64, column string) (cell, header string) {
		col, ok := cols[column]
		if !ok {
			col = -1
		}
		if column == "value" && record < int64(len(froms)) {
			col = int(froms[record])
		}
		if col < 0 || col >= len(paths) {
			return "", ""
		}
		if workbook && record < int64(len(tab.RowNo)) {
			return fmt.Sprintf("%s%d", grid.ColumnName(col), tab.RowNo[record]), paths[col]
		}
		return "", paths[col]
	}
	return err
}
