package load

import (
	"cmp"
	"context"
	"database/sql"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/demo"
	"lastroom/ingest/engine"
)

// Summed up in parts that cut through forms, by places instead of their
// numbers, or with one engine thread for its keys, a load comes to the same book,
// and the engine has its threads back. So does one in which it has one from the start, as
// for sheets so small. In parts, of rows in halves and in none; with
// CI=true in more orders of the rows, and the rest.
func TestPartsCutThroughForms(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	_, err := demo.Write(dir, demo.Options{Seed: 5, Orders: 12})
	require.NoError(t, err)
	var paths []string // other sheets have no part in it
	for _, sheet := range []string{"orders", "forms", "measurements"} {
		paths = append(paths, filepath.Join(dir, sheet+".csv"))
	}
	fresh, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
	threads := threadsOf(t, fresh)
	require.NoError(t, fresh.Close())
	sizes := usual
	sizes.oneThread = 0
	sum := func() string {
		db, report, err := InMemory(ctx, t.TempDir(), Options{Paths: paths, Need: []string{"orders"}, Program: "test", JudgeLater: true, limits: &sizes})
		require.NoError(t, err)
		defer db.Close()
		require.Empty(t, report.KeptOut)
		conn, err := db.Conn(ctx)
		require.NoError(t, err)
		defer conn.Close()
		if sizes.oneThread == 0 {
			require.Equal(t, threads, threadsOf(t, db))
		} else {
			require.EqualValues(t, 1, threadsOf(t, db))
		}
		s, err := bookfile.Checksum(ctx, conn)
		require.NoError(t, err)
		var numbers string
		require.NoError(t, conn.QueryRowContext(ctx, "SELECT sum(hash(n))::VARCHAR || ' ' || count(*) FROM form_numbers n").Scan(&numbers))
		return s + " " + numbers
	}
	whole := sum()
	sizes.oneThread = usual.oneThread
	require.Equal(t, whole, sum(), "with one thread")
	sizes.oneThread = 0
	if breadth.Wide() {
		sizes.summedRows = 7
		require.Equal(t, whole, sum(), "few measurements at a time")
	}
	for order, sorted := range rowOrders {
		if !breadth.Wide() && order != "the second half shuffled" { // the first in whole forms
			continue
		}
		t.Run(order, func(t *testing.T) {
			reorder(t, filepath.Join(dir, "measurements.csv"), sorted)
			sizes.summedRows = 160
			require.Equal(t, whole, sum(), "in parts")
		})
	}
	if !breadth.Wide() {
		return
	}
	reorder(t, filepath.Join(dir, "measurements.csv"), rowOrders["shuffled"])
	sizes.summedRows = usual.summedRows
	require.Equal(t, whole, sum(), "shuffled, in one part")
	sizes.groupedKeys = 1
	require.Equal(t, whole, sum(), "one thread")
}

// rowOrders are orders in which the rows of a sheet of measurements may stand: each
// sorts lines, which come by form.
var rowOrders = map[string]func(lines []string){
	"by form": func([]string) {},
	"by point": func(lines []string) {
		slices.SortStableFunc(lines, func(a, b string) int {
			x, y := strings.Split(a, ","), strings.Split(b, ",") // form_id, side, clothing, point, height …
			return cmp.Or(cmp.Compare(x[3], y[3]), cmp.Compare(x[4], y[4]), cmp.Compare(x[1], y[1]))
		})
	},
	"shuffled": func(lines []string) {
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	},
	"the second half shuffled": func(lines []string) {
		rest := lines[len(lines)/2:]
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	},
}

// reorder writes a sheet anew with its rows in another order.
func reorder(t testing.TB, path string, sorted func(lines []string)) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n")
	slices.Sort(lines[1:])
	sorted(lines[1:])
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")+"\n"), 0o600))
}

func threadsOf(t *testing.T, db *sql.DB) (n int) {
	require.NoError(t, db.QueryRowContext(context.Background(), "SELECT current_setting('threads')").Scan(&n))
	return n
}
