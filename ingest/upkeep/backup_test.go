package upkeep

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/keyed"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/testdata/books"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/require"
)

// keptSheets puts files into the folder of kept sheets under their hash and
// writes them into the ledger as a load of their own.
func keptSheets(t testing.TB, book string, files map[string]string) {
	t.Helper()
	ctx := context.Background()
	w, err := bookfile.OpenWriter(ctx, book, bookfile.WriterOptions{Program: "test", Now: time.Date(2026, 6, 2, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	defer w.Close()
	var list []bookfile.LedgerFile
	for name, text := range files {
		tmp := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(tmp, []byte(text), 0o600))
		sum, err := durable.Hash(tmp)
		require.NoError(t, err)
		require.NoError(t, durable.Copy(filepath.Join(bookfile.FilesOf(book).Sheets(), sum+filepath.Ext(name)), tmp))
		list = append(list, bookfile.LedgerFile{Sheet: strings.TrimSuffix(name, filepath.Ext(name)), File: name, SHA256: sum, Bytes: int64(len(text))})
	}
	require.NoError(t, w.Publish(ctx, list))
}

// contents reads all tables of a book, row by row in the order they stand.
func contents(t testing.TB, book string) map[string]string {
	t.Helper()
	ctx := context.Background()
	out := map[string]string{}
	require.NoError(t, withBook(ctx, book, func(conn *sql.Conn) error {
		names, err := bookTables(ctx, conn)
		require.NoError(t, err)
		for _, name := range names {
			rows, err := conn.QueryContext(ctx, "SELECT CAST(t AS VARCHAR) FROM book."+engine.QuoteName(name)+" t")
			require.NoError(t, err)
			var all []string
			for rows.Next() {
				var s string
				require.NoError(t, rows.Scan(&s))
				all = append(all, s)
			}
			require.NoError(t, rows.Err())
			require.NoError(t, rows.Close())
			out[name] = strings.Join(all, "\n")
		}
		return nil
	}))
	return out
}

// A backup is restored with all that stands beside the book: what was typed in, training,
// models, notebooks, sheets, though both it and a restore before were killed; and is
// refused when it is damaged. With CI=true the same book is backed up in the same bytes,
// too, as TestExportIsReadByASecondReader holds an export to every day.
func TestBackupComesBackEqual(t *testing.T) {
	ctx := context.Background()
	book := books.File(t, books.Fixture(t, "three_orders"), books.Fixture(t, "some_numbers"), "INSERT INTO settings VALUES ('ankle_girth', 'none')",
		"UPDATE form_numbers SET set_hash = 170141183460469231731687303715884105726 WHERE form_id = 'A1'")
	keptSheets(t, book, map[string]string{"orders.csv": "order_id\nA\n"})
	require.NoError(t, os.MkdirAll(bookfile.FilesOf(book).Notebooks(), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(bookfile.FilesOf(book).Notebooks(), "mine.md"), []byte("# mine\n"), 0o600))
	f := bookfile.FilesOf(book)
	keepTyped(t, keyed.Store{Files: f})
	keepTraining(t, f)
	model, _ := keepModel(t, f)
	dir := filepath.Join(t.TempDir(), "backup")
	killedBackup(t, dir)
	m, err := Backup(ctx, book, dir, "test")
	require.NoError(t, err)
	require.Equal(t, 2, m.Loads)
	require.NoFileExists(t, filepath.Join(dir, unfinishedName))

	if breadth.Wide() {
		again := filepath.Join(t.TempDir(), "backup")
		_, err = Backup(ctx, book, again, "test")
		require.NoError(t, err)
		for _, f := range m.Files { // the same book, the same bytes
			sum, err := durable.Hash(filepath.Join(again, f.Path))
			require.NoError(t, err)
			require.Equal(t, f.SHA256, sum, f.Path)
		}
	}
	_, err = Backup(ctx, book, dir, "test")
	require.ErrorContains(t, err, "not empty")

	other := filepath.Join(t.TempDir(), "other.duckdb")
	back := bookfile.FilesOf(other)
	killedRestore(t, dir, back)
	_, err = Restore(ctx, dir, other, "test")
	require.NoError(t, err)
	require.NoFileExists(t, back.Restoring())
	require.NoFileExists(t, filepath.Join(back.Sheets(), "half"))
	require.Equal(t, contents(t, book), contents(t, other))
	require.FileExists(t, filepath.Join(back.Notebooks(), "mine.md"))
	for from, to := range map[string]string{f.Keyed(): back.Keyed(), f.Learners(): back.Learners(), f.Sessions(): back.Sessions(), f.Models(): back.Models()} {
		kept, err := filepath.Glob(filepath.Join(from, "*.*"))
		require.NoError(t, err)
		require.NotEmpty(t, kept)
		for _, path := range kept {
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			got, err := os.ReadFile(filepath.Join(to, filepath.Base(path)))
			require.NoError(t, err)
			require.Equal(t, want, got, path)
		}
	}
	// set_hash was set by hand above, which verify must see, and nothing else.
	v, err := Verify(ctx, other)
	require.NoError(t, err)
	require.Equal(t, 1, v.Sheets)
	require.Len(t, v.Problems, 1, v.Problems)
	require.Contains(t, v.Unfinished, "what was typed in at the desk for some orders is not in the book yet (2)")
	require.Equal(t, m.Checksum, v.Checksum)
	r, err := orderbook.OpenReader(ctx, other, orderbook.Options{})
	require.NoError(t, err)
	require.NoError(t, r.Close())

	before := books.FolderHash(t, filepath.Dir(other))
	_, err = Restore(ctx, dir, other, "test")
	require.ErrorContains(t, err, "is there already")
	require.Equal(t, before, books.FolderHash(t, filepath.Dir(other)))

	flip := func(path string) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		text[len(text)/2] ^= 1
		require.NoError(t, os.WriteFile(path, text, 0o600))
	}
	flip(filepath.Join(back.Models(), model))
	flip(filepath.Join(back.Sessions(), "C.lines"))
	kept, err := filepath.Glob(filepath.Join(back.Keyed(), "*.json"))
	require.NoError(t, err)
	flip(kept[0])
	v, err = Verify(ctx, other)
	require.NoError(t, err)
	require.Len(t, v.Problems, 4, v.Problems)
	all := strings.Join(v.Problems, "\n")
	for _, want := range []string{"risk model " + model, "what the desk kept is damaged", "was changed"} {
		require.Contains(t, all, want)
	}

	flip(filepath.Join(dir, "tables", "orders.parquet"))
	none := filepath.Join(t.TempDir(), "none.duckdb")
	_, err = Restore(ctx, dir, none, "test")
	require.ErrorContains(t, err, "damaged")
	require.NoFileExists(t, none)
	require.NoDirExists(t, bookfile.FilesOf(none).Dir)
	_, err = Restore(ctx, t.TempDir(), none, "test")
	require.ErrorContains(t, err, "is no backup")
}

// Names in a backup lead nowhere but into the new book's folder, whatever they
// are: nothing is written. Five of them, with CI=true all.
func TestBackupNamesAreConfined(t *testing.T) {
	ctx := context.Background()
	home := t.TempDir()
	other := filepath.Join(home, "in", "other.duckdb")
	require.NoError(t, os.Mkdir(filepath.Join(home, "in"), 0o700))
	names := []string{"../x", "/etc/x", "files/../../x", "files/link/x", "files/lock", "files/../other.txt", "files//x", `files\..\x`, "x", path.Join("files", "work", "next.duckdb"),
		"files/snapshot.duckdb", "files/copies.jsonl", "tables/../files/x", "tables/a/b.parquet", "files/link2"}
	for _, name := range names[:breadth.Few(5, len(names))] {
		t.Run(name, func(t *testing.T) {
			evil := t.TempDir()
			for _, at := range []string{filepath.Join(evil, "files", "x"), filepath.Join(evil, "x"), filepath.Join(home, "x"), filepath.Join(evil, "other.txt")} {
				require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o700))
				require.NoError(t, os.WriteFile(at, nil, 0o600))
			}
			require.NoError(t, os.Symlink(home, filepath.Join(evil, "files", "link")))
			require.NoError(t, os.Symlink(filepath.Join(home, "x"), filepath.Join(evil, "files", "link2")))
			sum := fmt.Sprintf("%x", sha256.Sum256(nil))
			text, err := json.Marshal(Manifest{Format: backupFormat, Kind: "backup", Schema: 2, Files: []ManifestFile{{Path: name, SHA256: sum}}})
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(evil, manifestName), text, 0o600))
			before := books.FolderHash(t, home)
			_, err = Restore(ctx, evil, other, "test")
			require.Error(t, err)
			require.Equal(t, before, books.FolderHash(t, home))
			require.NoDirExists(t, bookfile.FilesOf(other).Dir)
		})
	}
}

