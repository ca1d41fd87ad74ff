package sandbox

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/testdata/books"
)

// cells are all cells of a frame.
func cells(f frame.Frame) [][]any {
	all := make([][]any, f.Nrow())
	for i := range all {
		for j := range f.Columns {
			all[i] = append(all[i], f.Value(i, j))
		}
	}
	return all
}

func TestRunGivesTypedColumns(t *testing.T) {
	book := shared(t)
	got, err := Run(context.Background(), book, frame.Query{
		SQL: `SELECT order_id, shipped_on, shaft_height_mm, worn_tucked, days_to_remake, sum(days_followed) OVER () AS huge,
			CAST(1.5 AS DECIMAL(4,1)) AS dec, 'NaN'::DOUBLE AS nan, INTERVAL 1 DAY AS text, $n AS n, $word AS word
			FROM follow_up WHERE shipped_on >= $from AND channel <> $word ORDER BY order_id DESC;`,
		Args: map[string]any{"from": books.Day(t, "2026-01-21"), "n": int64(1) << 60, "word": "x'y", "unused": 1.5},
	}, Options{AsOf: books.Day(t, "2026-06-01")})
	require.NoError(t, err)
	require.Equal(t, []frame.Column{{Name: "order_id", Kind: frame.Text}, {Name: "shipped_on", Kind: frame.Day}, {Name: "shaft_height_mm", Kind: frame.Real},
		{Name: "worn_tucked", Kind: frame.Boolean}, {Name: "days_to_remake", Kind: frame.Integer}, {Name: "huge", Kind: frame.Integer}, {Name: "dec", Kind: frame.Real},
		{Name: "nan", Kind: frame.Real}, {Name: "text", Kind: frame.Text}, {Name: "n", Kind: frame.Integer}, {Name: "word", Kind: frame.Text}}, got.Columns)
	followed := int(books.Day(t, "2026-06-01") - books.Day(t, "2026-02-01"))
	huge := 2*followed + int(books.Day(t, "2026-06-01")-books.Day(t, "2026-02-05"))
	require.Equal(t, []any{"A", books.Day(t, "2026-02-01"), 381.0, false, 40, huge, 1.5, nil, "1 day", 1 << 60, "x'y"}, cells(got)[2])
	require.Equal(t, "B", got.Value(1, 0))
	require.Nil(t, got.Value(1, 3))
	require.False(t, got.More)
}

// With CI=true as many rows as may be, too: there are no more.
func TestRunCapsRowsInOrder(t *testing.T) {
	book := shared(t)
	got, err := Run(context.Background(), book, frame.Query{SQL: "SELECT i, i AS a, i AS a FROM range(300000) t(i) ORDER BY i DESC -- newest first", MaxRows: 200}, Options{})
	require.NoError(t, err)
	require.True(t, got.More)
	require.Equal(t, 200, got.Nrow())
	for i := range 200 {
		require.Equal(t, 299999-i, got.Value(i, 0))
	}
	require.Equal(t, "a", got.Columns[1].Name)
	require.NotEqual(t, "a", got.Columns[2].Name) // names are told apart
	if !breadth.Wide() {
		return
	}
	got, err = Run(context.Background(), book, frame.Query{SQL: "SELECT i AS a, i AS a FROM range(200) t(i)", MaxRows: 200}, Options{})
	require.NoError(t, err)
	require.False(t, got.More)
	require.Equal(t, "a", got.Columns[0].Name)
	require.NotEqual(t, "a", got.Columns[1].Name)
}

// With CI=true without being run, too.
func TestRunExplains(t *testing.T) {
	book := shared(t)
	kinds := []string{"explain analyze SELECT count(*) FROM form"}
	if breadth.Wide() {
		kinds = append(kinds, "EXPLAIN SELECT * FROM cohort")
	}
	for _, s := range kinds {
		got, err := Run(context.Background(), book, frame.Query{SQL: s}, Options{})
		require.NoError(t, err)
		require.Positive(t, got.Nrow())
	}
}

// Where it is, and what. With CI=true what else is wrong with a question's text,
// parameters and answer.
func TestRunSaysWhatIsWrong(t *testing.T) {
	book := shared(t)
	questions := map[string]frame.Error{
		"SELECT *\nFROM form\nWHERE nofault": {Line: 3, Column: 7, Message: `"nofault"`},
		"SELECT $mnth":                       {Message: "did you mean $month?"},
	}
	if breadth.Wide() {
		maps.Copy(questions, map[string]frame.Error{
			"SELEC 1":            {Line: 1, Column: 1, Message: "syntax error"},
			"SELECT 1; SELECT 2": {Message: "several statements"},
			"SELECT ?":           {Message: "as $month"},
			"SELECT 170141183460469231731687303715884105727 AS big": {Message: "column big"},
			"": {Message: "mpty"},
		})
	}
	for sql, want := range questions {
		_, err := Run(context.Background(), book, frame.Query{SQL: sql, Args: map[string]any{"month": "2026-09"}}, Options{})
		var e *frame.Error
		require.ErrorAs(t, err, &e, sql)
		require.Contains(t, e.Message, want.Message, sql)
		require.Equal(t, [2]int{want.Line, want.Column}, [2]int{e.Line, e.Column}, sql)
	}
}

