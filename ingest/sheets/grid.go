package sheets

import (
	"bufio"
	"context"
	"errors"
	"io"
	"os"

	"lastroom/ingest/grid"
)

// Grids opens the tables of a file that Intake has kept.
func (t *Table) Grids() ([]*grid.Grid, error) {
	switch t.Format {
	case XLSX:
		return grid.XLSX(grid.File{Name: t.Name, Path: t.Kept, Bytes: t.Bytes})
	case ODS:
		return grid.ODS(grid.File{Name: t.Name, Path: t.Kept, Bytes: t.Bytes})
	case Parquet:
		return nil, &FileError{File: t.Name, Reason: "is a Parquet file, which a mapping does not describe; name its columns as the order sheets have them"}
	}
	return []*grid.Grid{{File: t.Name, Sep: t.Sep, Rows: t.textRows}}, nil
}

// textRows reads the rows of a text from its first line on. A quote that is
// never closed ends with its line, and the row is marked as broken.
func (t *Table) textRows(ctx context.Context, do func(grid.Row) bool) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	r := recordReader{r: bufio.NewReaderSize(f, 1<<20), t: t, line: 1}
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
		row = grid.Row{No: int32(line), Cells: row.Cells[:0], Broken: !ok}
		if !ok {
			texts = []string{string(raw)}
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
