package upkeep

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

// firstVersionOf writes the content of a book into a new file with the tables of
// schema version 1, as the first program would have left it.
func firstVersionOf(t testing.TB, book string) string {
	t.Helper()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.duckdb")
	db, err := bookfile.Open(ctx, path, false, "SET threads = 1")
	require.NoError(t, err)
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	run := func(query string) {
		_, err := conn.ExecContext(ctx, query)
		require.NoError(t, err, query)
	}
	require.NoError(t, bookfile.BringUpTo(ctx, conn, bookfile.FirstVersion))
	names, err := bookTables(ctx, conn)
	require.NoError(t, err)
	require.Contains(t, names, "measurements")
	run("ATTACH " + engine.Quote(book) + " AS now (READ_ONLY)")
	for _, name := range names {
		columns := "*"
		switch { // these columns came later
		case strings.HasPrefix(name, "outcomes"):
			columns = "* EXCLUDE (outcome_id)"
		case name == "forms" || name == "forms_history":
			columns = "* EXCLUDE (instructions)"
		}
		if name != "schema_version" {
			run(fmt.Sprintf("INSERT INTO %[1]s BY NAME SELECT %[2]s FROM now.%[1]s", name, columns))
		}
	}
	run("DETACH now")
	run("CHECKPOINT")
	require.NoError(t, conn.Close())
	require.NoError(t, db.Close())
	return path
}

const allWritten = `SELECT concat_ws(' ', *COLUMNS(*)) FROM measurements
	UNION ALL SELECT concat_ws(' ', *COLUMNS(*)) FROM measurements_history ORDER BY 1`

// A book of an older program is brought up by the first command that reads it: one
// filled by hand; with CI=true one of two loads, and by loads, too.
func TestOlderBookIsBroughtUp(t *testing.T) {
	ctx := context.Background()
	book := byHand(t)
	if breadth.Wide() {
		book = twice(t)
	}
	want, now := ask(t, book, allWritten), contents(t, book)
	if breadth.Wide() {
		require.Len(t, want, 7, "six numbers, and the one that was corrected")
	}
	require.NotEmpty(t, now["measured_history"])

	check := func(t *testing.T, older string) { requireBroughtUp(t, older, want, now) }
	withFolder := func(t *testing.T) string { // beside it what stood beside the book
		older := firstVersionOf(t, book)
		require.NoError(t, os.CopyFS(bookfile.FilesOf(older).Dir, os.DirFS(bookfile.FilesOf(book).Dir)))
		require.NoError(t, os.Remove(bookfile.FilesOf(older).Snapshot()))
		return older
	}
	t.Run("by the first command that reads it", func(t *testing.T) {
		older := withFolder(t)
		lock, err := bookfile.Lock(bookfile.FilesOf(older), "other")
		require.NoError(t, err)
		_, err = orderbook.OpenReader(ctx, older, orderbook.Options{Program: "test"})
		require.ErrorIs(t, err, bookfile.ErrBusy, "not while another writes")
		require.NoError(t, lock.Close())
		for range 2 {
			r, err := orderbook.OpenReader(ctx, older, orderbook.Options{Program: "test"})
			require.NoError(t, err)
			require.NoError(t, r.Close())
		}
		check(t, older)
		require.Contains(t, contents(t, older)["load_files"], "brought up")
	})
	t.Run("by a load of what is there already", func(t *testing.T) {
		breadth.Leave(t, "the first command that reads it brings it up")
		older := withFolder(t)
		report := loadSmall(t, older, "9.125", "9.25")
		assert.Zero(t, report.Load)
		check(t, older)
	})
	t.Run("by a load of something new", func(t *testing.T) {
		breadth.Leave(t, "the first command that reads it brings it up")
		older := withFolder(t)
		loadSmall(t, older, "9.125", "9.75")
		v, err := Verify(ctx, older)
		require.NoError(t, err)
		assert.True(t, v.Sound(), v.Problems)
		assert.Len(t, ask(t, older, allWritten), 8)
	})
}

// requireBroughtUp wants an older book of two loads to have the measurements and
// the other tables that it should, and to be sound.
func requireBroughtUp(t *testing.T, older string, written []string, tables map[string]string) {
	v, err := Verify(context.Background(), older)
	require.NoError(t, err)
	assert.True(t, v.Sound(), v.Problems)
	assert.Equal(t, 3, v.Loads)
	assert.Equal(t, written, ask(t, older, allWritten))
	for name, rows := range contents(t, older) {
		if !slices.Contains([]string{"loads", "load_files", "places", "readings", "measured", "measured_history"}, name) {
			assert.Equal(t, tables[name], rows, name)
		}
	}
}

// A backup that an older program wrote is restored with its own tables, whose
// checksum the backup has, and brought up after that.
func TestOlderBackupIsRestored(t *testing.T) {
	breadth.Leave(t, "TestOlderBookIsBroughtUp brings the same tables up, and TestBackupComesBackEqual restores a backup")
	ctx := context.Background()
	book := twice(t)
	older, dir := firstVersionOf(t, book), filepath.Join(t.TempDir(), "backup")
	m := &Manifest{Format: backupFormat, Kind: "backup", Program: "older"}
	db, err := bookfile.Open(ctx, older, true, "SET threads = 1")
	require.NoError(t, err)
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(dir, 0o700))
	require.NoError(t, m.addTables(ctx, conn, dir))
	require.NoError(t, conn.Close())
	require.NoError(t, db.Close())
	require.NoError(t, copyBeside(bookfile.FilesOf(book), filepath.Join(dir, "files")))
	require.NoError(t, m.finish(dir))
	require.Equal(t, bookfile.FirstVersion, m.Schema)

	restored := filepath.Join(t.TempDir(), "restored.duckdb")
	_, err = Restore(ctx, dir, restored, "test")
	require.NoError(t, err)
	v, err := Verify(ctx, restored)
	require.NoError(t, err)
	assert.True(t, v.Sound(), v.Problems)
	assert.Equal(t, ask(t, book, allWritten), ask(t, restored, allWritten))
}

// Places and readings stand once, however many files name them, and go with the
// last form that has them.
func TestPlacesAndReadingsStandOnce(t *testing.T) {
	breadth.Leave(t, "TestOlderBookIsBroughtUp has verify count the places and readings, and TestForget misses the reading that was one person's alone")
	ctx := context.Background()
	book := twice(t)
	require.NoError(t, withBook(ctx, book, func(conn *sql.Conn) error {
		for _, q := range []string{
			"SELECT count(*) - (SELECT count(*) FROM (SELECT DISTINCT * EXCLUDE (place_id) FROM places)) FROM places",
			"SELECT count(*) - count(DISTINCT place_id) FROM places",
			"SELECT count(*) - (SELECT count(*) FROM (SELECT DISTINCT * EXCLUDE (reading_id) FROM readings)) FROM readings",
			"SELECT count(*) - count(DISTINCT reading_id) FROM readings",
		} {
			var n int
			require.NoError(t, conn.QueryRowContext(ctx, q).Scan(&n))
			assert.Zero(t, n, q)
		}
		return nil
	}))
	customers := ask(t, book, "SELECT DISTINCT customer_id FROM orders")
	require.NotEmpty(t, ask(t, book, "SELECT value_written FROM readings"))
	for _, customer := range customers {
		_, err := Forget(ctx, book, customer, bookfile.WriterOptions{Program: "test", Now: time.Now()})
		require.NoError(t, err)
	}
	assert.Empty(t, ask(t, book, "SELECT value_written FROM readings"))
	assert.Empty(t, ask(t, book, "SELECT side::VARCHAR FROM places"))
}
