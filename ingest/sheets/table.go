package sheets

import (
	"fmt"
	"os"
	"path/filepath"

	"lastroom/ingest/grid"
)

// A Format is the format of a file.
type Format uint8

// The formats that are read.
const (
	CSV Format = iota
	XLSX
	Parquet
	ODS
)

// A Table is one table of a file, ready to be read in bulk.
type Table struct {
	Name   string   // file name without folders, for people
	Tab    string   // name of the workbook's tab, if any
	Tabs   int      // how many tabs the workbook has
	Format Format   // of the file that came
	Read   string   // the CSV or Parquet file to read the rows from
	Kept   string   // the copy of the file as it came
	Header []string // the header cells as written
	Sep    byte     // of CSV: ',' ';' or tab
	SHA256 string   // of the file as it came
	Bytes  int64
	Unpack int64 // bytes that a workbook may unpack to; 0: in proportion to its size
	// Floats says which columns of a Parquet file hold numbers with a point.
	Floats []bool
	// RowNo gives for each record the row of the workbook it came from; nil
	// where records are found by reading the file.
	RowNo []int32
	// Place is where the cell of a record's column stands in a shop's own
	// layout: its name, as C7 (of workbooks), and its header. nil: as the
	// header says.
	Place func(record int64, column string) (cell, header string)
	// Encoding is what a text's letters were written in, UTF-8 aside.
	Encoding string
	foreign  bool // the text is no UTF-8
	text     textFacts
	width    int // cells that most lines of a text have; 0: one, or not known
	// blanked are lines that were blanked to read past them, by where they start.
	blanked map[int64]string
}

// MadeHere says that the text that rows are read from was written by this
// program, with line feeds.
func (t *Table) MadeHere() { t.text.lines = 1 }

// ReadAsText has the table read from a CSV text that this program wrote of it.
func (t *Table) ReadAsText(path string) error {
	t.Format, t.Read, t.Sep, t.Floats = CSV, path, ',', nil
	t.MadeHere()
	return os.Chmod(path, 0o600)
}

// DecimalComma reports whether a comma in a number can be a decimal mark.
func (t *Table) DecimalComma() bool { return t.Format == CSV && t.Sep != ',' }

// CheckRows refuses more rows than are warranted by the size of a workbook, all its tabs
// together, or of a Parquet file: rows that are alike take next to nothing in them.
func (t *Table) CheckRows(rows int64) error {
	most := 200_000 + t.Bytes/4
	if t.Format == Parquet {
		most = 500_000 + t.Bytes
	}
	if rows <= most || t.Unpack > 0 {
		return nil
	}
	return t.wrong("has more rows than the %d that are read of a file of its size; lastroom load --unpack allows more, or save it as CSV UTF-8, which has no such limit", most)
}

// A FileError is trouble with a whole file: nothing of it is loaded.
type FileError = grid.FileError

func (t *Table) wrong(format string, args ...any) error {
	return &FileError{File: t.Name, Reason: fmt.Sprintf(format, args...)}
}

func fileError(path string, line int64, format string, args ...any) error {
	return &FileError{File: filepath.Base(path), Line: line, Reason: fmt.Sprintf(format, args...)}
}

// A Reject is a row that was kept out, and why. Column is the header of the
// cell in question, empty where the whole row is; Text is the cell or the row
// as written.
type Reject struct {
	File   string `json:"file"`
	Tab    string `json:"tab,omitempty"`
	Line   int64  `json:"line"`
	Cell   string `json:"cell,omitempty"` // of a workbook, as C7
	Column string `json:"column"`
	Text   string `json:"text"`
	Reason string `json:"reason"`
}

// Why is the reason, of its column where it has one.
func (r Reject) Why() string {
	if r.Column == "" {
		return r.Reason
	}
	return r.Column + " " + r.Reason
}