// killedBackup leaves in a folder what a backup leaves that was killed.
func killedBackup(t testing.TB, dir string) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "tables"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, unfinishedName), nil, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "tables", "old.parquet"), nil, 0o600))
}

// killedRestore leaves what a restore of the backup leaves that was killed before the book
// was in its place.
func killedRestore(t testing.TB, backup string, f bookfile.Files) {
	t.Helper()
	require.NoError(t, os.MkdirAll(f.Sheets(), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(f.Sheets(), "half"), nil, 0o600))
	text, err := os.ReadFile(filepath.Join(backup, manifestName))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(f.Restoring(), fmt.Appendf(nil, "%x", sha256.Sum256(text)), 0o600))
}

// A restore that was killed is done by the next one: from the beginning, or,
// where the book was in its place, what stands beside it. So is a backup.
func TestRestoreAfterAKill(t *testing.T) {
	breadth.Leave(t, "TestBackupComesBackEqual goes on with a backup and a restore that were killed")
	ctx := context.Background()
	book := books.File(t, books.Fixture(t, "three_orders"))
	keptSheets(t, book, map[string]string{"costs.csv": "item,value\nremake,400\n"})
	dir := filepath.Join(t.TempDir(), "backup")
	killedBackup(t, dir)
	_, err := Backup(ctx, book, dir, "test")
	require.NoError(t, err)
	require.NoFileExists(t, filepath.Join(dir, unfinishedName))
	other := filepath.Join(t.TempDir(), "other.duckdb")
	f := bookfile.FilesOf(other)
	_, err = Restore(ctx, dir, other, "test")
	require.NoError(t, err)
	whole := contents(t, other)
	for what, damage := range map[string]func(){
		"before the book": func() {
			require.NoError(t, os.Remove(f.Book))
			require.NoError(t, os.Remove(f.Snapshot()))
		},
		"after the book": func() { require.NoError(t, errors.Join(os.Remove(f.Snapshot()), os.Remove(f.Ledger()))) },
	} {
		t.Run(what, func(t *testing.T) {
			killedRestore(t, dir, f)
			damage()
			if what == "after the book" {
				require.NoError(t, os.Remove(filepath.Join(f.Sheets(), "half")))
			}
			_, err := Restore(ctx, dir, other, "test")
			require.NoError(t, err)
			require.NoFileExists(t, f.Restoring())
			require.NoFileExists(t, filepath.Join(f.Sheets(), "half"))
			require.Equal(t, whole, contents(t, other))
			require.FileExists(t, f.Snapshot())
		})
	}
	// One of another backup is not touched.
	require.NoError(t, os.WriteFile(f.Restoring(), []byte("another"), 0o600))
	_, err = Restore(ctx, dir, other, "test")
	require.ErrorContains(t, err, "there already")
}

