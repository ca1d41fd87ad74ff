package workshop

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/notebooks"
	"lastroom/notebooks/analyses"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

func hashOf(t *testing.T, file string) string {
	t.Helper()
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	require.NoError(t, err)
	return fmt.Sprintf("%x", h.Sum(nil))
}

// Ways out of a question, each a notebook that is run like any other, of the kinds
// that the sandbox's own tests try one by one: all are refused with a message, the
// book and its snapshot stay as they are, and no file appears. With CI=true all of
// them, otherwise three, one of each of: written through SQL, a setting, too much.
func TestSQLOfNotebooksStaysLockedIn(t *testing.T) {
	dir := ownDemo(t)
	book := filepath.Join(dir, "shop.duckdb")
	snapshot := filepath.Join(dir, "shop.files", "snapshot.duckdb")
	w, err := Open(Setup{Book: book})
	require.NoError(t, err)
	before := [2]string{hashOf(t, book), hashOf(t, snapshot)}
	loot := filepath.Join(t.TempDir(), "loot")
	attacks := []string{
		"copy (select 1) to '" + snapshot + "'", "copy orders to '" + loot + "'", "attach '" + book + "' as b", "export database '" + loot + "'",
		"load httpfs", "set enable_external_access = true", "select 1; drop table orders", "delete from orders", "create table t as select 1",
		"select * from read_text('/etc/passwd')", "select 1) to '" + loot + "'; --", "select repeat('a', 2000000000000)",
	}
	if !breadth.Wide() {
		attacks = []string{attacks[0], attacks[5], attacks[11]}
	}
	// Side by side, as each waits for a process of its own.
	next := make(chan string)
	var workers sync.WaitGroup
	for range 4 {
		workers.Go(func() {
			for sql := range next {
				n, err := notebooks.Parse("attack", []byte("---\ntitle: T\n---\n```sql name=a\n"+sql+"\n```\n"), analyses.All)
				if !assert.NoError(t, err, sql) {
					continue
				}
				start := time.Now()
				run, err := w.Runner().Run(t.Context(), n, execution.Options{})
				if assert.NoError(t, err, sql) && assert.Len(t, run.Failures(), 1, sql) {
					assert.NotEmpty(t, run.Failures()[0].Why)
				}
				assert.Less(t, time.Since(start), 30*time.Second, sql)
			}
		})
	}
	for _, sql := range attacks {
		next <- sql
	}
	close(next)
	workers.Wait()
	assert.Equal(t, before, [2]string{hashOf(t, book), hashOf(t, snapshot)}, "book and snapshot are as they were")
	assert.NoFileExists(t, loot)
	assert.NoDirExists(t, loot)
}

const pair = `---
title: Pair
parameters:
  - {name: fault, type: choice, of: faults, default: self-measured}
---
~~~finding of=fault name=found fault=$fault resampled=0
~~~

~~~sql name=counts share=with_it/judged
select f.channel, count(*) filter (x.state in ('with', 'without')) as judged, count(*) filter (x.state = 'with') as with_it
from form f join form_fault x using (form_id)
where x.fault = $fault
group by all
~~~
`

// Two runs at once don't disturb each other, and give the same as one alone.
func TestRunsSideBySide(t *testing.T) {
	w, err := Open(Setup{Book: filepath.Join(ownDemo(t), "shop.duckdb")})
	require.NoError(t, err)
	n, err := notebooks.Parse("pair", []byte(pair), analyses.All)
	require.NoError(t, err)
	made := func(fault string) string {
		run, err := w.Runner().Run(t.Context(), n, execution.Options{Set: map[string]string{"fault": fault}, Fresh: true})
		if !assert.NoError(t, err) {
			return ""
		}
		assert.Empty(t, run.Failures())
		var b bytes.Buffer
		assert.NoError(t, archive.OpenJSON(&b, run))
		return b.String()
	}
	alone := [2]string{made("outline-doubled"), made("tape-marks-missing")}
	var both [2]string
	var wg sync.WaitGroup
	wg.Go(func() { both[0] = made("outline-doubled") })
	wg.Go(func() { both[1] = made("tape-marks-missing") })
	wg.Wait()
	assert.Equal(t, alone, both)
	assert.NotEqual(t, both[0], both[1])
}

// Every notebook that comes with the program runs on the invented workshop
// without a failed cell, and fills in every number of its prose.
func TestShippedNotebooks(t *testing.T) {
	w, err := Open(Setup{Book: filepath.Join(ownDemo(t), "shop.duckdb")})
	require.NoError(t, err)
	src, err := w.At(t.Context(), 0)
	require.NoError(t, err)
	defer src.Close()
	c, err := src.Cohort(t.Context())
	require.NoError(t, err)
	orders := map[string]int{}
	busiest := ""
	for i := range c.Len() {
		if m := c.Measurer.At(i); m != "" {
			if orders[m]++; orders[m] > orders[busiest] {
				busiest = m
			}
		}
	}
	entries, err := notebooks.Library{Dir: t.TempDir()}.List(analyses.All)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(entries), 5)
	for _, e := range entries {
		for _, measurer := range []string{"", busiest} {
			if measurer != "" && e.Name != "one-measurer" {
				continue
			}
			require.NoError(t, e.Err)
			n, err := w.Notebook(e.Name)
			require.NoError(t, err)
			set := map[string]string{}
			for _, p := range n.Params {
				switch p.Name {
				case "resampled":
					set[p.Name] = "0"
				case "measurer":
					set[p.Name] = measurer
				}
			}
			run, err := w.Runner().Run(t.Context(), n, execution.Options{Set: set})
			require.NoError(t, err, e.Name)
			assert.Empty(t, run.Failures(), e.Name)
			var b bytes.Buffer
			require.NoError(t, page.HTML(&b, run.Doc))
			assert.NotContains(t, b.String(), "not known: there is no value", e.Name)
			assert.NotContains(t, b.String(), "NaN", e.Name)
		}
	}
}
