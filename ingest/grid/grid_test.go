package grid_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/grid"
	"lastroom/ingest/grid/testdata/workbooks"
)

func fileAt(t *testing.T, path string) grid.File {
	t.Helper()
	info, err := os.Stat(path)
	require.NoError(t, err)
	return grid.File{Name: filepath.Base(path), Path: path, Bytes: info.Size()}
}

// texts are the rows of a grid, each with its number, its cells and whether it is
// hidden.
func texts(t *testing.T, g *grid.Grid) (out []string) {
	t.Helper()
	require.NoError(t, g.Rows(t.Context(), func(r grid.Row) bool {
		var cells []string
		for _, c := range r.Cells {
			text := c.Text
			if c.Formula {
				text = "=" + text
			}
			if c.Kind == grid.Day {
				text = "day " + text
			}
			cells = append(cells, text)
		}
		hidden := ""
		if r.Hidden {
			hidden = " hidden"
		}
		out = append(out, fmt.Sprintf("%d%s: %s", r.No, hidden, strings.Join(cells, "|")))
		return true
	}))
	return out
}

// An XLSX or XLSM workbook: numbers as their format shows them, days, what a
// formula gave, hidden tabs and rows marked. Day numbers by ECMA-376 part 1,
// 18.17.4.1: 45000 is 15 March 2023.
func TestXLSX(t *testing.T) {
	for _, name := range []string{"book.xlsx", "book.xlsm"} {
		path := filepath.Join(t.TempDir(), name)
		workbooks.XLSX(t, path,
			workbooks.Tab{Name: "2023", HiddenRows: []int{2}, Rows: [][]any{
				{"Order", "In", "Ball"},
				{"A<1>", workbooks.Cell{Value: 45000, Style: workbooks.Day}, workbooks.Cell{Value: 24.5, Style: workbooks.Centimetres}},
				{"A2", "", 9.1300000000000008},
				{},
				{"A3", "", workbooks.Cell{Value: 9.5, Formula: "B2*2"}},
			}},
			workbooks.Tab{Name: "quotes", Hidden: true, Rows: [][]any{{"x"}}})
		grids, err := grid.XLSX(fileAt(t, path))
		require.NoError(t, err)
		require.Len(t, grids, 2)
		assert.Equal(t, []string{"1: Order|In|Ball", "2: A<1>|day 2023-03-15|24.5 cm", "3 hidden: A2||9.13", "5: A3||=9.5"}, texts(t, grids[0]))
		assert.False(t, grids[0].Hidden)
		assert.True(t, grids[1].Hidden)
		assert.Equal(t, name+", tab 2023", grids[0].Where())
	}
}

// An ODS workbook: repeated rows and cells, comments left out, days, the unit
// that a format shows.
func TestODS(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.ods")
	workbooks.ODS(t, path, "Tape", `
		<table:table-row><table:table-cell><text:p>Order</text:p></table:table-cell><table:table-cell table:number-columns-repeated="2"/><table:table-cell><text:p>Ball</text:p></table:table-cell></table:table-row>
		<table:table-row table:number-rows-repeated="3"/>
		<table:table-row table:visibility="collapse"><table:table-cell><text:p>7</text:p></table:table-cell></table:table-row>
		<table:table-row><table:table-cell office:value-type="float" office:value="8"><text:p>8</text:p></table:table-cell>
			<table:table-cell office:value-type="date" office:date-value="2023-03-15T00:00:00"><text:p>15.03.23</text:p></table:table-cell>
			<table:table-cell><office:annotation><text:p>ask her</text:p></office:annotation><text:p>two</text:p><text:p>lines</text:p></table:table-cell>
			<table:table-cell office:value-type="float" office:value="24.5" table:formula="of:=1"><text:p>24,5 cm</text:p></table:table-cell></table:table-row>`)
	grids, err := grid.ODS(fileAt(t, path))
	require.NoError(t, err)
	require.Len(t, grids, 1)
	assert.Equal(t, []string{"1: Order|||Ball", "5 hidden: 7", "6: 8|day 2023-03-15|two\nlines|=24.5 cm"}, texts(t, grids[0]))
}

// What is no workbook that can be read is named for what it is, with what to do.
func TestOtherWorkbooks(t *testing.T) {
	dir := t.TempDir()
	xlsb, xls, text, cut := filepath.Join(dir, "a.xlsb"), filepath.Join(dir, "b.xls"), filepath.Join(dir, "c.xlsx"), filepath.Join(dir, "d.xlsx")
	workbooks.File(t, xlsb, map[string]string{"xl/workbook.bin": "\x00"})
	require.NoError(t, os.WriteFile(xls, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and more"), 0o644))
	require.NoError(t, os.WriteFile(text, []byte("order_id,customer_id\n"), 0o644))
	workbooks.XLSX(t, cut, workbooks.Tab{Name: "a", Rows: [][]any{{"x"}}})
	whole, err := os.ReadFile(cut)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(cut, whole[:len(whole)/2], 0o644))
	for path, want := range map[string]string{
		xlsb: "a.xlsb: is a binary workbook (.xlsb); open it and save it as .xlsx",
		xls:  "b.xls: is protected by a password, or an old .xls workbook; open it and save it as .xlsx without a password",
		text: "c.xlsx: is no workbook by its content; a text file must be named .csv",
		cut:  "d.xlsx: is damaged or was cut short",
	} {
		_, err := grid.XLSX(fileAt(t, path))
		require.Error(t, err)
		assert.Contains(t, err.Error(), want)
	}
}

// A workbook that unpacks to far more than its size is refused with the limit's
// figure and what to do.
func TestAWorkbookThatUnpacksToTooMuch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bomb.xlsx")
	workbooks.File(t, path, map[string]string{
		"xl/workbook.xml":            `<workbook><sheets><sheet name="a" id="r"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml":   "<sheetData>" + strings.Repeat(strings.Repeat(" ", 1<<19)+"<row/>", 140) + "</sheetData>",
	})
	_, err := grid.XLSX(fileAt(t, path))
	require.Error(t, err)
	assert.Regexp(t, `unpacks to more than 2\d MiB, the most for a file of its size unless lastroom load --unpack allows more; or save each tab as CSV UTF-8, which has no such limit`, err.Error())

	more := fileAt(t, path)
	more.Unpack = 100 << 20
	_, err = grid.XLSX(more)
	require.NoError(t, err, "a person lets more through")
	more.Unpack = 60 << 20
	_, err = grid.XLSX(more)
	assert.ErrorContains(t, err, "more than 60 MiB")
}

// Cells that are repeated count as if they were written out; empty ones after the last
// of a row, and rows of nothing, count nothing.
func TestRepeatedCellsOfODS(t *testing.T) {
	row := func(times, cells int) string {
		return fmt.Sprintf(`<table:table-row table:number-rows-repeated="%d"><table:table-cell table:number-columns-repeated="%d"/><table:table-cell office:value-type="string"><text:p>a</text:p></table:table-cell><table:table-cell table:number-columns-repeated="16000"/></table:table-row>`, times, cells)
	}
	empty := `<table:table-row table:number-rows-repeated="1048576"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>`
	path := filepath.Join(t.TempDir(), "a.ods")
	workbooks.ODS(t, path, "a", row(1000, 899)+empty)
	grids, err := grid.ODS(fileAt(t, path))
	require.NoError(t, err)
	require.Len(t, texts(t, grids[0]), 1000)
	workbooks.ODS(t, path, "a", row(1000, 899)+row(1000, 899)+empty)
	_, err = grid.ODS(fileAt(t, path))
	require.ErrorContains(t, err, "unpacks to more than 24 MiB")
}