// The export is read back by another Parquet reader than the one that wrote it.
func TestExportIsReadByASecondReader(t *testing.T) {
	ctx := context.Background()
	book := books.File(t, books.Fixture(t, "three_orders"), books.Fixture(t, "some_numbers"))
	dir := filepath.Join(t.TempDir(), "export")
	m, err := Export(ctx, book, dir, "test")
	require.NoError(t, err)
	require.Equal(t, "export", m.Kind)

	type order struct {
		OrderID   string   `parquet:"order_id,optional"`
		ShippedOn *int32   `parquet:"shipped_on,optional"`
		ShaftMM   *float64 `parquet:"shaft_height_mm,optional"`
		Tucked    *bool    `parquet:"worn_tucked,optional"`
	}
	orders, err := parquet.ReadFile[order](filepath.Join(dir, "orders", "year=2026", "data_0.parquet"))
	require.NoError(t, err)
	require.Len(t, orders, 6)
	require.Equal(t, "A", orders[0].OrderID)
	require.Equal(t, int32(books.Day(t, "2026-02-01")), *orders[0].ShippedOn)
	require.Equal(t, 381.0, *orders[0].ShaftMM)
	require.Nil(t, orders[1].Tucked)
	require.Nil(t, orders[4].ShippedOn)

	type number struct {
		FormID  string   `parquet:"form_id,optional"`
		Side    string   `parquet:"side,optional"`
		Point   string   `parquet:"point,optional"`
		Height  *float64 `parquet:"height_mm,optional"`
		Value   float64  `parquet:"value_mm,optional"`
		Written string   `parquet:"value_written,optional"`
	}
	numbers, err := parquet.ReadFile[number](filepath.Join(dir, "measurements", "year=2026", "data_0.parquet"))
	require.NoError(t, err)
	require.Len(t, numbers, 5)
	require.Equal(t, number{"A1", "left", "ball", nil, 254, "10"}, numbers[1])

	// An outcome without a day goes to year 0.
	require.FileExists(t, filepath.Join(dir, "outcomes", "year=0", "data_0.parquet"))
	text, err := os.ReadFile(filepath.Join(dir, manifestName))
	require.NoError(t, err)
	var listed Manifest
	require.NoError(t, json.Unmarshal(text, &listed))
	for _, f := range listed.Files {
		sum, err := durable.Hash(filepath.Join(dir, f.Path))
		require.NoError(t, err)
		require.Equal(t, f.SHA256, sum)
	}
	for name := range engine.NamedQueries(exportSQL, "-- table ") {
		require.DirExists(t, filepath.Join(dir, name))
	}
	again := filepath.Join(t.TempDir(), "export")
	m2, err := Export(ctx, book, again, "test")
	require.NoError(t, err)
	require.Equal(t, m.Files, m2.Files)
}

