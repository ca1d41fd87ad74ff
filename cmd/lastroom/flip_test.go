package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"net/url"
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
)

var (
	flipSeed = flag.Uint64("flip-seed", 12, "the first seed of the flips")
	flips    = flag.Int("flips", 0, "flip so many bytes (default 12, 200 with -campaign)")
)

// madeAnew are the files beside a book whose damage needs no word: the program
// looks at a sum and makes them again, or reads nothing of them.
var madeAnew = []string{"cache", "lock", "keyed/lock", "keyed/loading"}

// One byte flipped anywhere in a book or in what stands beside it is told by book
// verify, with advice: followed, the book is sound again. Half of the flips leave
// the time of the file as it was, as a disk does it. A wide run flips 12, -campaign 200.
func TestAFlippedByteIsTold(t *testing.T) {
	breadth.Leave(t, "./ingest/upkeep flips bytes of a book and its sheets, ./ingest/seals of what people wrote, ./notebooks/archive of runs")
	t.Parallel()
	home := fullHome(t)
	book := filepath.Join(home, "shop.duckdb")
	f := bookfile.FilesOf(book)
	verify := func() (problems, others []string) {
		t.Helper()
		status, out, errs := said(t, "book", "verify", "--format", "json", "--book", book)
		require.Contains(t, []int{0, 3}, status, errs)
		var v struct{ Problems, Unfinished, Changed []string }
		require.NoError(t, json.Unmarshal([]byte(out), &v), out)
		require.Equal(t, status == 3, len(v.Problems) > 0)
		return v.Problems, append(v.Unfinished, v.Changed...)
	}
	problems, others := verify()
	require.Empty(t, append(problems, others...))
	var files []string
	kinds := map[string]int{}
	require.NoError(t, filepath.WalkDir(home, func(path string, d fs.DirEntry, err error) error {
		rel, _ := filepath.Rel(f.Dir, path)
		if err == nil && d.IsDir() && slices.Contains(madeAnew, rel) {
			return fs.SkipDir
		}
		if info, _ := d.Info(); err == nil && !d.IsDir() && info.Size() > 0 && !slices.Contains(madeAnew, rel) {
			files = append(files, path)
			kinds[kindOf(f, path)]++
		}
		return err
	}))
	for _, kind := range []string{"shop.duckdb", "snapshot.duckdb", "ledger.jsonl", "copies.jsonl", "decisions.jsonl", "rules.yaml", "seals.lines", "audit.jsonl", "service.key", "sheets", "runs", "models", "layouts", "notebooks", "keyed", "learners", "sessions"} {
		require.Positive(t, kinds[kind], "nothing to flip of %s: %v", kind, kinds)
	}
	n := 12
	switch {
	case *flips > 0:
		n = *flips
	case breadth.Campaign():
		n = 200
	}
	r := rand.New(rand.NewPCG(*flipSeed, 1))
	// Kinds take turns, however many files they have: there are most of runs.
	byKind := slices.SortedFunc(slices.Values(files), func(a, b string) int { return strings.Compare(kindOf(f, a), kindOf(f, b)) })
	names := sortedKeys(kinds)
	told := map[string][2]int{}
	for i := range n {
		kind := names[(i+int(*flipSeed))%len(names)]
		of := slices.DeleteFunc(slices.Clone(byKind), func(path string) bool { return kindOf(f, path) != kind })
		path := of[r.IntN(len(of))]
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		info, err := os.Stat(path)
		require.NoError(t, err)
		bad := slices.Clone(good)
		at := r.IntN(len(bad))
		bad[at] ^= 1 << r.IntN(8)
		require.NoError(t, os.WriteFile(path, bad, info.Mode()))
		if i%2 == 0 {
			require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
		}
		problems, others := verify()
		what := fmt.Sprintf("%s, byte %d of %d, time kept: %t", path, at, len(good), i%2 == 0)
		count := told[kind]
		count[0]++
		if assert.NotEmpty(t, append(slices.Clone(problems), others...), "not noticed: %s", what) {
			count[1]++
		}
		told[kind] = count
		if i%2 == 0 && path != f.Snapshot() && path != f.Book { // these are another matter where the time differs: the next command makes the one of the other
			assert.NotEmpty(t, problems, "told as no damage: %s: %v", what, others)
		}
		// The file as it was, from a backup: with another time.
		now := time.Now()
		require.NoError(t, os.WriteFile(path, good, info.Mode()))
		require.NoError(t, os.Chtimes(path, now, now))
		if path == f.Book || path == f.Snapshot() {
			require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
		}
		problems, others = verify()
		require.Empty(t, append(problems, others...), "not mended: %s", what)
		require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
	}
	var table strings.Builder
	for _, kind := range sortedKeys(told) {
		fmt.Fprintf(&table, "| %s | %d | %d |\n", kind, told[kind][0], told[kind][1])
	}
	t.Logf("seed %d\n| file | flips | told |\n|---|---:|---:|\n%s", *flipSeed, table.String())
}

// kindOf is the first part of a file's path beside the book, or the book.
func kindOf(f bookfile.Files, path string) string {
	rel, err := filepath.Rel(f.Dir, path)
	if err != nil || strings.HasPrefix(rel, "..") {
		return filepath.Base(path)
	}
	first, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
	return first
}

// fullHome is a folder with a book and everything that may stand beside it.
func fullHome(t *testing.T) string {
	t.Helper()
	home := ownDemo(t)
	for _, other := range []string{"sheets", "figures", "tables", "review.html", "review.txt", "review.json", "invented.txt"} {
		require.NoError(t, os.RemoveAll(filepath.Join(home, other)))
	}
	book := filepath.Join(home, "shop.duckdb")
	out := t.TempDir()
	say(t, "run", "--book", book, "measurements")
	say(t, "run", "--book", book, "--out", filepath.Join(out, "run"), "measurements")
	say(t, "risk", "--book", book)
	base := served(t, book)
	run := "measurements"
	for _, do := range []struct {
		path string
		form url.Values
	}{
		{"/decisions", nil},
		{"/edit/ours", url.Values{"do": {"save"}, "name": {"ours"}, "text": {"---\ntitle: Ours\nfor: us\n---\n\nWords.\n"}, "version": {""}}},
	} {
		text, _, err := ask(base, do.path, do.form)
		require.NoError(t, err)
		if do.form == nil {
			run = runOf(text)
		}
	}
	_, _, err := ask(base, "/decisions", url.Values{"rule": {"tape-zero-missed"}, "words": {"we hold these forms"}, "who": {"Ann"}, "run": {run}, "revisit": {"2027-01-01"}})
	require.NoError(t, err)
	for _, do := range []func(string) error{keepLayoutOnce, keepFormOnce, practiseOnce, tapeOnce} {
		require.NoError(t, do(base))
	}
	say(t, "book", "backup", "--book", book, filepath.Join(out, "backup"))
	return home
}
