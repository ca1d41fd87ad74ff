//go:build unix

package upkeep

import (
	"archive/zip"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/load"
	"lastroom/ingest/testdata/books"
)

// Environment of a child that forgets a person and is killed at the nth step, or at
// the first of a name.
const (
	killBook = "LASTROOM_TEST_FORGET"
	killStep = "LASTROOM_TEST_FORGET_STEP"
)

func TestMain(m *testing.M) {
	book := os.Getenv(killBook)
	if book == "" {
		flag.Parse()
		var err error
		if sharedDir, err = os.MkdirTemp("", "lastroom-upkeep-"); err != nil {
			panic(err)
		}
		status := m.Run()
		os.RemoveAll(sharedDir)
		os.Exit(status)
	}
	n := 0
	_, err := Forget(context.Background(), book, "customer-anna", bookfile.WriterOptions{Program: "test", Now: time.Now(), AtStep: func(step string) {
		n++
		fmt.Println(step)
		if at := os.Getenv(killStep); at == step || at == fmt.Sprint(n) {
			syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		}
	}})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// annasShop is a book with a customer in every place that a person can stand in:
// tables, history, a form whose order's row was refused, sheets as text, Parquet,
// workbook and in a layout of the shop's own, runs, uploads, cache.
var annasShop = shared(func(t testing.TB, book string) {
	ctx := context.Background()
	write := func(path, text string) string {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	take := func(o load.Options, held int) {
		o.Program, o.Now, o.JudgeLater = "test", time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), true
		r, err := load.Sheets(ctx, book, o)
		require.NoError(t, err)
		require.Len(t, r.KeptOut, held, "%v", r.KeptOut)
	}
	in := t.TempDir()
	// The second order of anna has a day that can't be read: its form is in the book all the same.
	write(filepath.Join(in, "orders.csv"), "order_id,customer_id,received_on\norder-of-anna-1,customer-anna,2026-01-01\norder-of-anna-2,customer-anna,in spring\norder-of-bert-1,customer-bert,2026-01-01\n")
	write(filepath.Join(in, "forms.csv"), "form_id,order_id,received_on,cut_from,irregularities\nform-of-anna-1,order-of-anna-1,2026-01-01,yes,\nform-of-anna-2,order-of-anna-2,2026-01-01,yes,bunion-of-anna\nform-of-bert-1,order-of-bert-1,2026-01-01,yes,\n")
	write(filepath.Join(in, "measurements.csv"), "form_id,side,clothing,point,height,value,unit\nform-of-anna-1,left,bare,ball,,251.7,mm\nform-of-anna-2,left,bare,ball,,253.9,mm\nform-of-bert-1,left,bare,ball,,240,mm\n")
	write(filepath.Join(in, "outcomes.parquet"), parquetText(t, "SELECT unnest(['order-of-anna-1', 'order-of-bert-1']) AS order_id, 'kept' AS result, DATE '2026-03-01' AS reported_on"))
	x := excelize.NewFile()
	require.NoError(t, x.SetSheetName("Sheet1", "callbacks"))
	for i, row := range [][]any{{"form_id", "called_on", "fault"}, {"form-of-anna-1", "2026-01-05", "of-anna-only"}, {"form-of-bert-1", "2026-01-05", ""}} {
		require.NoError(t, x.SetSheetRow("callbacks", fmt.Sprintf("A%d", i+1), &row))
	}
	require.NoError(t, x.SaveAs(filepath.Join(in, "callbacks.xlsx")))
	take(load.Options{Paths: []string{in}}, 1)
	wide := t.TempDir()
	mapping := write(filepath.Join(wide, "layout.yaml"), "from: fitting book\nunit: mm\norders:\n  order_id: Order no\n  customer_id: Person\nforms:\n  form_id: Order no\n  order_id: Order no\nmeasurements:\n  form_id: Order no\n  numbers:\n    - {column: L ball, side: left, point: ball}\n")
	write(filepath.Join(wide, "fitting book.csv"), "Order no,Person,L ball\norder-of-anna-9,customer-anna,257.3\norder-of-bert-9,customer-bert,240\n")
	take(load.Options{Paths: []string{wide}, Map: mapping}, 0)
	f := bookfile.FilesOf(book)
	write(filepath.Join(f.Cache(), "x"), "order-of-anna-1")
	write(filepath.Join(f.Runs(), "a-1", "tables", "orders.csv"), "order_id\norder-of-anna-2\n")
	write(filepath.Join(f.Runs(), "b-1", "document.cbor"), "\x00\xa1\x63ids\x81\x6forder-of-anna-1x")
	write(filepath.Join(f.Runs(), "c-1", "page.html"), "<p>order-of-bert-1</p>")
	write(filepath.Join(f.Dir, "incoming", "UP", "orders.csv"), "order_id,customer_id\nnew,customer-anna\n")
	require.NoError(t, os.MkdirAll(filepath.Join(f.Dir, "incoming", "BOOK", "files", "1"), 0o700))
	require.NoError(t, x.SaveAs(filepath.Join(f.Dir, "incoming", "BOOK", "files", "1", "waiting.xlsx"))) // sent to the service, not loaded yet
})

// annasWords are texts that only anna's rows hold.
var annasWords = []string{"customer-anna", "order-of-anna", "form-of-anna", "of-anna", "251.7", "253.9", "257.3"}

// requireForgotten searches every byte beside a book, workbooks unpacked, and
// every text in the book.
func requireForgotten(t testing.TB, book string) {
	t.Helper()
	require.Empty(t, heldBy(t, filepath.Dir(book), annasWords...))
	f := bookfile.FilesOf(book)
	require.NoDirExists(t, filepath.Join(f.Dir, "incoming"), "a workbook that waits can't be looked through")
	workbooks, err := filepath.Glob(filepath.Join(f.Sheets(), "*.xlsx"))
	require.NoError(t, err)
	for _, path := range workbooks {
		require.NotContains(t, unzipped(t, path), "anna")
	}
}

func unzipped(t testing.TB, path string) string {
	t.Helper()
	z, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer z.Close()
	var all strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		_, err = io.Copy(&all, r)
		require.NoError(t, err)
		r.Close()
	}
	return all.String()
}

