package load

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/demo"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

var benchOrders = flag.Int("orders", 20_000, "orders of the invented workshop that BenchmarkLoad loads")

// BenchmarkLoad loads the sheets of an invented workshop beside what the
// database alone takes to read the same files into a new database file, and
// gives the ratio of the two. Judging the numbers by the body model is no part
// of reading sheets: load+judge shows it apart.
//
//	go test ./ingest/orderbook -run '^$' -bench Load -benchtime 3x -orders 100000
func BenchmarkLoad(b *testing.B) {
	dir := b.TempDir()
	_, err := demo.Write(dir, demo.Options{Seed: 7, Orders: *benchOrders})
	require.NoError(b, err)
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(b, err)
	var plain time.Duration
	b.Run("database", func(b *testing.B) {
		for b.Loop() {
			readPlainly(b, files)
		}
		plain = b.Elapsed() / time.Duration(b.N)
	})
	for _, later := range []bool{true, false} {
		b.Run(map[bool]string{true: "load", false: "load+judge"}[later], func(b *testing.B) {
			for b.Loop() {
				opt := options(dir)
				opt.JudgeLater = later
				_, err := Sheets(context.Background(), newBook(b), opt)
				require.NoError(b, err)
			}
			if plain > 0 {
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(plain), "×database")
			}
		})
	}
}

func readPlainly(b *testing.B, files []string) {
	path := filepath.Join(b.TempDir(), "plain.duckdb")
	db, err := orderbook.Open(context.Background(), path, false)
	require.NoError(b, err)
	for i, f := range files {
		_, err := db.Exec(fmt.Sprintf("CREATE TABLE t%d AS SELECT * FROM read_csv(%s)", i, engine.Quote(f)))
		require.NoError(b, err)
	}
	_, err = db.Exec("CHECKPOINT")
	require.NoError(b, err)
	require.NoError(b, db.Close())
	require.NoError(b, os.Remove(path))
}