func TestVerifySoundBook(t *testing.T) {
	breadth.Leave(t, "TestForget verifies a sound book, and TestBackupComesBackEqual one with numbers that stand for none")
	book := books.File(t, books.Fixture(t, "three_orders"))
	// The hand-made numbers stand for no measurements.
	v, err := Verify(context.Background(), book)
	require.NoError(t, err)
	require.Len(t, v.Problems, 1)
	require.Contains(t, v.Problems[0], "measurements of 3 of 3 forms")

	book = books.File(t)
	v, err = Verify(context.Background(), book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
	require.Greater(t, len(v.Tables), 15)
}

func TestVerifyFinds(t *testing.T) {
	ctx := context.Background()
	book := books.File(t)
	keptSheets(t, book, map[string]string{"orders.csv": "order_id\nA\n", "forms.csv": "form_id\nA1\n"})
	f := bookfile.FilesOf(book)
	entries, err := os.ReadDir(f.Sheets())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(f.Sheets(), entries[0].Name()), []byte("changed"), 0o600))
	require.NoError(t, os.Remove(filepath.Join(f.Sheets(), entries[1].Name())))
	// Another program writes into the file.
	db, err := bookfile.Open(ctx, book, false)
	require.NoError(t, err)
	_, err = db.ExecContext(ctx, `INSERT INTO orders BY NAME (SELECT unnest(['x', 'x']) AS order_id, 77 AS load_id);
		INSERT INTO places VALUES (1, 'left', 'bare', 'ball', NULL, NULL), (1, 'left', 'bare', 'ball', NULL, NULL);
		INSERT INTO readings VALUES (1, 250, '250', 'mm'), (2, 250, '250', 'mm');
		INSERT INTO measured_history VALUES ('f', 5, 1, 1, 2);
		CHECKPOINT`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	all := strings.Join(v.Problems, "\n")
	for _, want := range []string{"changed by another program or is damaged", "1 order ids stand more than once", "2 orders were brought by a load",
		"another content", "is missing", "1 place ids stand more than once", "1 places are written down more than once",
		"1 readings are written down more than once", "1 old measurements have no place or reading"} {
		require.Contains(t, all, want)
	}
	_, err = Verify(ctx, filepath.Join(t.TempDir(), "none.duckdb"))
	require.ErrorContains(t, err, "there is no order book")
}

// A book with flipped bytes anywhere is found out or reads the same; it never
// brings the program down.
func TestVerifyMeetsFlippedBytes(t *testing.T) {
	breadth.Leave(t, "TestAFlippedByteIsNoticed verifies a book with one")
	ctx := context.Background()
	book := books.File(t, strings.ReplaceAll(books.Fixture(t, "many_orders"), "@N", "3000"))
	sound, err := os.ReadFile(book)
	require.NoError(t, err)
	want := contents(t, book)
	rng := rand.New(rand.NewPCG(1, 2))
	found := 0
	for i := range 12 {
		broken := append([]byte(nil), sound...)
		at := rng.IntN(len(broken))
		broken[at] ^= 1 << rng.IntN(8)
		path := filepath.Join(t.TempDir(), "b"+strconv.Itoa(i)+".duckdb")
		require.NoError(t, os.WriteFile(path, broken, 0o600))
		require.NoError(t, os.MkdirAll(bookfile.FilesOf(path).Dir, 0o700))
		require.NoError(t, durable.Copy(bookfile.FilesOf(path).Ledger(), bookfile.FilesOf(book).Ledger()))
		v, err := Verify(ctx, path)
		require.NoError(t, err)
		unlike := func(p string) bool { return !strings.Contains(p, "are not those that were loaded") }
		problems := 0
		for _, p := range v.Problems {
			if unlike(p) {
				problems++
			}
		}
		if problems == 0 {
			require.Equal(t, want, contents(t, path), "byte %d", at)
			continue
		}
		found++
	}
	require.Positive(t, found)
	require.NoError(t, os.WriteFile(book, []byte("not a database at all"), 0o600))
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.Contains(t, v.Problems[0], "restore a backup")
}
