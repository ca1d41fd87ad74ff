//go:build unix

package load

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/grid/testdata/workbooks"
)

var workbookRows = flag.Int("workbook-rows", 0, "rows of the workbook that TestLargeWorkbook loads; 0: 3000, with CI=true; 300000 for the long check")

// largeWorkbook writes a ledger of invented orders with ten numbers each as a
// workbook of one tab, with a mapping.
func largeWorkbook(t testing.TB, rows int) (dir string) {
	dir = t.TempDir()
	r := rand.New(rand.NewPCG(1, 1))
	places, middle := []string{"Ball", "Instep", "Heel", "Ankle", "7 in"}, []float64{240, 250, 335, 225, 260}
	header := []any{"Order", "Customer", "In", "Shipped"}
	for _, side := range []string{"L", "R"} {
		for _, p := range places {
			header = append(header, p+" "+side)
		}
	}
	table := [][]any{header}
	for i := range rows {
		day := float64(42000 + i*1500/rows)
		row := []any{fmt.Sprintf("N%d", i), fmt.Sprintf("C%d", r.IntN(rows)), workbooks.Cell{Value: day, Style: workbooks.Day}, workbooks.Cell{Value: day + 30, Style: workbooks.Day}}
		for range 2 {
			for _, m := range middle {
				row = append(row, float64(int(m*(0.93+0.14*r.Float64())/25.4*8))/8)
			}
		}
		table = append(table, row)
	}
	workbooks.XLSX(t, filepath.Join(dir, "ledger.xlsx"), workbooks.Tab{Name: "Ledger", Rows: table})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "map.yaml"), []byte(`
file: ledger.xlsx
order: Order
unit: in
orders: {customer_id: Customer, received_on: In, shipped_on: Shipped}
forms: {form_no: {always: 1}, received_on: In, cut_from: {always: "yes"}}
measurements: {numbers: [{columns: "{point} {side}"}, {columns: "{height} {side}"}]}
`), 0o644))
	return dir
}

// A workbook of hundreds of thousands of rows loads within 1 GiB.
func TestLargeWorkbook(t *testing.T) {
	rows := *workbookRows
	if rows == 0 {
		breadth.Leave(t, "TestWorkbookAndParquet loads a small one")
		rows = 3000
	}
	dir, book := largeWorkbook(t, rows), newBook(t)
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), crashBook+"="+book, crashDir+"="+filepath.Join(dir, "ledger.xlsx"), crashMap+"="+filepath.Join(dir, "map.yaml"))
	out, err := c.CombinedOutput()
	require.NoError(t, err, "%s", out)
	used := c.ProcessState.SysUsage().(*syscall.Rusage)
	peak := used.Maxrss >> 10 // it is in KiB, but on macOS
	t.Logf("%d rows: %d MiB at most, %.1f s of processor time", rows, peak, c.ProcessState.UserTime().Seconds()+c.ProcessState.SystemTime().Seconds())
	assert.Less(t, peak, int64(1024))
	assert.Equal(t, []string{fmt.Sprintf("%d %d", rows, 10*rows)},
		ask(t, book, "SELECT (SELECT count(*) FROM orders) || ' ' || (SELECT count(*) FROM measured)"))
}

func BenchmarkWorkbook(b *testing.B) {
	rows := cmp.Or(*workbookRows, 3000)
	dir := largeWorkbook(b, rows)
	opt := options(filepath.Join(dir, "ledger.xlsx"))
	opt.Map, opt.Need, opt.JudgeLater = filepath.Join(dir, "map.yaml"), []string{"orders"}, true
	for b.Loop() {
		_, err := Sheets(context.Background(), newBook(b), opt)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}