// The program killed at each of its steps in forgetting a person: the next
// command forgets the rest, whatever of the person stood where. When the book has just
// taken its name, in a book filled by hand; with CI=true at every eighth step, in one
// that has the person everywhere, with -campaign at all.
func TestForgetKilledAtEachStep(t *testing.T) {
	kill := func(t *testing.T, book, step string) []string {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), killBook+"="+book, killStep+"="+step)
		c.Stderr = os.Stderr
		out, err := c.Output()
		if step != "" {
			require.ErrorContains(t, err, "killed")
		} else {
			require.NoError(t, err)
		}
		return strings.Fields(strings.ReplaceAll(string(out), " ", "-"))
	}
	book := byHand(t)
	kill(t, book, "renamed")
	requireTheRestForgotten(t, book, "renamed")
	require.Contains(t, contents(t, book)["orders"], "customer-bert")
	if !breadth.Wide() {
		return
	}

	shop := annasShop(t)
	again := func() string { return filepath.Join(books.Copy(t, filepath.Dir(shop)), "shop.duckdb") }
	whole := again()
	steps := kill(t, whole, "")
	requireForgotten(t, whole)
	require.Contains(t, steps, "renamed")
	want := contents(t, whole)
	for i, step := range steps {
		if !breadth.Campaign() && i%8 != 1 {
			continue
		}
		t.Run(step, func(t *testing.T) {
			book := again()
			kill(t, book, fmt.Sprint(i+1))
			requireTheRestForgotten(t, book, step)
			now := contents(t, book)
			for _, table := range []string{"orders", "forms", "measured", "outcomes", "callbacks"} {
				require.Equal(t, want[table], now[table], table)
			}
		})
	}
}

