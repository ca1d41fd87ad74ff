package execution

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/notebooks"
	"lastroom/notebooks/cache"
	"lastroom/notebooks/testdata/fake"
	"lastroom/reports/page"
)

func parsed(t *testing.T, src string) *notebooks.Notebook {
	t.Helper()
	n, err := notebooks.Parse("channels", []byte(src), fake.Catalogue)
	require.NoError(t, err)
	return n
}

func runOf(t *testing.T, b *fake.Book, src string, o Options) *Run {
	t.Helper()
	r := Runner{Book: b, Catalogue: fake.Catalogue, Version: "v0"}
	run, err := r.Run(t.Context(), parsed(t, src), o)
	require.NoError(t, err)
	return run
}

func textOfRun(t *testing.T, run *Run) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, page.WriteText(&b, run.Doc, page.TextOptions{Width: 200}))
	return b.String()
}

func TestRunFillsProseAndTestsClaims(t *testing.T) {
	run := runOf(t, fake.New(), fake.Channels, Options{})
	require.Empty(t, run.Failures())
	out := textOfRun(t, run)
	// Wilson 30 of 100, 95 %: 21.9 to 39.6 %, Newcombe (1998), Stat Med 17:857, method 3 formula.
	assert.Contains(t, out, "30.0 in 100 (95 % interval 21.9 to 39.6, n 100) were remade")
	assert.Contains(t, out, "What 2026-09 brought")
	assert.Contains(t, out, "Home: 30.")
	require.Len(t, run.Claims, 2)
	assert.Equal(t, notebooks.Holds, run.Claims[0].Verdict)
	assert.Equal(t, notebooks.NotHeld, run.Claims[1].Verdict)
	assert.Contains(t, out, "1 sentence of this notebook is not supported by these data")
	assert.Contains(t, out, "nobody ships [no longer supported: the data say otherwise; now 1,340]")
	assert.Equal(t, []string{"A statistic is no diagnosis."}, run.Doc.Cautions)
}

func TestRunTableHasShareAndOrders(t *testing.T) {
	run := runOf(t, fake.New(), fake.Channels, Options{})
	require.Equal(t, "channels", run.Tables[0].ID)
	table, err := run.Tables[0].Whole()
	require.NoError(t, err)
	require.Len(t, table.Columns, 4, "ids are no column of their own")
	home := table.Rows[0]
	assert.Equal(t, "home", home[0].Text, "sorted, since the query asks for no order")
	assert.Equal(t, page.Ref{Kind: "orders", IDs: []string{"o-1", "o-2"}}, home[1].Ref)
	assert.Equal(t, "30.0 (21.9 to 39.6)", home[3].Text)
	df := run.Cells[0].frame
	assert.Equal(t, []string{"channel", "remade", "shipped", "ids", "share", "share_low", "share_high", "share_n"}, df.Names())
	assert.Equal(t, "string", string(df.Types()[0]))
	assert.Equal(t, "int", string(df.Types()[1]))
	assert.Equal(t, "float", string(df.Types()[4]))
	assert.True(t, df.Elem(2, 0).IsNA())
}

func TestSameInputSameBytes(t *testing.T) {
	var first []byte
	for range 3 {
		var b bytes.Buffer
		require.NoError(t, page.HTML(&b, runOf(t, fake.New(), fake.Channels, Options{}).Doc))
		if first == nil {
			first = b.Bytes()
		}
		assert.Equal(t, string(first), b.String())
	}
}

func TestFailedCellAndThoseBehindIt(t *testing.T) {
	src := "---\ntitle: T\n---\n\n```sql name=a\nselect\n broken\n```\n\n```sql name=b with=a\nselect 1\n```\n\n```sql name=c\nselect 2\n```\n[x](value:b.rows)\n"
	run := runOf(t, fake.New(), src, Options{})
	require.Len(t, run.Failures(), 1)
	assert.Equal(t, `channels.md:7: cell "a": there is no column "broken"`, run.Failures()[0].Error())
	assert.Equal(t, NotRun, run.Cells[1].State)
	assert.Equal(t, `not run because cell "a" failed`, run.Cells[1].Why)
	assert.Equal(t, Done, run.Cells[2].State)
	assert.Contains(t, textOfRun(t, run), `cell "b" was not run`)
}

