package layout_test

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/grid/testdata/workbooks"
	"lastroom/ingest/layout"
	"lastroom/ingest/layout/testdata/readback"
)

// A mapping reads the tabs that it names, by patterns, and no other: not one
// with the same columns under another name, not a hidden one, not hidden rows,
// which are told and read where the mapping asks for them.
func TestOnlyTheTabsThatAreNamed(t *testing.T) {
	dir := t.TempDir()
	head := []any{"Order", "Who", "Left Ball"}
	workbooks.XLSX(t, filepath.Join(dir, "book.xlsx"),
		workbooks.Tab{Name: "2023", HiddenRows: []int{2}, Rows: [][]any{head, {"1", "A", 9.5}, {"2", "B", 9.25}}},
		workbooks.Tab{Name: "2024", Rows: [][]any{head, {"3", "C", 9.0}}},
		workbooks.Tab{Name: "2025", Hidden: true, Rows: [][]any{head, {"4", "D", 9.0}}},
		workbooks.Tab{Name: "Quotes", Rows: [][]any{head, {"5", "E", 9.0}}})
	read := func(more string) (*layout.Converted, map[string]readback.Said) {
		m, err := layout.Parse("map.yaml", []byte("file: book.xlsx\ntab: \"20??\"\n"+more+plainMapOfTabs))
		require.NoError(t, err)
		c, err := m.Convert(t.Context(), readback.Files(t, dir), t.TempDir())
		require.NoError(t, err)
		rows, problems := readback.Parts(t, c.Parts)
		require.Empty(t, problems)
		return c, rows
	}
	c, rows := read("")
	assert.ElementsMatch(t, []string{"1", "3"}, keysOf(rows["orders"]))
	notes := strings.Join(c.Notes, "\n")
	assert.Contains(t, notes, "the tab 2025 of book.xlsx is hidden and was not read; hidden_tabs: read in the mapping reads it")
	assert.Contains(t, notes, "book.xlsx, tab 2023: 1 row hidden, not read (hidden_rows: read in the mapping reads them)")
	_, rows = read("hidden_tabs: read\nhidden_rows: read\n")
	assert.ElementsMatch(t, []string{"1", "2", "3", "4"}, keysOf(rows["orders"]))

	// A mapping that names no tab of a workbook with several reads none.
	m, err := layout.Parse("map.yaml", []byte("file: book.xlsx\n"+plainMapOfTabs))
	require.NoError(t, err)
	c, err = m.Convert(t.Context(), readback.Files(t, dir), t.TempDir())
	require.NoError(t, err)
	assert.Empty(t, c.Parts)
}

const plainMapOfTabs = `
order: Order
unit: in
orders: {customer_id: Who}
measurements: {numbers: [{columns: "{side} {point}"}]}
`