// A question makes only the views that it seems to mean. All of them are there for it
// however it names them, lists them or misspells them. Two of them are asked for
// together, one alone, and one list of all; with CI=true each alone and each list.
func TestRunFindsEveryView(t *testing.T) {
	book := shared(t)
	count := func(sql string) any {
		got, err := Run(t.Context(), book, frame.Query{SQL: sql}, Options{})
		require.NoError(t, err, sql)
		return got.Value(0, 0)
	}
	names, asked, counts := map[string]bool{}, []string{}, []string{}
	for _, v := range orderbook.Views() {
		names[v.Name] = true
		if v.Name != "cohort" && v.Name != "left_out" && !breadth.Wide() {
			continue
		}
		asked = append(asked, v.Name)
		counts = append(counts, "(SELECT count(*) FROM "+v.Name+")")
	}
	together, err := Run(t.Context(), book, frame.Query{SQL: "SELECT " + strings.Join(counts, ", ")}, Options{})
	require.NoError(t, err)
	for k, name := range asked[:breadth.Few(1, len(asked))] {
		require.Equal(t, together.Value(0, k), count(`SELECT count(*) FROM "`+strings.ToUpper(name)+`"`), name)
	}
	lists := []string{
		"SELECT view_name FROM duckdb_views() WHERE NOT internal AND view_name <> 'form'",
		"SELECT table_name FROM information_schema.tables WHERE table_type = 'VIEW' AND table_name <> 'form'",
		"SELECT name FROM (SHOW ALL TABLES) WHERE name <> 'form'",
	}
	for _, sql := range lists[:breadth.Few(1, len(lists))] {
		got, err := Run(t.Context(), book, frame.Query{SQL: sql}, Options{})
		require.NoError(t, err, sql)
		listed := 1 // form
		for _, row := range cells(got) {
			if names[row[0].(string)] {
				listed++
			}
		}
		require.Equal(t, len(names), listed, sql)
	}
	_, err = Run(t.Context(), book, frame.Query{SQL: "SELECT * FROM form JOIN missing_numbre USING (form_id)"}, Options{})
	require.ErrorContains(t, err, `Did you mean "missing_number"`)
}

// Every way out of the question that was found or could be thought of: each is
// refused and nothing beside the book changes. A statement that writes, inside
// EXPLAIN, a file read, a setting behind another statement; with CI=true all.
func TestRunRefusesAttacks(t *testing.T) {
	book := shared(t)
	dir := filepath.Dir(book)
	outside := filepath.Join(dir, "secret.csv")
	require.NoError(t, os.WriteFile(outside, []byte("a,b\n1,2\n"), 0o600))
	files := bookfile.FilesOf(book)
	before := books.FolderHash(t, dir)
	attacks := []string{
		"COPY orders TO '@book'", "COPY orders TO '@snapshot'", "COPY (SELECT 1) TO '@dir/x.csv'", "COPY orders FROM '@outside'",
		"COPY (SELECT 1) TO '/dev/stdout'",
		"ATTACH '@book' AS other", "ATTACH '@dir/new.duckdb'", "ATTACH ':memory:' AS m", "DETACH book",
		"INSTALL httpfs", "LOAD httpfs", "FORCE INSTALL spatial FROM community", "LOAD '@outside'",
		"SELECT * FROM read_csv('@outside')", "SELECT * FROM read_csv_auto('@outside')", "SELECT * FROM '@outside'",
		"SELECT * FROM read_text('@outside')", "SELECT * FROM read_blob('/etc/passwd')", "SELECT * FROM read_json('@outside')",
		"SELECT * FROM read_parquet('@outside')", "SELECT * FROM parquet_metadata('@outside')", "SELECT * FROM sniff_csv('@outside')",
		"SELECT * FROM 'https://example.org/x.csv'",
		"SELECT * FROM glob('@dir/*')", "SELECT count(*) FROM glob('/**')",
		"SELECT 1; COPY orders TO '@book'", "SELECT 1; DROP TABLE book.orders", "SELECT 1; SELECT 2", "DROP TABLE orders; SELECT 1",
		"INSERT INTO orders (order_id, load_id) VALUES ('x', 1)", "INSERT INTO orders SELECT * FROM orders", "DELETE FROM orders", "UPDATE orders SET sex = 'f'", "TRUNCATE orders",
		"CREATE TABLE t AS SELECT 1", "CREATE TEMP TABLE t AS SELECT 1", "CREATE MACRO m() AS 1", "CREATE OR REPLACE VIEW form AS SELECT 1",
		"ALTER TABLE orders ADD COLUMN x INT", "EXPLAIN ANALYZE DELETE FROM orders", "EXPLAIN ANALYZE COPY orders TO '@book'",
		"EXPLAIN ANALYZE CREATE TABLE t AS SELECT 1",
		"SET memory_limit = '100GB'", "RESET memory_limit", "SET enable_external_access = true", "SET lock_configuration = false",
		"SET VARIABLE as_of = DATE '2000-01-01'", "PRAGMA enable_external_access", "PRAGMA database_list", "PRAGMA memory_limit='100GB'",
		"CALL pragma_version()", "CALL enable_logging()", "CHECKPOINT", "FORCE CHECKPOINT", "VACUUM", "EXPORT DATABASE '@dir/out'", "IMPORT DATABASE '@dir'",
		"BEGIN", "PREPARE p AS SELECT 1", "EXECUTE p", "USE memory", "CREATE SECRET s (TYPE s3)",
		"SELECT getenv('HOME')",
		"WITH x AS (SELECT 1) DELETE FROM orders", "SELECT * FROM read_blob('@book')", "CREATE VIEW v AS SELECT 1", "EXPLAIN ANALYZE DROP TABLE orders",
		"WITH x AS (INSERT INTO orders (order_id) VALUES ('x') RETURNING *) SELECT * FROM x",
		"SELECT 1) ; COPY orders TO '@book'; SELECT (1", "SELECT 1 /*", "SELECT * FROM query('COPY orders TO ''@book''')",
		"SELECT * FROM query_table('@outside')",
	}
	if !breadth.Wide() {
		attacks = []string{"SELECT * FROM '@outside'", "EXPLAIN ANALYZE COPY orders TO '@book'", "SELECT 1; SET enable_external_access = true"}
	}
	names := strings.NewReplacer("@book", book, "@snapshot", files.Snapshot(), "@dir", dir, "@outside", outside)
	t.Run("all", func(t *testing.T) {
		for _, a := range attacks {
			t.Run(a, func(t *testing.T) {
				t.Parallel()
				got, err := Run(context.Background(), book, frame.Query{SQL: names.Replace(a)}, Options{Time: 10 * time.Second})
				if err == nil {
					require.Contains(t, a, "glob(") // there are no files to see
					require.Contains(t, []string{"[]", "[[0]]"}, fmt.Sprint(cells(got)))
					return
				}
				require.NotContains(t, err.Error(), "goroutine")
			})
		}
	})
	require.Equal(t, before, books.FolderHash(t, dir))
}

