package layout_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/layout"
	"lastroom/ingest/sheets"
)

// What an order's number is written with is taken off whatever the case of its letters,
// some of which take more bytes as small letters: Ⱥ two, ⱥ three (UTF-8).
func TestWithoutLettersOfAnotherLength(t *testing.T) {
	_, rows := converted(t, "file: b.csv"+plainMap+"outcomes: {order_id: {column: Order, without: -Ⱥ}, reported_on: In, result: {always: remade}}\n",
		map[string]string{"b.csv": "Order,Who,In,Left Ball\nȺȺȺȺȺ1-ⱥ,A,2024-01-13,9\n-ȺȺȺȺ2,B,2024-01-14,9\n-ⱥ3,B,2024-01-14,9\n4,B,2024-01-14,9\n"})
	assert.ElementsMatch(t, []string{"ȺȺȺȺȺ1|2024-01-13|remade", "ȺȺȺ2|2024-01-14|remade", "3|2024-01-14|remade"}, keysOf(rows["outcomes"]))
}

// A phrase of no letters stands in every text.
func TestAPhraseSaysSomething(t *testing.T) {
	for _, says := range []string{`""`, `"  "`} {
		_, err := layout.Parse("map.yaml", []byte("file: book.csv\norder: Order\noutcomes: {result: {column: Fit, phrases: {"+says+": remade}}}\n"))
		require.Error(t, err)
		assert.Contains(t, err.Error(), "map.yaml line 3")
		assert.Contains(t, err.Error(), "phrase")
	}
}

// Whatever a mapping says of whatever text: it is read, or refused in words.
func FuzzConvert(f *testing.F) {
	f.Add(plainMap+"outcomes: {order_id: {column: Order, without: -R}, reported_on: In, result: {always: remade}, reason: {column: Fit, phrases: {tight: toe}}}\n",
		"Order,Who,In,Left Ball,Fit\n1-r,A,2024-01-13,9 1/2,too tight (calf)\n2,B,1/2/24,\"22,9\",\n")
	f.Add("order: Order\nfill_down: [Order]\nskip: {column: Order, not: number}\nuntil: {column: Who, is: Sum*}\ndays: day first\ndecimal: comma\norders: {customer_id: Who, worn_tucked: {column: T, filled: yes, empty: no}}\nmeasurements: {place: Where, value: cm}\n",
		"Order;Who;T;Where;cm\n1;A;x;Ball links;22,9\n;A;;Ferse rechts;35\nSumme;;;;\n")
	f.Fuzz(func(t *testing.T, mapping, text string) {
		m, err := layout.Parse("map.yaml", []byte("file: b.csv\n"+mapping))
		if err != nil || len(text) > 10_000 {
			return
		}
		dir := t.TempDir()
		path := filepath.Join(dir, "b.csv")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		table, err := sheets.Intake(t.Context(), path, filepath.Join(dir, "kept.csv"))
		if err == nil {
			_, err = m.Convert(t.Context(), []layout.File{{Table: table, Path: path}}, t.TempDir())
		}
		if err != nil {
			require.NotEmpty(t, err.Error())
		}
	})
}
