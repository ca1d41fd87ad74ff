package grid

import (
	"context"
	"encoding/xml"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

// odsPart is where an OpenDocument spreadsheet keeps its tables (ISO/IEC
// 26300, OpenDocument 1.2 part 1, section 9).
const odsPart = "content.xml"

// ODS lists the tabs of an OpenDocument spreadsheet.
func ODS(f File) ([]*Grid, error) {
	c, err := f.open()
	if err != nil {
		return nil, err
	}
	defer c.zip.Close()
	var grids []*Grid
	hidden, style := map[string]bool{}, ""
	written := odsWritten{left: c.limit / writtenCell}
	err = c.each(odsPart, func(tok xml.Token) error {
		if written.token(tok); written.left < 0 {
			return c.tooMuch()
		}
		e, ok := tok.(xml.StartElement)
		switch {
		case ok && e.Name.Local == "style":
			style = attr(e, "name")
		case ok && e.Name.Local == "table-properties":
			hidden[style] = attr(e, "display") == "false"
		case ok && e.Name.Local == "table":
			g := &Grid{File: f.Name, Tab: attr(e, "name"), Hidden: hidden[attr(e, "style-name")]}
			n := len(grids)
			g.Rows = func(ctx context.Context, do func(Row) bool) error { return f.odsRows(ctx, n, do) }
			grids = append(grids, g)
		}
		return nil
	})
	return grids, err
}

// writtenCell is how many bytes a cell takes at least where it is written out.
const writtenCell = int64(len("<table:table-cell/>"))

// odsWritten counts the cells of a spreadsheet as if those that are repeated were
// written out, up to the last of a row that holds anything: in a few hundred bytes there
// can be any number of them.
type odsWritten struct {
	left        int64 // cells that there still may be
	rows        int   // how often the row is repeated
	width, some int   // cells of the row so far, and up to the last that holds anything
}

func (w *odsWritten) token(tok xml.Token) {
	switch e := tok.(type) {
	case xml.StartElement:
		switch e.Name.Local {
		case "table-row":
			w.rows, w.width, w.some = times(e, "number-rows-repeated"), 0, 0
		case "table-cell", "covered-table-cell":
			if w.width += min(times(e, "number-columns-repeated"), MaxColumns); attr(e, "value-type") != "" {
				w.some = w.width
			}
		case "p":
			w.some = w.width
		}
	case xml.EndElement:
		if e.Name.Local == "table-row" && w.some > 0 {
			w.left -= int64(w.some) * int64(min(w.rows, MaxColumns)) // a row that is repeated more often is refused
		}
	}
}

// odsRows reads the rows of the table with a number.
func (f File) odsRows(ctx context.Context, table int, do func(Row) bool) error {
	c, err := f.open()
	if err != nil {
		return err
	}
	defer c.zip.Close()
	r := odsTable{c: c, do: do, left: c.limit}
	now, n := -1, 0
	err = c.each(odsPart, func(tok xml.Token) error {
		if n++; n%65536 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "table" {
			now++
		}
		if now < table {
			return nil
		}
		if e, ok := tok.(xml.EndElement); ok && e.Name.Local == "table" {
			return errStop
		}
		return r.token(tok)
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

type odsTable struct {
	c    *container
	do   func(Row) bool
	row  Row
	some bool
	left int64

	rows, cells int // how often the row, the cell is repeated
	cell        Cell
	note        int // inside a comment
	in          int // inside a paragraph
	shown       strings.Builder
}

func (r *odsTable) token(tok xml.Token) error {
	switch e := tok.(type) {
	case xml.StartElement:
		switch e.Name.Local {
		case "table-row":
			r.rows = times(e, "number-rows-repeated")
			v := attr(e, "visibility")
			r.row = Row{No: r.row.No + 1, Hidden: v == "collapse" || v == "filter", Cells: r.row.Cells[:0]}
			r.some = false
		case "table-cell", "covered-table-cell":
			r.cells = times(e, "number-columns-repeated")
			r.cell = odsCell(e)
			r.shown.Reset()
		case "annotation":
			r.note++
		case "p":
			if r.shown.Len() > 0 && r.note == 0 {
				r.shown.WriteByte('\n')
			}
			r.in++
		case "s", "tab", "line-break":
			if r.note == 0 {
				r.shown.WriteByte(' ')
			}
		}
	case xml.CharData:
		if r.in > 0 && r.note == 0 && r.shown.Len() <= maxCellText {
			r.shown.Write(e)
		}
	case xml.EndElement:
		switch e.Name.Local {
		case "annotation":
			r.note--
		case "p":
			r.in--
		case "table-cell", "covered-table-cell":
			return r.endCell()
		case "table-row":
			if r.some && r.rows > 1 && r.rows > MaxColumns {
				return r.c.f.wrong("repeats row %d %d times, more than the %d that are read; delete the rows below the table and save it again", r.row.No, r.rows, MaxColumns)
			}
			for n := 0; r.some && n < r.rows; n++ {
				if !r.do(r.row) {
					return errStop
				}
				r.row.No++
			}
			if r.some {
				r.row.No--
			} else {
				r.row.No += int32(min(r.rows, 1<<20) - 1)
			}
		}
	}
	return nil
}

// odsCell reads what the attributes of a cell say.
func odsCell(e xml.StartElement) (c Cell) {
	c.Formula = attr(e, "formula") != ""
	switch attr(e, "value-type") {
	case "date":
		c.Kind, c.Text = Day, attr(e, "date-value")
		c.Text = c.Text[:min(len(c.Text), len(time.DateOnly))]
	case "float", "currency", "percentage":
		if x, err := strconv.ParseFloat(attr(e, "value"), 64); err == nil {
			c.Kind, c.Text = Number, shortest(x)
		}
	case "boolean":
		c.Text = attr(e, "boolean-value")
	}
	return c
}

func (r *odsTable) endCell() error {
	c := r.cell
	switch {
	case c.Text == "":
		c.Text = r.shown.String()
	case c.Kind == Number: // the unit that its format shows
		if u := lengths.WrittenIn(r.shown.String(), form.NoUnit); u != form.NoUnit {
			c.Text += " " + u.String()
		}
	}
	if strings.TrimSpace(c.Text) == "" {
		for range min(r.cells, MaxColumns-len(r.row.Cells)) {
			r.row.Cells = append(r.row.Cells, Cell{})
		}
		return nil
	}
	if len(r.row.Cells)+r.cells > MaxColumns {
		return r.c.f.wrong("has something in column %s of row %d; at most %d columns are read: delete what stands to the right of them", ColumnName(len(r.row.Cells)+r.cells-1), r.row.No, MaxColumns)
	}
	if r.left -= int64(len(c.Text) * r.cells); r.left < 0 {
		return r.c.tooMuch()
	}
	for range r.cells {
		r.row.Cells = append(r.row.Cells, c)
	}
	r.some = true
	return nil
}

func times(e xml.StartElement, name string) int {
	if n, err := strconv.Atoi(attr(e, name)); err == nil && n > 0 {
		return n
	}
	return 1
}
