package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/demo"
	"lastroom/notebooks/analyses"
)

// noFigure is what stands where a number could not be worked out or a text could
// not be put together, and nobody saw to it; words by themselves.
var noFigure = []string{"NaN", "Inf", "Infinity", "%!", "<nil>", "&lt;nil&gt;", "(nil)"}

// A sheetTable is an order sheet with its header.
type sheetTable [][]string

// set puts a value into a column of every row that is chosen.
func (s sheetTable) set(column, value string, chosen func(no int, row map[string]string) bool) {
	at := slices.Index(s[0], column)
	for no, row := range s[1:] {
		if chosen == nil || chosen(no, s.row(row)) {
			row[at] = value
		}
	}
}

func (s sheetTable) row(cells []string) map[string]string {
	row := map[string]string{}
	for i, name := range s[0] {
		row[name] = cells[i]
	}
	return row
}

// keep leaves out the rows that are not chosen.
func (s *sheetTable) keep(chosen func(row map[string]string) bool) {
	*s = slices.DeleteFunc(*s, func(cells []string) bool {
		return &cells[0] != &(*s)[0][0] && !chosen(s.row(cells))
	})
}

// emptyShop is a book whose only customer was forgotten.
const emptyShop = "an empty book"

// oddShops are workshops at the edge of what there is to say of them: how many
// orders of the invented workshop, and what is changed in its sheets.
var oddShops = map[string]struct {
	orders int
	change func(map[string]*sheetTable)
}{
	emptyShop:       {1, func(map[string]*sheetTable) {}},
	"twenty orders": {20, func(map[string]*sheetTable) {}},
	"all remade": {60, func(s map[string]*sheetTable) {
		s["outcomes"].keep(func(map[string]string) bool { return false })
		for _, cells := range (*s["orders"])[1:] {
			o := s["orders"].row(cells)
			if o["shipped_on"] != "" {
				r := map[string]string{"order_id": o["order_id"], "reported_on": o["shipped_on"], "result": "remade", "zone": "ball", "direction": "tight"}
				var row []string
				for _, name := range (*s["outcomes"])[0] {
					row = append(row, r[name])
				}
				*s["outcomes"] = append(*s["outcomes"], row)
			}
		}
	}},
	"none remade": {60, func(s map[string]*sheetTable) {
		s["outcomes"].keep(func(r map[string]string) bool { return r["result"] != "remade" })
	}},
	"no report at all": {60, func(s map[string]*sheetTable) {
		s["outcomes"].keep(func(map[string]string) bool { return false })
		s["callbacks"].keep(func(map[string]string) bool { return false })
	}},
	"one fault only": {120, func(s map[string]*sheetTable) {
		for _, name := range (*s["forms"])[0] {
			for _, mark := range []string{"outline", "ball_mark", "instep_mark", "tape_zero", "orthotic_discussed"} {
				if strings.HasPrefix(name, mark) {
					s["forms"].set(name, "yes", nil)
				}
			}
		}
		s["forms"].set("self_measured", "no", nil)
		s["forms"].set("outline_closed_left", "no", func(no int, _ map[string]string) bool { return no%3 == 0 })
		s["orders"].set("worn_tucked", "no", nil)
		s["orders"].set("orthotic", "no", nil)
	}},
	"one channel": {80, func(s map[string]*sheetTable) {
		s["orders"].set("channel", "home", nil)
		s["forms"].set("measurer_id", "", nil)
	}},
	"one month": {60, func(s map[string]*sheetTable) {
		for _, name := range []string{"received_on", "cut_on", "shipped_on"} {
			s["orders"].set(name, "2025-03-1"+fmt.Sprint(len(name)%10), nil)
		}
		s["forms"].set("received_on", "2025-03-11", nil)
		s["outcomes"].set("reported_on", "2025-04-20", nil)
	}},
	"nothing but remakes": {40, func(s map[string]*sheetTable) {
		s["orders"].set("received_on", "2025-03-01", nil)
		s["orders"].set("cut_on", "2025-03-05", nil)
		s["orders"].set("shipped_on", "2025-03-20", nil)
		s["forms"].set("received_on", "2025-03-01", nil)
		s["outcomes"].set("result", "remade", nil)
		s["outcomes"].set("reported_on", "2025-04-20", nil)
	}},
	"twenty-five remakes": {300, func(s map[string]*sheetTable) {
		n := 0
		s["outcomes"].keep(func(r map[string]string) bool {
			if r["result"] == "remade" {
				n++
			}
			return r["result"] != "remade" || n <= 25
		})
	}},
}

