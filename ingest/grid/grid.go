package grid

import (
	"context"
	"fmt"
)

// A Grid is one table as it stands in a file, cell by cell, whatever its
// layout: a text, or a tab of a workbook.
type Grid struct {
	File   string // as it is shown to people
	Tab    string // of a workbook
	Hidden bool   // the tab is
	Sep    byte   // of a text; 0 for a workbook
	// Rows calls do with every row that holds anything, from the top, until do
	// answers false. The cells of a row hold until the next call.
	Rows func(ctx context.Context, do func(Row) bool) error
}

// Where is the file and tab, for people.
func (g *Grid) Where() string {
	if g.Tab != "" {
		return g.File + ", tab " + g.Tab
	}
	return g.File
}

// A Row is a row of a grid.
type Row struct {
	No     int32 // from 1: the row of a workbook, the line of a text that the row starts on
	Hidden bool
	Cells  []Cell
	Broken string // a text's line that can't be split into cells; these are cut at every separator
}

// A Cell is a cell as it is read: the text of a text cell as written; of a
// number its shortest decimal, with the unit that its format shows; of a day
// the day, 2026-09-30.
type Cell struct {
	Text    string
	Kind    Kind
	Formula bool // the value that a formula had when the file was saved
}

// A Kind is what a workbook says a cell is. Cells of texts are all Plain.
type Kind uint8

// The kinds of cell.
const (
	Plain Kind = iota
	Number
	Day
)

// Limits of what is read of one file, in proportion to its size where a
// small file could unpack to much.
const (
	maxCellText    = 32767    // of a cell, as spreadsheet programs have it
	maxSharedTexts = 64 << 20 // bytes of a workbook's table of texts
	maxSharedCount = 2 << 20  // texts in it
	maxFormat      = 255      // letters of a number format, as spreadsheet programs have it
	minUnpacked    = 24 << 20
	unpackedRatio  = 30
)

// MaxColumns is the most columns a table may have.
const MaxColumns = 1000

// A FileError is trouble with a whole file: nothing of it is read.
type FileError struct {
	File   string
	Line   int64 // 0: not on any line
	Reason string
}

func (e *FileError) Error() string {
	if e.Line > 0 {
		return fmt.Sprintf("%s line %d: %s", e.File, e.Line, e.Reason)
	}
	return e.File + ": " + e.Reason
}
