package audit

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"

	"github.com/stretchr/testify/require"
)

// A planned is an operator of a plan; of a join the second child is the table
// that is kept in memory.
type planned struct {
	Name     string         `json:"name"`
	Info     map[string]any `json:"extra_info"`
	Children []planned      `json:"children"`
}

func (p planned) reads(table string) bool {
	if p.Info["Table"] == table {
		return true
	}
	for _, c := range p.Children {
		if c.reads(table) {
			return true
		}
	}
	return false
}

// joins counts the joins below, and those that keep a table in memory.
func (p planned) joins(table string) (all, kept int) {
	if p.Name == "HASH_JOIN" {
		all++
		if p.Children[1].reads(table) {
			kept++
		}
	}
	for _, c := range p.Children {
		a, k := c.joins(table)
		all, kept = all+a, kept+k
	}
	return all, kept
}

// The numbers of a book are never kept in memory to look up a few words in them:
// in a book of millions the judging of a load would run out of it.
func TestJudgingLooksUpInTheSmallTables(t *testing.T) {
	ctx := context.Background()
	db, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
	defer db.Close()
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	defer conn.Close()
	require.NoError(t, bookfile.BringUp(ctx, conn))
	for _, name := range []string{"three_orders", "some_numbers"} {
		text, err := os.ReadFile(filepath.Join("..", "orderbook", "testdata", name+".sql"))
		require.NoError(t, err)
		_, err = conn.ExecContext(ctx, string(text))
		require.NoError(t, err)
	}
	for _, q := range []string{"INSERT INTO measured SELECT 'F' || i, 1, 1, 1 FROM range(300000) t(i)",
		"INSERT INTO readings SELECT 100 + i, 200 + i, i::VARCHAR, 'mm' FROM range(5000) t(i)",
		"BEGIN TRANSACTION", "CREATE TEMP TABLE touched AS SELECT form_id FROM form_numbers",
		engine.Section(auditSQL, "forms"), joinAsWritten} {
		_, err := conn.ExecContext(ctx, q)
		require.NoError(t, err)
	}
	var kind, text string
	require.NoError(t, conn.QueryRowContext(ctx, "EXPLAIN (FORMAT json) "+engine.Section(auditSQL, "numbers")).Scan(&kind, &text))
	var plan []planned
	require.NoError(t, json.Unmarshal([]byte(text), &plan))
	all, kept := plan[0].joins("measured")
	require.Equal(t, 4, all, text)
	require.Zero(t, kept, text)
}