// Questions that would take all memory or all day end in time, with a reason: one,
// with CI=true all that are known. TestRunStopsWhenAsked stops another every day.
func TestRunStopsBombs(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	book := shared(t)
	before := books.FolderHash(t, filepath.Dir(book))
	limit := 600 * time.Millisecond
	bombs := []string{
		"SELECT length(repeat('x', 20000000000))",
		"SELECT sum(length(repeat(repeat('x', 1000000), 1000))) FROM range(1000)",
		"SELECT count(*) FROM range(100000000000) a, range(1000) b",
		"SELECT list(i) FROM range(10000000000) t(i)",
		"WITH RECURSIVE r AS (SELECT 1 AS i UNION ALL SELECT i + 1 FROM r) SELECT max(i) FROM r",
		"SELECT range(3000000000)",
		"SELECT regexp_matches(repeat('a', 100000000), '(a?){1000}b')",
		"SELECT * FROM range(100000000000) ORDER BY random()",
		"SELECT levenshtein(repeat('a', 300000), repeat('b', 300000))",
		"SELECT list_sort(range(200000000))",
		"SELECT string_agg(repeat('x', 1000000), '') FROM range(100000)",
	}
	if !breadth.Wide() {
		limit = 300 * time.Millisecond
		bombs = []string{"SELECT levenshtein(repeat('a', 300000), repeat('b', 300000))"}
	}
	t.Run("all", func(t *testing.T) {
		for _, s := range bombs {
			t.Run(s, func(t *testing.T) {
				t.Parallel()
				start := time.Now()
				_, err := Run(context.Background(), book, frame.Query{SQL: s}, Options{Time: limit})
				require.Error(t, err)
				require.Less(t, time.Since(start), limit+killGrace+10*time.Second) // room for a busy machine
				t.Log(err)
			})
		}
	})
	require.Equal(t, before, books.FolderHash(t, filepath.Dir(book)))
}

func TestRunStopsWhenAsked(t *testing.T) {
	book := shared(t)
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		time.Sleep(time.Duration(breadth.Few(100, 300)) * time.Millisecond)
		cancel()
	}()
	_, err := Run(ctx, book, frame.Query{SQL: "SELECT count(*) FROM range(100000000000) a, range(1000) b"}, Options{Time: time.Minute})
	require.ErrorIs(t, err, context.Canceled)
}

// With CI=true on no day, too: then nothing is known yet.
func TestRunDefaultsToTheNewestDay(t *testing.T) {
	book := shared(t)
	got, err := Run(context.Background(), book, frame.Query{SQL: "SELECT as_of FROM as_of_day"}, Options{})
	require.NoError(t, err)
	require.Equal(t, [][]any{{books.Day(t, "2026-06-15")}}, cells(got))
	if !breadth.Wide() {
		return
	}
	got, err = Run(context.Background(), book, frame.Query{SQL: "SELECT count(*) FROM number"}, Options{AsOf: cohort.NoDay})
	require.NoError(t, err)
	require.Equal(t, [][]any{{0}}, cells(got))
}
