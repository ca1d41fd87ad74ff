package sheets

import (
	"bufio"
	"context"
	"errors"
	"io"
	"os"
)

// A Grid is one table as it stands in a file, cell by cell, whatever its
// layout: a text, or a tab of a workbook.
type Grid struct {
	File   string // as it is shown to people
	Tab    string // of a workbook
	Hidden bool   // the tab is
	Sep    byte   // of a text; 0 for a workbook
	open   func(ctx context.Context, do func(Row) bool) error
}

// Rows calls do with every row that holds anything, from the top, until do
// answers false. The cells of a row hold until the next call.
func (g *Grid) Rows(ctx context.Context, do func(Row) bool) error { return g.open(ctx, do) }

// A Row is a row of a grid.
type Row struct {
	No     int32 // from 1: the row of a workbook, the line of a text that the row starts on
	Hidden bool
	Cells  []GridCell
	Broken bool // a text's line that can't be split into cells
}

// A GridCell is a cell as it is read: the text of a text cell as written; of a
// number its shortest decimal, with the unit that its format shows; of a day
// the day, 2026-09-30.
type GridCell struct {
	Text    string
	Kind    CellKind
	Formula bool // the value that a formula had when the file was saved
}

// A CellKind is what a workbook says a cell is. Cells of texts are all Plain.
type CellKind uint8

// The kinds of cell.
const (
	Plain CellKind = iota
	Number
	DayCell
)

// Limits of what is read of one file, in proportion to its size where a
// small file could unpack to much.
const (
	maxCellText    = 32767    // of a cell, as spreadsheet programs have it
	maxSharedTexts = 64 << 20 // bytes of a workbook's table of texts
	maxSharedCount = 2 << 20  // texts in it
	minUnpacked    = 64 << 20
	unpackedRatio  = 60
)

// Grids opens the tables of a file that Intake has kept.
func (t *Table) Grids() ([]*Grid, error) {
	switch t.Format {
	case XLSX:
		return t.xlsxGrids()
	case ODS:
		return t.odsGrids()
	case Parquet:
		return nil, &FileError{File: t.Name, Reason: "is a Parquet file, which a mapping does not describe; name its columns as the order sheets have them"}
	}
	g := &Grid{File: t.Name, Sep: t.Sep}
	g.open = func(ctx context.Context, do func(Row) bool) error { return t.textRows(ctx, do) }
	return []*Grid{g}, nil
}

// textRows reads the rows of a text from its first line on. A quote that is
// never closed ends with its line, and the row is marked as broken.
func (t *Table) textRows(ctx context.Context, do func(Row) bool) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	r := recordReader{r: bufio.NewReaderSize(f, 1<<20), t: t, line: 1}
	if err := r.skipMark(); err != nil {
		return err
	}
	row := Row{}
	for n := 0; ; n++ {
		line := r.line
		raw, err := r.raw(false)
		if errors.Is(err, io.EOF) && len(raw) == 0 {
			return nil
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if n%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		texts, ok := SplitRecord(trimEnd(raw), t.Sep)
		row = Row{No: int32(line), Cells: row.Cells[:0], Broken: !ok}
		if !ok {
			texts = []string{string(raw)}
		}
		if len(texts) > MaxColumns {
			return fileError(t.Name, line, "has %d columns; a sheet has at most %d", len(texts), MaxColumns)
		}
		some := false
		for _, text := range texts {
			row.Cells = append(row.Cells, GridCell{Text: text})
			some = some || text != ""
		}
		if some && !do(row) {
			return nil
		}
	}
}
