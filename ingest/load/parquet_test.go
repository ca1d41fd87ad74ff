package load

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/engine"
)

// A Parquet file that another program wrote, with numbers of orders that have
// become 17.0 and days with a time at midnight, is read through a mapping too.
func TestMappedParquet(t *testing.T) {
	breadth.Leave(t, "TestWorkbookAndParquet reads Parquet, and TestMapping a file through a mapping")
	dir := t.TempDir()
	db, err := engine.Open(t.Context(), "", false)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("COPY (SELECT 17.0::DOUBLE AS \"Order\", TIMESTAMP '2024-01-05 00:00:00' AS \"In\", '9 1/2' AS \"Ball L\", 9.25::FLOAT AS \"Ball R\", true AS \"Again\", 120.5::DOUBLE AS \"Cost\") TO " +
		engine.Quote(filepath.Join(dir, "ledger.parquet")) + " (FORMAT parquet)")
	require.NoError(t, err)
	mapping := filepath.Join(dir, "map.yaml")
	require.NoError(t, os.WriteFile(mapping, []byte(`
file: ledger.parquet
order: Order
unit: in
orders: {received_on: In}
forms: {received_on: In, cut_from: {always: "yes"}}
measurements: {numbers: [{columns: "{point} {side}"}]}
outcomes: {result: {column: Again, words: {"true": remade}}, cost: Cost}
`), 0o644))
	book, opt := newBook(t), options(filepath.Join(dir, "ledger.parquet"))
	opt.Map, opt.Need = mapping, []string{"orders"}
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, []string{"17 2024-01-05"}, ask(t, book, "SELECT order_id || ' ' || received_on FROM orders"))
	assert.Equal(t, []string{"17 left bare ball 241.3", "17 right bare ball 234.95"}, ask(t, book, numbersQuery))
	assert.Equal(t, []string{"remade 120.5"}, ask(t, book, "SELECT result || ' ' || cost FROM outcomes"))
}
