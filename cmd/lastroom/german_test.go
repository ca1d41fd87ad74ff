package main

import (
	"bytes"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/bookpages"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/load"
	"lastroom/ingest/upkeep"
	pages "lastroom/notebooks/service/help"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

// germanPages gives what looks at English pages: in the end the test fails for each sentence
// that the German catalogue does not have.
func germanPages(t *testing.T) func(res *http.Response, page []byte) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	untold := map[string]string{}
	t.Cleanup(func() {
		for _, sentence := range slices.Sorted(maps.Keys(untold)) {
			assert.Fail(t, "untold in German", "%s: %s", untold[sentence], sentence)
		}
	})
	return func(res *http.Response, page []byte) {
		if !strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
			return
		}
		_, missing := pages.Said(page, l)
		for _, sentence := range missing {
			untold[sentence] = res.Request.URL.Path
		}
	}
}

// Every word of the pages that commands print about a book and its sheets is said in German.
func TestWhatIsPrintedOfABookIsSaidInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	look := func(d *page.Document) {
		var b bytes.Buffer
		require.NoError(t, page.HTML(&b, d))
		_, untold := l.Page(b.Bytes())
		assert.Empty(t, untold, d.Title)
	}
	ctx, dir := t.Context(), t.TempDir()
	shops, err := demoDir()
	require.NoError(t, err)
	require.NoError(t, copyAsItWas(filepath.Join(shops, "few"), dir))
	book, sheets := filepath.Join(dir, "shop.duckdb"), filepath.Join(dir, "sheets")

	w, err := workshop.Open(workshop.Setup{Book: book})
	require.NoError(t, err)
	bad := "form_id,order_id,form_no,received_on,colour\nF1,O1,1,soon,red\n"
	require.NoError(t, os.WriteFile(filepath.Join(sheets, "forms.csv"), []byte(bad), 0o600))
	report, err := w.LoadSheets(ctx, load.Options{Paths: []string{sheets}}, workshop.Silent)
	require.NoError(t, err)
	require.NotEmpty(t, report.KeptOut)
	look(bookpages.Load(report, ""))
	report.DryRun = true
	look(bookpages.Load(report, "rejects.csv"))

	r, err := workshop.OpenReader(ctx, book, cohort.NoDay)
	require.NoError(t, err)
	info, err := r.Info(ctx)
	require.NoError(t, err)
	require.NoError(t, r.Close())
	info.Settings = map[string]string{"leg_step_mm": "50"}
	look(bookpages.Info(book, info))

	v, err := workshop.Verify(ctx, book)
	require.NoError(t, err)
	look(bookpages.Verification(v))
	require.NoError(t, os.Remove(bookfile.FilesOf(book).Ledger()))
	kept, err := filepath.Glob(filepath.Join(bookfile.FilesOf(book).Sheets(), "*"))
	require.NoError(t, err)
	require.NoError(t, os.Remove(kept[0]))
	require.NoError(t, os.WriteFile(kept[1], nil, 0o600))
	v, err = workshop.Verify(ctx, book)
	require.NoError(t, err)
	require.False(t, v.Sound())
	look(bookpages.Verification(v))

	m := &upkeep.Manifest{Kind: "backup", Loads: 2, Files: []upkeep.ManifestFile{{Path: "orders.parquet", Rows: 3, Bytes: 900, SHA256: "0123456789abcdef"}}}
	for title, done := range map[string]string{"Order book backed up": "written to safe", "Order book restored": "restored to shop.duckdb", "Order book exported": "written to parquet"} {
		look(bookpages.Manifest(m, title, done))
	}
	look(bookpages.Forgotten(&upkeep.Forgotten{Orders: 1, Left: []string{
		"notebooks/ours.md names the person (line 3); it is your own writing: change it",
		"notebooks/ours.md may name the person (lines 3, 7): a number of theirs is too short to tell from others; look, and change it",
		"notebooks/ours.md rests on a run that named the person and was removed (line 3): run its notebook again",
		"the backup /safe of 2026-03-01 still holds the person; remove it"}}))
}

// Every word of every page that the invented shop has is said in German; in a run that is
// not wide, of one page of each kind, and no notebook is run. Odd shops are looked at by
// TestEveryFigureIsANumberOrSaidInWords.
func TestEveryWordIsSaidInGerman(t *testing.T) {
	if breadth.Wide() {
		everyPage(t, filepath.Join(ownDemo(t), "shop.duckdb"))
		return
	}
	l, err := translation.Of("de")
	require.NoError(t, err)
	shownPages(t, func(path, text string) {
		_, untold := pages.Said([]byte(text), l)
		assert.Empty(t, untold, path)
	})
}
