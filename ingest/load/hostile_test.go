package load

import (
	"archive/zip"
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/grid/testdata/workbooks"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// Damaged and hostile files give a clear error and leave the book as it was: a text, a
// header, a workbook and a Parquet file; with CI=true all that are known.
func TestHostileFiles(t *testing.T) {
	ctx := context.Background()
	book := smallBook(t)
	before, err := os.ReadFile(book)
	require.NoError(t, err)

	header := "order_id,customer_id\n"
	good := workbookBytes(t, func(f *excelize.File) { require.NoError(t, f.SetCellValue("orders", "A2", "O9")) })
	for name, c := range map[string]struct{ file, text, want string }{
		"empty":             {"orders.csv", "", "is empty"},
		"blank first line":  {"orders.csv", "\norder_id\nO1\n", "first line is empty"},
		"NUL":               {"orders.csv", header + "O1,C\x001\n", "line 2: holds a NUL byte"},
		"invalid UTF-8":     {"orders.csv", header + "O1,Mü\nO2,M\xfcller\n", "line 3: is neither UTF-8"},
		"cut in a letter":   {"orders.csv", header + "O1,M\xc3", "cut short"},
		"cut UTF-16":        {"orders.csv", "\xff\xfeo\x00r\x00", "has no column order_id"},
		"zip named csv":     {"orders.csv", string(good), "is a zip or XLSX file"},
		"a million columns": {"orders.csv", "order_id" + strings.Repeat(",c", 100_000) + "\n", "columns; a sheet has at most"},
		"endless header":    {"orders.csv", strings.Repeat("order_id,", 200_000), "longer than 1 MiB"},
		"open quote":        {"orders.csv", "\"order_id,customer_id\nO1,C1\n", "never closed"},
		"no id column":      {"orders.csv", "customer_id\nC1\n", "has no column order_id"},
		"column twice":      {"orders.csv", "order_id,Order ID\nO1,O1\n", "both hold order_id"},
		"unknown file":      {"other.csv", "a,b\n1,2\n", "is no order sheet"},
		"no workbook":       {"orders.xlsx", "order_id\nO1\n", "is no workbook by its content"},
		"password":          {"orders.xlsx", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("x", 600), "password"},
		"cut workbook":      {"orders.xlsx", string(good[:len(good)/2]), "damaged or was cut short"},
		"binary workbook":   {"orders.xlsx", string(binary(t)), "is a binary workbook (.xlsb)"},
		"zip bomb":          {"orders.xlsx", string(bomb(t)), "unpacks to more than 25 MiB"},
		"no parquet":        {"orders.parquet", strings.Repeat("x", 100), "no Parquet file"},
		"cut parquet":       {"orders.parquet", "PAR1" + strings.Repeat("x", 100), "cut short"},
		"damaged parquet":   {"orders.parquet", "PAR1" + strings.Repeat("x", 100) + "\x40\x00\x00\x00PAR1", "can't be read as Parquet"},
	} {
		if !breadth.Wide() && !slices.Contains([]string{"NUL", "a million columns", "zip bomb", "damaged parquet"}, name) {
			continue
		}
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			require.NoError(t, os.WriteFile(path, []byte(c.text), 0o644))
			_, err := Sheets(ctx, book, options(path))
			require.ErrorContains(t, err, c.want)
			assert.Contains(t, err.Error(), c.file)
			after, err := os.ReadFile(book)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(before, after), "the book changed")
		})
	}
	left, err := os.ReadDir(bookfile.FilesOf(book).Dir)
	require.NoError(t, err)
	for _, e := range left {
		assert.NotEqual(t, "work", e.Name(), "scratch files were left")
	}
}

// A sheet of which a hundred thousand rows can't be taken is refused with the first
// reason; fewer are told one by one: with CI=true as many as may be, every day those of
// TestRejects.
func TestASheetOfRowsThatCantBeTaken(t *testing.T) {
	book := newBook(t)
	dir := writeSheets(t, map[string]string{"orders.csv": "order_id,customer_id\nO1,A\n" + strings.Repeat(",A\n", mostKeptOut+1)})
	r, err := Sheets(context.Background(), book, options(dir))
	require.ErrorContains(t, err, "orders.csv: 50001 of its 50002 rows can't be taken, the first because order_id is empty, but a row needs it")
	assert.Empty(t, r.KeptOut)
	if !breadth.Wide() {
		return
	}
	dir = writeSheets(t, map[string]string{"orders.csv": "order_id,customer_id\nO1,A\n" + strings.Repeat(",A\n", mostKeptOut)})
	r, err = Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Len(t, r.KeptOut, mostKeptOut+1, "and a form of no order")
}