func TestLaterQueriesNameEarlierOnes(t *testing.T) {
	src := "---\ntitle: T\n---\n```sql name=a\nselect 1 as x\n```\n```finding name=m of=marks\n```\n```sql name=b with=a,m\n-- why\nwith c as (select 1) select * from a, m, c\n```\n"
	run := runOf(t, fake.New(), src, Options{})
	require.Empty(t, run.Failures())
	sql := run.Cells[2].frame.Value(0, 0).(string)
	assert.Contains(t, sql, "with \"a\" as (\nselect 1 as x\n\n), \"m\" as (select cast(c0 as double) as \"rate\", cast(c1 as varchar) as \"who\" from (values ('0.3', 'O''Neil'), (null, null)) as t(c0, c1)),\n")
	assert.True(t, strings.HasSuffix(strings.TrimSpace(sql), "c as (select 1) select * from a, m, c"), sql)
}

func TestBadTablesAreRefused(t *testing.T) {
	for info, want := range map[string]string{
		"sql name=a\nselect twice":                            `two columns are called "a"`,
		"sql name=a share=remde/shipped\nselect by_channel":   `no column "remde"; did you mean "remade"?`,
		"sql name=a share=channel/shipped\nselect by_channel": `"channel" does not hold whole numbers`,
		"sql name=a orders=idss\nselect by_channel":           `did you mean "ids"?`,
		"sql name=a rows=0\nselect by_channel":                "it must be 1 to 10000",
		"finding name=a of=marks fault=sides-copied":          "no order has it",
	} {
		run := runOf(t, fake.New(), "---\ntitle: T\n---\n```"+info+"\n```\n", Options{})
		require.Len(t, run.Failures(), 1, info)
		assert.Contains(t, run.Failures()[0].Error(), want)
	}
}

func TestStopComesBackAtOnce(t *testing.T) {
	b := fake.New()
	b.Slow = 3 * time.Second
	ctx, cancel := context.WithTimeoutCause(t.Context(), 50*time.Millisecond, errors.New("stopped by the reader"))
	defer cancel()
	r := Runner{Book: b, Catalogue: fake.Catalogue}
	start := time.Now()
	_, err := r.Run(ctx, parsed(t, fake.Channels), Options{})
	require.Error(t, err)
	assert.Less(t, time.Since(start), time.Second)
	assert.Contains(t, err.Error(), `stopped in cell "channels", 1 of 3: stopped by the reader`)
}

func TestCacheNeverLies(t *testing.T) {
	b := fake.New()
	r := Runner{Book: b, Catalogue: fake.Catalogue, Version: "v0", Program: "p", Cache: cache.In(t.TempDir())}
	n := parsed(t, fake.Channels)
	run := func(o Options) *Run {
		got, err := r.Run(t.Context(), n, o)
		require.NoError(t, err)
		require.Empty(t, got.Failures())
		return got
	}
	first := run(Options{})
	assert.EqualValues(t, 2, b.Queries.Load())
	again := run(Options{})
	assert.EqualValues(t, 2, b.Queries.Load(), "both queries from the cache")
	assert.False(t, again.Cells[0].Cached.IsZero(), "its age can be told")
	var one, two bytes.Buffer
	require.NoError(t, page.HTML(&one, first.Doc))
	require.NoError(t, page.HTML(&two, again.Doc))
	assert.Equal(t, one.String(), two.String())

	run(Options{Set: map[string]string{"month": "2026-08"}})
	assert.EqualValues(t, 3, b.Queries.Load(), "the query that asks for the month")
	b.Facts.Hash = "other"
	run(Options{})
	assert.EqualValues(t, 5, b.Queries.Load(), "another book")
	run(Options{AsOf: "2026-10-01"})
	assert.EqualValues(t, 7, b.Queries.Load(), "another day")
	r.Program = "q"
	run(Options{})
	assert.EqualValues(t, 9, b.Queries.Load(), "another program")
	run(Options{Fresh: true})
	assert.EqualValues(t, 11, b.Queries.Load(), "asked for afresh")
}

func TestProseIsSafe(t *testing.T) {
	src := "---\ntitle: <script>T</script>\nparameters:\n  - {name: who, type: text, default: x}\n---\n<script>alert(1)</script>\n\n<img src=x onerror=alert(1)> [a](javascript:alert(1)) ![p](http://evil/x.png) [w](value:who)\n\n<svg onload=alert(1)>\n"
	run := runOf(t, fake.New(), src, Options{Set: map[string]string{"who": "<svg/onload=alert(1)>"}})
	var b bytes.Buffer
	require.NoError(t, page.HTML(&b, run.Doc))
	h := b.String()
	for _, bad := range []string{"<script", "onerror=alert", "<svg", "javascript:", "evil", "<img"} {
		assert.NotContains(t, h, bad)
	}
	assert.Contains(t, h, "&lt;svg/onload=alert(1)&gt;")
}