// requireTheRestForgotten goes on where forgetting was killed at a step, after which
// nothing of the person is left and there is nothing to go on with.
func requireTheRestForgotten(t *testing.T, book, step string) {
	t.Helper()
	ctx, opt := context.Background(), bookfile.WriterOptions{Program: "test", Now: time.Now()}
	var err error
	if step == "copied" { // nothing had begun: the person is still to be asked for
		_, err = Forget(ctx, book, "customer-anna", opt)
	} else {
		_, err = FinishForgetting(ctx, book, opt)
	}
	require.NoError(t, err)
	requireForgotten(t, book)
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
	require.NotContains(t, fmt.Sprint(v.Unfinished), "forgotten")
	nothing, err := FinishForgetting(ctx, book, opt)
	require.NoError(t, err)
	require.Nil(t, nothing)
}

// Where the person is left is said: in what people wrote, and in copies made
// before, and in those alone that hold them.
func TestForgetNamesWhatItLeaves(t *testing.T) {
	breadth.Leave(t, "TestForget names what it leaves in a notebook and in a copy")
	ctx := context.Background()
	book := annasShop(t)
	f := bookfile.FilesOf(book)
	for path, text := range map[string]string{
		filepath.Join(f.Notebooks(), "mine.md"):    "# Mine\n\nSee order-of-anna-1.\n",
		filepath.Join(f.Layouts(), "Ours.yaml"):    "tables:\n- order: Nr\n  skip: {column: Nr, is: order-of-anna-1}\n  orders: {customer_id: Who}\n",
		filepath.Join(f.Dir, "decisions.jsonl"):    "{\"run\":\"a-1\"}\n{\"run\":\"c-1\"}\n",
		filepath.Join(t.TempDir(), "rejects.csv"):  "order_id,customer_id\norder-of-anna-2,customer-anna\n",
		filepath.Join(t.TempDir(), "rejects2.csv"): "order_id,customer_id\nx,customer-bert\n",
	} {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		if strings.HasSuffix(path, ".csv") {
			require.NoError(t, bookfile.NoteCopy(f, "rows kept out", path, time.Now()))
		}
	}
	backup, export := filepath.Join(t.TempDir(), "b"), filepath.Join(t.TempDir(), "e")
	_, err := Backup(ctx, book, backup, "test")
	require.NoError(t, err)
	_, err = Export(ctx, book, export, "test")
	require.NoError(t, err)
	require.NoError(t, bookfile.NoteCopy(f, "backup", backup, time.Now()))
	require.NoError(t, bookfile.NoteCopy(f, "export", export, time.Now()))
	g, err := Forget(ctx, book, "customer-anna", bookfile.WriterOptions{Program: "test", Now: time.Now()})
	require.NoError(t, err)
	left := strings.Join(g.Left, "\n")
	require.Len(t, g.Left, 6, left)
	require.Contains(t, left, "Ours.yaml names the person (line 3)")
	require.Contains(t, left, "mine.md names the person (line 3)")
	require.Contains(t, left, "decisions.jsonl rests on a run that named the person and was removed (line 1)")
	require.Contains(t, left, "rejects.csv")
	require.NotContains(t, left, "rejects2.csv")
	require.Contains(t, left, "backup "+backup)
	require.Contains(t, left, "export "+export)
	require.NoError(t, durable.Remove(filepath.Join(f.Notebooks(), "mine.md")))
	require.FileExists(t, filepath.Join(backup, "files", "layouts", "Ours.yaml"))
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
	require.NoError(t, os.WriteFile(filepath.Join(f.Layouts(), "Ours.yaml"), []byte("tables:\n- order: {\x00"), 0o600))
	v, err = Verify(ctx, book)
	require.NoError(t, err)
	require.Len(t, v.Problems, 1)
	require.Contains(t, v.Problems[0], "the kept layout Ours can't be read")
	require.NoError(t, durable.Remove(filepath.Join(f.Layouts(), "Ours.yaml")))
	requireForgotten(t, book)
}
