package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/demo"
	"lastroom/reports/translation"
)

// A sentence of the catalogue that no page has, and what German says for it.
const theirWords, saidWords = "the same as pages", "dasselbe als Seiten"

// What people wrote stays as they wrote it on German pages, even where it happens to be a
// sentence of the catalogue: names and remarks on sheets, rules, decisions. The text of a
// notebook is said where it can be: the shop's own begin as copies of those that come along.
// A wide run looks at more pages of a kind, at rules that are tried and at what sessions show.
func TestWhatPeopleWroteStays(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	require.Equal(t, saidWords, l.Text(theirWords))

	dir := t.TempDir()
	sheets, book := filepath.Join(dir, "sheets"), filepath.Join(dir, "shop.duckdb")
	_, err = demo.Write(sheets, demo.Options{Seed: 3, Orders: breadth.Few(25, 60)})
	require.NoError(t, err)
	for sheet, columns := range map[string][]string{
		"orders": {"customer_id", "closure"}, "forms": {"irregularities", "measurer_id", "instructions"}, "measurers": {"kind", "region"}, "repeats": {"session_id", "measurer_id"},
	} {
		file := filepath.Join(sheets, sheet+".csv")
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		require.NoError(t, err)
		table := sheetTable(rows)
		for _, column := range columns {
			table.set(column, theirWords, func(no int, _ map[string]string) bool { return no%2 == 0 })
		}
		if sheet == "measurers" {
			table[1][slices.Index(table[0], "measurer_id")] = theirWords
		}
		var b strings.Builder
		require.NoError(t, csv.NewWriter(&b).WriteAll(table))
		require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o600))
	}
	status, out, errs := said(t, "load", "--book", book, sheets)
	require.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld}, status, out+errs)
	files := filepath.Join(dir, "shop.files")
	status, own, errs := said(t, "rules", "--print")
	require.Zero(t, status, errs)
	own += fmt.Sprintf("\n- id: ours\n  title: %[1]s\n  why: %[1]s\n  when: self_measured\n  from: 2025-01-01\n", theirWords)
	require.NoError(t, os.WriteFile(filepath.Join(files, "rules.yaml"), []byte(own), 0o600))

	base := served(t, book)
	client := &http.Client{}
	get := func(path string) (english, german string) {
		for _, tongue := range []string{"en", "de"} {
			req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+path, nil)
			require.NoError(t, err)
			req.Header.Set("Accept-Language", tongue)
			res, err := client.Do(req)
			require.NoError(t, err)
			b, err := io.ReadAll(res.Body)
			require.NoError(t, err)
			res.Body.Close()
			english, german = german, string(b)
		}
		return english, german
	}
	post := func(path string, form url.Values) {
		res, err := http.PostForm(base+path, form)
		require.NoError(t, err)
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		res.Body.Close()
		require.Less(t, res.StatusCode, 400, "%s: %s", path, b)
	}
	sessions, _ := get("/session")
	var spots []string
	for _, m := range regexp.MustCompile(`name="spot" value="([^"]+)"`).FindAllStringSubmatch(sessions, 2) {
		spots = append(spots, m[1])
	}
	post("/practice", url.Values{"name": {theirWords}, "forms": {"10"}})
	post("/rules/switch", url.Values{"rule": {"ours"}, "from": {"2025-01-01"}, "until": {""}, "do": {"off"}, "words": {theirWords}, "day": {"2026-09-01"}, "who": {theirWords}, "revisit": {"2026-10-01"}})
	post("/session", url.Values{"id": {"one that the book has not"}, "day": {"2026-09-01"}, "instructor": {theirWords}, "measurers": {"Ann\nBea"}, "subjects": {theirWords + "\nB"}, "spot": spots, "trials": {"1"}, "unit": {"mm"}})

	found, saidThere := map[string]int{}, regexp.MustCompile(`(?i)[^>]{0,80}`+saidWords+`[^<]{0,80}`)
	seen, some := map[string]bool{}, map[string]int{}
	kinds := someOf
	if !breadth.Wide() {
		kinds = regexp.MustCompile(`^/(run/[^/]+/behind|order|form|measurers|customer|teaching|help)/|[?&]behind=`)
	}
	var walk func(path string)
	walk = func(path string) {
		kind := kinds.FindString(path)
		if strings.HasPrefix(path, "/rules?rule=") && !strings.Contains(path, "ours") || strings.HasPrefix(path, "/notebook") || strings.HasPrefix(path, "/static/") {
			return
		}
		if seen[path] || kind != "" && some[kind] >= breadth.Few(1, 4) || !breadth.Wide() && (slow[path] || strings.HasPrefix(path, "/rules?")) {
			return
		}
		seen[path] = true
		some[kind]++
		english, german := get(path)
		found[regexp.MustCompile(`^/[a-z]*`).FindString(path)] += strings.Count(english, theirWords)
		if strings.Contains(strings.ToLower(german), strings.ToLower(saidWords)) {
			assert.Fail(t, "what a person wrote was said", "%s: %s", path, saidThere.FindAllString(german, -1))
		}
		for _, m := range links.FindAllStringSubmatch(english, -1) {
			walk(strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
	walk("/")
	t.Log(len(seen), found)
	for _, place := range []string{"/", "/order", "/form", "/rules", "/decisions", "/measurers", "/practice", "/session"} {
		assert.NotZero(t, found[place], "nobody's words stand under %s", place)
	}
}