// oddBook loads the sheets of an odd shop into a book of its own.
func oddBook(t *testing.T, name string) (book, sheets string) {
	t.Helper()
	dir := t.TempDir()
	sheets, book = filepath.Join(dir, "sheets"), filepath.Join(dir, "shop.duckdb")
	shop := oddShops[name]
	_, err := demo.Write(sheets, demo.Options{Seed: 3, Orders: shop.orders})
	require.NoError(t, err)
	tables := map[string]*sheetTable{}
	files, err := filepath.Glob(filepath.Join(sheets, "*.csv"))
	require.NoError(t, err)
	for _, file := range files {
		f, err := os.Open(file)
		require.NoError(t, err)
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		f.Close()
		table := sheetTable(rows)
		tables[strings.TrimSuffix(filepath.Base(file), ".csv")] = &table
	}
	shop.change(tables)
	for name, table := range tables {
		f, err := os.Create(filepath.Join(sheets, name+".csv"))
		require.NoError(t, err)
		require.NoError(t, csv.NewWriter(f).WriteAll(*table))
		require.NoError(t, f.Close())
	}
	status, out, errs := said(t, "load", "--book", book, sheets)
	require.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld}, status, out+errs)
	hasFigures(t, out+errs, "load")
	if name == emptyShop {
		status, out, errs := said(t, "book", "forget", "--book", book, "P00001")
		require.Zero(t, status, out+errs)
	}
	return book, sheets
}

func hasFigures(t *testing.T, text, where string) {
	t.Helper()
	for _, bad := range noFigure {
		for from := 0; ; {
			at := strings.Index(text[from:], bad)
			if at < 0 {
				break
			}
			at, from = from+at, from+at+len(bad)
			if at > 0 && inWord(text[at-1]) && inWord(bad[0]) || from < len(text) && inWord(text[from]) && inWord(bad[len(bad)-1]) {
				continue // within another word
			}
			assert.Fail(t, "no figure and no word for it", "%s: …%s…", where, text[max(0, at-120):min(len(text), from+60)])
			break
		}
	}
}

func inWord(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' || c >= '0' && c <= '9' || c >= 0x80 }

// argumentsOf say how a command is run on a shop, besides its formats, where that
// takes more than the book; nil where it is left out, for a reason that is said.
var argumentsOf = map[string]func(book, sheets, dir string) []string{
	"demo":     func(_, _, dir string) []string { return nil }, // its parts are run here, on other shops
	"serve":    func(_, _, dir string) []string { return nil }, // its pages are walked
	"open":     func(_, _, dir string) []string { return nil }, // the same
	"layout":   func(_, sheets, dir string) []string { return []string{filepath.Join(sheets, "orders.csv")} },
	"template": func(_, _, dir string) []string { return []string{filepath.Join(dir, "template")} },
	"load":     func(book, sheets, _ string) []string { return []string{"--book", book, "--dry-run", sheets} },
	"check":    func(book, sheets, _ string) []string { return []string{"--book", book, sheets} },
	"run": func(book, _, _ string) []string {
		return []string{"--book", book, "--set", "resampled=40", "monthly-review"}
	},
	"compare": func(book, _, _ string) []string { return []string{"--book", book, "monthly-review"} },
	"sheet": func(_, _, dir string) []string {
		return []string{"--shaft-height", "14in", "--out", filepath.Join(dir, "sheet.html")}
	},
	"teach": func(book, _, dir string) []string {
		return []string{"--book", book, "--out", filepath.Join(dir, "teach.html")}
	},
	"practice": func(string, string, string) []string { return []string{"--key"} },
	"session": func(_, _, dir string) []string {
		return []string{"--instructor", "boss", "--measurers", "Ann", "--legs", "A,B", "--out", filepath.Join(dir, "session.html")}
	},
	"book backup": func(book, _, dir string) []string { return []string{"--book", book, filepath.Join(dir, "backup")} },
	"book restore": func(_, _, dir string) []string {
		return []string{"--book", filepath.Join(dir, "again.duckdb"), filepath.Join(dir, "backup")}
	},
	"book export": func(book, _, dir string) []string { return []string{"--book", book, filepath.Join(dir, "export")} },
	"book forget": func(book, _, _ string) []string { return []string{"--book", book, "P00003"} },
}

// saysLittle are commands that say nothing of how a shop does: where a run is not wide
// TestExamples looks at their figures, of another shop.
var saysLittle = map[string]bool{"layout": true, "template": true, "load": true, "sheet": true, "practice": true, "session": true, "audit": true,
	"book backup": true, "book restore": true, "book export": true, "book verify": true}

func onBook(book, _, _ string) []string { return []string{"--book", book} }

// Whatever there is to say of a shop, a number that can't be worked out is said in
// words: by every analysis of the catalogue, every command and every page. Without
// -campaign one of the shops is tried (five in a wide run), commands and pages on the first,
// in one format each; where a run is not wide, of each kind of page one.
func TestEveryFigureIsANumberOrSaidInWords(t *testing.T) {
	t.Parallel()
	tried := []string{"nothing but remakes", emptyShop, "one month", "none remade", "one fault only"}
	if !breadth.Wide() {
		tried = tried[:1]
	}
	for _, name := range slices.Sorted(maps.Keys(oddShops)) {
		if !breadth.Campaign() && !slices.Contains(tried, name) {
			continue
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			book, sheets := oddBook(t, name)
			month := "latest"
			if name == emptyShop { // which has none
				month = "2025-03"
			}
			everyAnalysis(t, book, month)
			if name == "nothing but remakes" || breadth.Campaign() {
				everyCommand(t, book, sheets)
				everyPage(t, book)
				status, out, errs := said(t, append([]string{"book", "forget"}, argumentsOf["book forget"](book, "", "")...)...)
				hasFigures(t, out+errs, "book forget")
				require.NotEqual(t, workshop.ExitTrouble, status)
			}
		})
	}
}

