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

	"lastroom/ingest/bookfile"
	"lastroom/ingest/demo"
	"lastroom/ingest/engine"
)

var benchOrders = flag.Int("orders", 20_000, "orders of the invented workshop that BenchmarkLoad loads")

// BenchmarkLoad loads the sheets of an invented workshop beside what the
// database alone takes to read the same files into a new database file, for each
// order in which the rows of the measurements may stand, and gives the ratio of the
// two, by the clock and by the processor (which is less in doubt where others are at
// work). Judging the numbers by the body model is no part of reading sheets:
// load+judge shows it apart.
//
//	go test ./ingest/load -run '^$' -bench Load -benchtime 3x -orders 100000
func BenchmarkLoad(b *testing.B) {
	dir := b.TempDir()
	_, err := demo.Write(dir, demo.Options{Seed: 7, Orders: *benchOrders})
	require.NoError(b, err)
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(b, err)
	for _, order := range []string{"by form", "by point", "shuffled"} {
		if order != "by form" { // as they come
			reorder(b, filepath.Join(dir, "measurements.csv"), rowOrders[order])
		}
		var clock, processor time.Duration
		measure := func(b *testing.B, once func()) (time.Duration, time.Duration) {
			began := processorTime(b)
			for b.Loop() {
				once()
			}
			return b.Elapsed() / time.Duration(b.N), (processorTime(b) - began) / time.Duration(b.N)
		}
		b.Run(order+"/database", func(b *testing.B) {
			clock, processor = measure(b, func() { readPlainly(b, files) })
		})
		for _, name := range []string{"load", "load+judge"} {
			b.Run(order+"/"+name, func(b *testing.B) {
				opt := options(dir)
				opt.JudgeLater = name == "load"
				c, p := measure(b, func() {
					_, err := Sheets(context.Background(), newBook(b), opt)
					require.NoError(b, err)
				})
				if clock > 0 {
					b.ReportMetric(float64(c)/float64(clock), "×database")
					b.ReportMetric(float64(p)/float64(processor), "×processor")
				}
			})
		}
	}
}

func readPlainly(b *testing.B, files []string) {
	path := filepath.Join(b.TempDir(), "plain.duckdb")
	db, err := bookfile.Open(context.Background(), path, false)
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
