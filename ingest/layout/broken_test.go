package layout_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/layout"
	"lastroom/ingest/layout/testdata/readback"
)

// converted reads files through a mapping; the texts of the rows of each sheet.
func converted(t *testing.T, mapping string, files map[string]string) (*layout.Converted, map[string]readback.Said) {
	t.Helper()
	c, err := convert(t, mapping, files)
	require.NoError(t, err)
	rows, problems := readback.Parts(t, c.Parts)
	require.Empty(t, problems)
	return c, rows
}

func convert(t *testing.T, mapping string, files map[string]string) (*layout.Converted, error) {
	t.Helper()
	m, err := layout.Parse("map.yaml", []byte(mapping))
	require.NoError(t, err)
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	return m.Convert(t.Context(), readback.Files(t, dir), t.TempDir())
}

const plainMap = `
order: Order
unit: in
orders: {customer_id: Who, received_on: In}
measurements: {numbers: [{columns: "{side} {point}"}]}
`

// A quote that is opened by mistake, or an inch mark, takes no other line with
// it: the line is told, what it would be is kept aside, and the lines after it
// are read. A cell with line breaks in it is one cell.
func TestAnOpenQuoteTakesOneLineOnly(t *testing.T) {
	const header = "Order,Who,In,Left Ball,Right Ball\n"
	for name, text := range map[string]string{
		"closed by an inch mark": "2,\"B,2024-01-13,9 1/2,9 5/8\n3,C,2024-01-14,9 1/2\",9 5/8\n",
		"never closed":           "2,\"B,2024-01-13,9 1/2,9 5/8\n3,C,2024-01-14,9 1/2,9 5/8\n",
		"in one column":          "2,B,2024-01-13,\"9 1/2,9 5/8\n3,C,2024-01-14,9 1/2\",9 5/8\n",
	} {
		c, rows := converted(t, "file: b.csv"+plainMap, map[string]string{"b.csv": header + "1,\"A, two\nlines\",2024-01-12,9,9\n" + text + "4,D,2024-01-15,9,9\n"})
		assert.Len(t, c.Rejects, 1, name)
		assert.EqualValues(t, 4, c.Rejects[0].Line, name)
		assert.Equal(t, strings.SplitN(text, "\n", 2)[0], c.Rejects[0].Text, name)
		assert.Contains(t, c.Rejects[0].Reason, "a quote is opened", name)
		assert.ElementsMatch(t, []string{"1", "3", "4"}, keysOf(rows["orders"]), name)
		assert.Len(t, rows["measurements"], 6, name)
		require.Len(t, c.Parts[0].Broken, 1, name)
		assert.Equal(t, []string{"2", "B", "2024-01-13"}, c.Parts[0].Broken[0].Cells, name)
		assert.Len(t, c.Parts[1].Broken, 2, name)
	}
	c, _ := converted(t, "file: b.csv"+plainMap, map[string]string{"b.csv": header + "1,A,2024-01-12,9,9\n2,\"B, or \"Bee\",2024-01-13,9 1/2,9 5/8\n"})
	require.Len(t, c.Parts[0].Broken, 1)
	assert.Empty(t, c.Parts[0].Broken[0].Cells[0], "cells in wrong columns are not loaded unseen")
	assert.Contains(t, c.Parts[0].Broken[0].Reason, "The line is: 2,")
}

func keysOf(rows readback.Said) (keys []string) {
	for k := range rows {
		keys = append(keys, k)
	}
	return keys
}

// Of several columns of one name the mapping says which is meant; otherwise the
// file is refused.
func TestRepeatedHeaders(t *testing.T) {
	files := map[string]string{"b.csv": "Order,Ball,Ball\n1,9,10\n"}
	const base = "file: b.csv\norder: Order\nunit: in\norders: {}\nmeasurements:\n  numbers:\n"
	_, err := convert(t, base+"    - {column: Ball, side: left, point: ball}\n", files)
	require.ErrorContains(t, err, `the header "Ball" stands 2 times, in the columns B, C; write Ball [1] for the first of them`)
	_, err = convert(t, base+"    - {columns: \"{point}\", side: left}\n", files)
	require.ErrorContains(t, err, "both hold the number of one place")
	_, rows := converted(t, base+"    - {column: \"Ball [2]\", side: left, point: ball}\n    - {columns: \"{point}\", nth: 1, side: right}\n", files)
	assert.Equal(t, readback.Said{"1|left|bare|ball|": "254", "1|right|bare|ball|": "228.6"}, rows["measurements"])
}

// An empty cell makes no report; a text that says nothing known is counted.
func TestNoReportOfAnEmptyCell(t *testing.T) {
	c, rows := converted(t, `
file: b.csv
order: Order
orders: {}
outcomes: {result: {always: remade}, reported_on: Day, reason: Why, cost: Cost}
`, map[string]string{"b.csv": "Order,Day,Why,Cost\n1,,,\n2,2024-05-01,,\n3,,too tight at the ball,\n4,-,?,\n5,,squeaks,\n"})
	assert.ElementsMatch(t, []string{"2|2024-05-01|remade", "3||remade", "5||remade"}, keysOf(rows["outcomes"]))
	assert.Contains(t, strings.Join(c.Notes, "\n"), `1 reason says neither zone`)
}

// That it fits is no complaint without a zone.
func TestNoComplaintIsNoReasonUnread(t *testing.T) {
	c, rows := converted(t, `
file: b.csv
order: Order
orders: {}
outcomes: {result: {column: Fit, phrases: {fine: kept, redone: remade}}, reason: Fit}
`, map[string]string{"b.csv": "Order,Fit\n1,fine\n2,redone\n"})
	assert.ElementsMatch(t, []string{"1||kept", "2||remade"}, keysOf(rows["outcomes"]))
	assert.Contains(t, strings.Join(c.Notes, "\n"), `1 reason says neither zone nor direction nor side that is known here: "redone"`)
}

// Totals, notes and a second header are no orders, by conditions of the mapping.
func TestRowsThatAreNoOrders(t *testing.T) {
	_, rows := converted(t, `
file: b.csv
header: Order
order: Order
skip: [{column: Order, is: [empty, "Total*"]}, {column: Who, is: "(closed)"}]
until: {column: Order, is: "Notes:"}
orders: {customer_id: Who}
`, map[string]string{"b.csv": "Bench book,\n\nOrder,Who\n1,A\n,carried over\nTotal 2024,1\nOrder,Who\n2,B\n3,(closed)\nNotes:,\n4,C\n"})
	assert.ElementsMatch(t, []string{"1", "2"}, keysOf(rows["orders"]))
}

// Sums of money are read by the decimal sign that the table has.
func TestMoneyByTheDecimalSign(t *testing.T) {
	for _, x := range []struct{ decimal, written, read string }{
		{"comma", "1.250", "1250"}, {"comma", "1.250,50 €", "1250.5"}, {"comma", "12,5", "12.5"},
		{"point", "1,250", "1250"}, {"point", "$1,250.50", "1250.5"}, {"point", "1.250", "1.25"},
	} {
		var line strings.Builder
		w := csv.NewWriter(&line)
		require.NoError(t, w.Write([]string{"1", x.written, "x"}))
		w.Flush()
		_, rows := converted(t, "file: b.csv\norder: Order\ndecimal: "+x.decimal+"\norders: {}\noutcomes: {result: {column: Again, filled: remade}, cost: Cost}\n",
			map[string]string{"b.csv": "Order,Cost,Again\n" + line.String()})
		assert.Equal(t, "||||"+x.read, rows["outcomes"]["1||remade"], "%s, decimal: %s", x.written, x.decimal)
	}
}