func everyCommand(t *testing.T, book, sheets string) {
	dir := t.TempDir()
	for no, c := range commands() {
		name := nameOf(c)
		how, listed := argumentsOf[name]
		if !listed {
			require.NotNil(t, c.Flags().Lookup("book"), "say in argumentsOf how %s is run", name)
			how = onBook
		}
		args := how(book, sheets, dir)
		if args == nil || name == "book forget" { // comes last
			continue
		}
		if !breadth.Wide() && saysLittle[name] {
			continue
		}
		formats := []string{""}
		if c.Flags().Lookup("format") != nil {
			formats = []string{"text", "csv", "json"}
			if !breadth.Campaign() {
				formats = formats[no%3:][:1]
			}
		}
		for _, format := range formats {
			words := append(strings.Fields(name), args...)
			if c.Flags().Lookup("quick") != nil {
				words = append(words, "--quick")
			}
			if format != "" {
				words = append(words, "--format", format)
			}
			status, out, errs := said(t, words...)
			hasFigures(t, out+errs, strings.Join(words, " "))
			assert.NotEqual(t, workshop.ExitTrouble, status, "%s: %s", words, errs)
			assert.NotEqual(t, workshop.ExitUsage, status, "%s: %s", words, errs)
			if name == "book backup" || name == "book restore" || name == "book export" || name == "template" {
				break // they write where nothing is yet
			}
		}
	}
	filesHaveFigures(t, dir)
}

// filesHaveFigures looks into every file that people read.
func filesHaveFigures(t *testing.T, dir string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && slices.Contains([]string{".html", ".csv", ".json", ".ipynb", ".txt", ".md", ".svg", ".yaml"}, filepath.Ext(path)) {
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			hasFigures(t, string(b), filepath.Base(path))
		}
		return err
	}))
}

// everyAnalysis runs a notebook that shows every part of every analysis.
func everyAnalysis(t *testing.T, book, month string) {
	dir := t.TempDir()
	var b strings.Builder
	fmt.Fprintf(&b, "---\ntitle: Notebooks\nfor: tests\nparameters:\n  - {name: month, type: month, default: %s}\n---\n", month)
	for _, name := range slices.Sorted(maps.Keys(analyses.All)) {
		keys := ""
		for _, k := range analyses.All[name].Keys {
			switch k.Name {
			case "fault":
				keys += " fault=" + form.Faults[0].ID
			case "measurer":
				keys += " measurer=D01"
			case "month":
				keys += " month=$month"
			case "resampled":
				keys += " resampled=40"
			}
		}
		fmt.Fprintf(&b, "\n```finding of=%s name=of_%s%s\n```\n", name, name, keys)
		for _, part := range analyses.All[name].Parts {
			fmt.Fprintf(&b, "\n```show from=of_%s part=%s\n```\n", name, part)
		}
	}
	file := filepath.Join(dir, "all.md")
	require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o600))
	out, errs, status := program(dir, "run", "--book", book, file, "--out", "all")
	// A cell that has nothing to go by says so, with status 3; a notebook that is
	// none has not been run.
	require.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld, workshop.ExitBadInput}, status, errs)
	require.FileExists(t, filepath.Join(dir, "all", "page.html"), errs)
	hasFigures(t, out+errs, "run")
	filesHaveFigures(t, dir)
}

