package layout_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/layout"
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
