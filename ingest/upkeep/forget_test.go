package upkeep

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/keyed"
	"lastroom/ingest/testdata/books"

	"github.com/stretchr/testify/require"
)

// Two customers; anna's ids are long enough to be searched for in raw files.
func twoCustomers(t testing.TB) string {
	return `
INSERT INTO orders BY NAME (SELECT unnest(['order-of-anna-1', 'order-of-anna-2', 'order-of-bert-1']) AS order_id,
  unnest(['customer-anna', 'customer-anna', 'customer-bert']) AS customer_id, DATE '2026-01-01' AS received_on, 1 AS load_id);
INSERT INTO orders_history BY NAME (SELECT 'order-of-bert-1' AS order_id, 'customer-anna' AS customer_id, 1 AS load_id, 2 AS until_load);
INSERT INTO forms BY NAME (SELECT 'form-of-' || order_id AS form_id, order_id, 'hammer toe of ' || customer_id AS irregularities, 1 AS load_id FROM orders);
INSERT INTO forms_history BY NAME (SELECT *, 2 AS until_load FROM forms);
CREATE TEMP TABLE written AS FROM measurements LIMIT 0;
INSERT INTO written BY NAME (SELECT form_id, 'left' AS side, 'bare' AS clothing, 'ball' AS point, 250 AS value_mm, '250' AS value_written, 'mm' AS unit, 1 AS load_id FROM forms);
INSERT INTO written BY NAME (SELECT form_id, 'left' AS side, 'bare' AS clothing, 'heel' AS point, 333.375 AS value_mm, '13 1/8' AS value_written, 'in' AS unit, 1 AS load_id FROM forms WHERE order_id = 'order-of-anna-1');
` + books.Fixture(t, "take_written") + `
INSERT INTO form_numbers SELECT form_id, sum(` + bookfile.RowHash + `), count(*), sum(CASE point WHEN 'ball' THEN 4 ELSE 16 END), 0, 0, 0, 0, 0, 0 FROM measurements GROUP BY form_id;
INSERT INTO form_evidence BY NAME (SELECT form_id, 'x' AS model FROM forms);
INSERT INTO outcomes BY NAME (SELECT order_id, 'kept' AS result, 1 AS load_id FROM orders);
INSERT INTO callbacks BY NAME (SELECT form_id, 1 AS load_id FROM forms);
INSERT INTO repeats BY NAME (SELECT 's' AS session_id, 'customer-anna' AS subject_id, 1 AS load_id);
`
}

func parquetText(t testing.TB, query string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.parquet")
	db, err := bookfile.Open(context.Background(), "", false)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("COPY (" + query + ") TO " + engine.Quote(path) + " (FORMAT parquet)")
	require.NoError(t, err)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(text)
}