var (
	links   = regexp.MustCompile(`(?:href|src)="(/[^"#]*)`)
	someOf  = regexp.MustCompile(`^/(run/[^/]+/behind|order|form)/|[?&]behind=`) // there are as many as orders
	oneOf   = regexp.MustCompile(`^/(run/[^/]+/behind|order|form|measurers|customer|run|teaching|notebook|edit|rules|help|practice|session)/|^/rules\?|[?&]behind=`)
	runForm = regexp.MustCompile(`action="(/notebook/[^"]+/run)"`)
)

// everyPage walks all links of the service from its first page, runs every
// notebook, and sends the forms of the desk and of practice; where a run is not wide, of
// each kind of page one, without running notebooks, and in English only.
func everyPage(t *testing.T, book string) {
	base := served(t, book)
	german := germanPages(t)
	look := func(res *http.Response, err error) string {
		require.NoError(t, err)
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		assert.Less(t, res.StatusCode, 500, "%s: %s", res.Request.URL, b)
		if !strings.HasPrefix(res.Request.URL.Path, "/static/") {
			hasFigures(t, string(b), res.Request.URL.Path)
			if breadth.Wide() {
				german(res, b)
			}
		}
		return string(b)
	}
	most, kinds := 3, someOf // orders and lists of orders
	switch {
	case breadth.Campaign():
		most = 500
	case !breadth.Wide():
		most, kinds = 1, oneOf
	}
	seen, some := map[string]bool{}, map[string]int{}
	var walk func(text string)
	walk = func(text string) {
		for _, m := range links.FindAllStringSubmatch(text, -1) {
			path := strings.ReplaceAll(m[1], "&amp;", "&")
			kind := kinds.FindString(path)
			if strings.HasPrefix(kind, "/") {
				kind = kind[strings.LastIndexByte(kind[:len(kind)-1], '/'):]
			} else {
				kind = strings.Trim(kind, "?&")
			}
			if seen[path] || kind != "" && some[kind] >= most {
				continue
			}
			seen[path] = true
			some[kind]++
			page := look(http.Get(base + path))
			walk(page)
			for _, run := range runForm.FindAllStringSubmatch(page, -1) {
				if !breadth.Wide() { // their analyses have been looked at
					break
				}
				res, err := http.PostForm(base+run[1], url.Values{"resampled": {"40"}})
				text := look(res, err)
				for err == nil && strings.HasPrefix(res.Request.URL.Path, "/job/") && strings.Contains(text, "data-job") {
					time.Sleep(100 * time.Millisecond)
					res, err = http.Get(base + res.Request.URL.Path)
					text = look(res, err)
				}
				walk(text)
			}
		}
	}
	walk(look(http.Get(base + "/")))
	practised := look(http.Get(base + "/practice/old"))
	if word := regexp.MustCompile(`name="order" value="([^"]+)"`).FindStringSubmatch(practised); word != nil {
		walk(look(http.PostForm(base+"/practice/old", url.Values{"order": {word[1]}, "answer": {"cut"}})))
	}
	desk := url.Values{"unit": {"in"}, "shaft_unit": {"in"}, "shaft": {"14"}, "n-left-bare-ball": {"9 1/2"}, "n-right-bare-ball": {"0"}, "n-left-bare-length": {"99999"}, "n-left-bare-heel": {"1e400"}}
	for _, path := range []string{"/desk", "/desk/doubts", "/desk/letter"} {
		look(http.PostForm(base+path, desk))
		look(http.PostForm(base+path, nil))
	}
	for _, path := range []string{"/runs", "/desk", "/decisions", "/sheets", "/help"} {
		if !seen[path] && !strings.Contains(path, "desk") {
			assert.Fail(t, "no link leads to "+path)
		}
	}
	t.Logf("%d addresses", len(seen))
}