// In a workbook of some kilobytes there can be a million rows that are alike.
func TestWorkbookOfTooManyRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "orders.xlsx")
	text := func(s string) string { return `<c t="inlineStr"><is><t>` + s + `</t></is></c>` }
	workbooks.File(t, path, map[string]string{
		"xl/workbook.xml":            `<workbook><sheets><sheet name="orders" id="r"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml": `<worksheet><sheetData><row>` + text("order_id") + text("customer_id") + `</row>` +
			strings.Repeat(`<row><c><v>1</v></c></row>`, 250_000) + `</sheetData></worksheet>`,
	})
	_, err := Sheets(t.Context(), newBook(t), options(path))
	require.ErrorContains(t, err, "orders.xlsx: has more rows than the 20")
}

// In a Parquet file there can be any number of them.
func TestParquetOfTooManyRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "orders.parquet")
	db, err := engine.Open(t.Context(), "", false)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.ExecContext(t.Context(), "COPY (SELECT 'O1' AS order_id, 'A' AS customer_id FROM range(600000)) TO "+engine.Quote(path))
	require.NoError(t, err)
	_, err = Sheets(t.Context(), newBook(t), options(path))
	require.ErrorContains(t, err, "orders.parquet: has more rows than the 50")
}

// Rows that only look dangerous are plain text.
func TestHostileCells(t *testing.T) {
	breadth.Leave(t, "TestRejects has such cells")
	book := newBook(t)
	dir := writeSheets(t, map[string]string{
		"orders.csv": "order_id,customer_id,closure\n\"O1\",\"'; DROP TABLE orders; --\",=1+1\nO2,\"a\"\"b\",\"<script>alert(1)</script>\"\n",
	})
	r, err := Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, []string{"O1 '; DROP TABLE orders; -- =1+1", `O2 a"b <script>alert(1)</script>`},
		ask(t, book, "SELECT concat_ws(' ', order_id, customer_id, closure) FROM orders ORDER BY 1"))
}

func workbookBytes(t testing.TB, edit func(*excelize.File)) []byte {
	f := excelize.NewFile()
	require.NoError(t, f.SetSheetName("Sheet1", "orders"))
	require.NoError(t, f.SetSheetRow("orders", "A1", &[]string{"order_id", "customer_id"}))
	edit(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	return b.Bytes()
}

// binary is the container of a binary workbook.
func binary(t testing.TB) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	_, err := z.Create("xl/workbook.bin")
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

// bomb is a workbook whose sheet unpacks to 64 MB.
func bomb(t testing.TB) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("xl/worksheets/sheet1.xml")
	require.NoError(t, err)
	block := bytes.Repeat([]byte{' '}, 1<<20)
	for range 64 {
		_, err := w.Write(block)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

func TestCancelledLoadChangesNothing(t *testing.T) {
	book := newBook(t)
	ctx, cancel := context.WithCancel(context.Background())
	opt := options(writeSheets(t, nil))
	opt.Progress = func(string, float64) { cancel() }
	_, err := Sheets(ctx, book, opt)
	require.ErrorIs(t, err, context.Canceled)
	_, err = os.Stat(book)
	assert.True(t, os.IsNotExist(err))
}

func TestCorruptBook(t *testing.T) {
	ctx := context.Background()
	dir := writeSheets(t, nil)
	book := smallBook(t)
	f := bookfile.FilesOf(book)
	snapshot, err := os.ReadFile(f.Snapshot())
	require.NoError(t, err)

	t.Run("another file in its place", func(t *testing.T) {
		require.NoError(t, os.WriteFile(book, bytes.Repeat([]byte("not a book "), 1000), 0o644))
		_, err := Sheets(ctx, book, options(dir))
		require.ErrorIs(t, err, bookfile.ErrDamaged)
		require.ErrorIs(t, bookfile.Settle(ctx, f, "test"), bookfile.ErrDamaged)
		now, err := os.ReadFile(f.Snapshot())
		require.NoError(t, err)
		assert.True(t, bytes.Equal(snapshot, now), "the last good snapshot stays")
	})
	t.Run("another database", func(t *testing.T) {
		require.NoError(t, os.Remove(book))
		db, err := bookfile.Open(ctx, book, false)
		require.NoError(t, err)
		_, err = db.Exec("CREATE TABLE t (i INTEGER)")
		require.NoError(t, err)
		require.NoError(t, db.Close())
		_, err = Sheets(ctx, book, options(dir))
		require.ErrorIs(t, err, bookfile.ErrDamaged)
	})
	t.Run("an older book", func(t *testing.T) {
		breadth.Leave(t, "TestCorrectedRowsSupersede puts one in its place")
		require.NoError(t, os.WriteFile(book, snapshot, 0o644))
		opt := options(writeSheets(t, map[string]string{"orders.csv": strings.Replace(small["orders.csv"], "pull-on", "lace-up", 1)}))
		_, err := Sheets(ctx, book, opt)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(book, snapshot, 0o644))
		_, err = Sheets(ctx, book, options(dir))
		require.ErrorIs(t, err, bookfile.ErrDamaged)
		assert.Contains(t, err.Error(), "lists load 2")
	})
	t.Run("a newer schema", func(t *testing.T) {
		book := smallBook(t)
		db, err := bookfile.Open(ctx, book, false)
		require.NoError(t, err)
		_, err = db.Exec("UPDATE schema_version SET version = 99; CHECKPOINT")
		require.NoError(t, err)
		require.NoError(t, db.Close())
		_, err = Sheets(ctx, book, options(dir))
		require.ErrorContains(t, err, "newer than this program knows")
	})
}

func TestOneWriterAtATime(t *testing.T) {
	book := newBook(t)
	w, err := bookfile.OpenWriter(context.Background(), book, bookfile.WriterOptions{Program: "lastroom load", Now: loadedAt})
	require.NoError(t, err)
	_, err = bookfile.OpenWriter(context.Background(), book, bookfile.WriterOptions{Program: "other"})
	require.ErrorIs(t, err, bookfile.ErrBusy)
	assert.Contains(t, err.Error(), "is held by lastroom load (process ")
	require.NoError(t, w.Close())
	w, err = bookfile.OpenWriter(context.Background(), book, bookfile.WriterOptions{Program: "other"})
	require.NoError(t, err)
	require.NoError(t, w.Close())
}