func TestForget(t *testing.T) {
	ctx := context.Background()
	book := books.File(t, twoCustomers(t))
	f := bookfile.FilesOf(book)
	const orders = "\ufefforder_id; Customer ID;received_on\r\n" +
		"order-of-anna-1;customer-anna;2026-01-01\r\n" +
		"order-of-bert-1;customer-bert;2026-01-01\r\n" +
		"order-of-anna-2;\"customer-anna\";\"2026\n-01-01\"\r\n"
	keptSheets(t, book, map[string]string{
		"orders.csv":           orders,
		"outcomes.parquet":     parquetText(t, "SELECT unnest(['order-of-anna-1', 'order-of-bert-1']) AS order_id, 'kept' AS result"),
		"costs.csv":            "item,value\nremake,400\n",
		"map.yaml":             "columns: {customer-anna: 1}\n",
		"wide.csv":             "Kundin,L ball\ncustomer-anna,250\n",
		"wide-of-others.csv":   "Kundin,L ball\ncustomer-annabel,250\n",
		"wide-of-others-2.csv": "Kundin,L ball\ncustomer-bert,250\n",
	})
	for path, text := range map[string]string{
		filepath.Join(f.Cache(), "x"):            "order-of-anna-1",
		filepath.Join(f.Runs(), "a", "run.html"): "<td>order-of-anna-1</td>",
		filepath.Join(f.Runs(), "b", "run.html"): "<td>order-of-anna-11</td>",
	} {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	keepTyped(t, keyed.Store{Files: f})
	keepTraining(t, f)
	note, copied := filepath.Join(f.Notebooks(), "mine.md"), filepath.Join(t.TempDir(), "rejects.csv")
	for path, text := range map[string]string{note: "# Mine\n\nSee order-of-anna-1.\n", copied: "order_id,customer_id\norder-of-anna-2,customer-anna\n"} {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	require.NoError(t, bookfile.NoteCopy(f, "rows kept out", copied, time.Now()))
	require.NotEmpty(t, heldBy(t, filepath.Dir(book), "customer-anna"))

	got, err := Forget(ctx, book, "customer-anna", bookfile.WriterOptions{Program: "test", Now: time.Date(2026, 6, 3, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	// 2 orders, 1 mistaken old row, 2 forms, 2 old ones, 3 numbers, 2 counts,
	// 2 judgements, 2 outcomes, 2 call-backs, 1 repeat; an order and its form are the desk's
	left := strings.Join(got.Left, "\n")
	require.Len(t, got.Left, 2, left)
	require.Contains(t, left, "mine.md names the person (line 3)")
	require.Contains(t, left, copied)
	got.Left = nil
	require.Equal(t, &Forgotten{Orders: 3, Forms: 3, Rows: 19, Sheets: 2, SheetRows: 3, SheetsRemoved: 1, Runs: 1, Training: 2}, got)
	require.NoError(t, durable.Remove(note))

	// Nothing of anna is left in any file, free blocks included.
	require.NoError(t, os.Remove(filepath.Join(f.Runs(), "b", "run.html")))
	require.Equal(t, []string{"order-of-bert", "typed-of-bert"}, heldBy(t, filepath.Dir(book), "customer-anna\"", "hammer toe of customer-anna",
		"order-of-anna", "form-of-order-of-anna", "typed-of-anna", "form-of-anna", "13 1/8", "order-of-bert", "typed-of-bert"))
	session, err := os.ReadFile(filepath.Join(f.Sessions(), "C.lines"))
	require.NoError(t, err)
	require.NotContains(t, string(session), "251")
	require.Contains(t, string(session), "240")
	require.NoFileExists(t, filepath.Join(f.Learners(), "A.lines"))
	require.FileExists(t, filepath.Join(f.Learners(), "B.lines"))
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
	require.Equal(t, 6, v.Sheets)

	// Bert's rows are what they were, in the book and in the kept sheets.
	tables := contents(t, book)
	require.Equal(t, 1, strings.Count(tables["orders"], "customer-bert"))
	require.Contains(t, tables["forms_history"], "form-of-order-of-bert-1")
	require.Contains(t, tables["load_files"], "a person was forgotten")
	require.NotContains(t, tables["load_files"], "anna")
	entries, err := os.ReadDir(f.Sheets())
	require.NoError(t, err)
	seen := map[string]string{}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(f.Sheets(), e.Name()))
		require.NoError(t, err)
		seen[filepath.Ext(e.Name())] += string(text)
	}
	require.Contains(t, seen[".csv"], "\ufefforder_id; Customer ID;received_on\r\norder-of-bert-1;customer-bert;2026-01-01\r\n")

	before := books.FolderHash(t, filepath.Dir(book))
	_, err = Forget(ctx, book, "customer-anna", bookfile.WriterOptions{Program: "test", Now: time.Now()})
	require.ErrorIs(t, err, errNobody)
	require.Equal(t, before, books.FolderHash(t, filepath.Dir(book)))
	_, err = Forget(ctx, filepath.Join(t.TempDir(), "none.duckdb"), "x", bookfile.WriterOptions{})
	require.ErrorContains(t, err, "no order book")
}

// heldBy are those of the texts that any file under dir holds, or the book when asked
// for all its text.
func heldBy(t testing.TB, dir string, texts ...string) (found []string) {
	t.Helper()
	var all bytes.Buffer
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all.Write(append(b, 0))
		return err
	}))
	for _, rows := range contents(t, filepath.Join(dir, "shop.duckdb")) {
		all.WriteString(rows + "\x00")
	}
	for _, text := range texts {
		if bytes.Contains(all.Bytes(), []byte(text)) {
			found = append(found, text)
		}
	}
	return found
}

// A person in the kept sheets only, as after a crash, is still taken out, and nobody
// whose order has the person's number.
func TestForgetFromSheetsAlone(t *testing.T) {
	ctx := context.Background()
	book := books.File(t)
	keptSheets(t, book, map[string]string{"orders.csv": "order_id,customer_id\n12,7\n7,12\n120,70\n"})
	got, err := Forget(ctx, book, "7", bookfile.WriterOptions{Program: "test", Now: time.Now()})
	require.NoError(t, err)
	require.Equal(t, &Forgotten{Orders: 1, Sheets: 1, SheetRows: 1, Left: []string{}}, got)
	kept, err := filepath.Glob(filepath.Join(bookfile.FilesOf(book).Sheets(), "*.csv"))
	require.NoError(t, err)
	require.Len(t, kept, 1)
	text, err := os.ReadFile(kept[0])
	require.NoError(t, err)
	require.Equal(t, "order_id,customer_id\n7,12\n120,70\n", string(text))
}

// The book written anew has the same tables, types and rows, and a load more.
func TestBookWrittenAnew(t *testing.T) {
	breadth.Leave(t, "TestForget has the book written anew, with the others' rows as they were")
	ctx := context.Background()
	book := books.File(t, strings.ReplaceAll(books.Fixture(t, "many_orders"), "@N", "2000"), books.Fixture(t, "some_numbers"))
	types := func() (all string) {
		require.NoError(t, withBook(ctx, book, func(conn *sql.Conn) error {
			return conn.QueryRowContext(ctx, `SELECT string_agg(table_name || '.' || column_name || ' ' || data_type || is_nullable, chr(10) ORDER BY table_name, column_index)
				FROM duckdb_columns() WHERE database_name = 'book'`).Scan(&all)
		}))
		return all
	}
	rows, columns := contents(t, book), types()
	w, err := bookfile.OpenWriter(ctx, book, bookfile.WriterOptions{Program: "test", Now: time.Date(2026, 6, 2, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	defer w.Close()
	require.NoError(t, w.PublishAnew(ctx, nil))
	now := contents(t, book)
	require.Contains(t, now["loads"], rows["loads"])
	now["loads"] = rows["loads"]
	require.Equal(t, rows, now)
	require.Equal(t, columns, types())
}
