package sheets

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"strings"

	"lastroom/ingest/grid"
)

// Grids opens the tables of a file that Intake has kept.
func (t *Table) Grids() ([]*grid.Grid, error) {
	switch t.Format {
	case XLSX:
		return grid.XLSX(grid.File{Name: t.Name, Path: t.Kept, Bytes: t.Bytes, Unpack: t.Unpack})
	case ODS:
		return grid.ODS(grid.File{Name: t.Name, Path: t.Kept, Bytes: t.Bytes, Unpack: t.Unpack})
	case Parquet:
		return nil, &FileError{File: t.Name, Reason: "is a Parquet file, which is not looked into here"}
	}
	return []*grid.Grid{{File: t.Name, Sep: t.Sep, Rows: t.textRows}}, nil
}

// textRows reads the rows of a text from its first line on. A line in which a
// quote is opened that is not closed as it should be is a broken row of its own,
// cut at every separator.
func (t *Table) textRows(ctx context.Context, do func(grid.Row) bool) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	r := recordReader{r: bufio.NewReaderSize(f, 1<<20), t: t, line: 1, most: mostLines}
	if err := r.skipMark(); err != nil {
		return err
	}
	row := grid.Row{}
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
		if first := r.firstLine(raw); len(first) < len(raw) && t.swallowed(first, raw, len(texts), ok) {
			r.putBack(raw[len(first):])
			r.line = line + 1
			raw, ok = first, false
		}
		row = grid.Row{No: int32(line), Cells: row.Cells[:0]}
		if !ok {
			row.Broken = strings.TrimRight(string(raw), "\r\n")
			texts = strings.Split(row.Broken, string(t.Sep))
			for i := range texts {
				texts[i] = strings.Trim(texts[i], "\" ")
			}
		}
		if len(texts) > grid.MaxColumns {
			return fileError(t.Name, line, "has %d columns; a sheet has at most %d", len(texts), grid.MaxColumns)
		}
		some := false
		for _, text := range texts {
			row.Cells = append(row.Cells, grid.Cell{Text: text})
			some = some || text != ""
		}
		if some && !do(row) {
			return nil
		}
	}
}

// mostLines is over how many lines a cell may go on.
const mostLines = 100

// swallowed reports whether a record of several lines is a row whose quote was
// never meant to go on: its first line alone is a whole row, and what it makes
// with the lines after it is none, or the last of these would be one too. Cells
// with line breaks in them are nothing of the kind.
func (t *Table) swallowed(first, raw []byte, cells int, ok bool) bool {
	width := func(line []byte) int { return bytes.Count(line, []byte{t.Sep}) + 1 }
	text := trimEnd(raw)
	last := text[bytes.LastIndexAny(text, "\r\n")+1:]
	return t.width > 0 && width(first) >= t.width && (!ok || cells != t.width || width(last) >= t.width) || !ok && openQuote(text, t.Sep)
}
