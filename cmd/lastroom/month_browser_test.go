package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/testdata/breadth"
	browsing "lastroom/reports/testdata/browser"
)

var anyDay = regexp.MustCompile(`\d{4}-\d{2}-\d{2}`)

// sheetsUntil writes the invented workshop's sheets as they would have been exported
// so many days before its last one, that day being today: the desk keeps forms under
// the day they are typed on.
func sheetsUntil(t *testing.T, sheets string, before cohort.Day) (dir string) {
	t.Helper()
	last, err := cohort.ParseDay("2026-10-30")
	require.NoError(t, err)
	today := cohort.DayOf(time.Now())
	until := today - before
	read := func(name string) []map[string]string {
		f, err := os.Open(filepath.Join(sheets, name+".csv"))
		require.NoError(t, err)
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		out := []map[string]string{{}}
		for i, row := range rows {
			if i > 0 {
				out = append(out, map[string]string{})
			}
			for k, cell := range row {
				out[i][rows[0][k]] = anyDay.ReplaceAllStringFunc(cell, func(s string) string {
					d, err := cohort.ParseDay(s)
					require.NoError(t, err)
					return (d - last + today).String()
				})
			}
		}
		return out
	}
	later := func(day string) bool { return day > until.String() } // ISO days sort as days do
	dir = t.TempDir()
	write := func(name string, rows []map[string]string, keep func(row map[string]string) bool) {
		f, err := os.Create(filepath.Join(dir, name+".csv"))
		require.NoError(t, err)
		defer f.Close()
		w := csv.NewWriter(f)
		var columns []string
		for column := range rows[0] {
			columns = append(columns, column)
		}
		slices.Sort(columns)
		require.NoError(t, w.Write(columns))
		for _, row := range rows[1:] {
			if !keep(row) {
				continue
			}
			var cells []string
			for _, column := range columns {
				cells = append(cells, row[column])
			}
			require.NoError(t, w.Write(cells))
		}
		w.Flush()
		require.NoError(t, w.Error())
	}
	uncut, known := map[string]bool{}, map[string]bool{}
	write("orders", read("orders"), func(row map[string]string) bool {
		uncut[row["order_id"]] = later(row["cut_on"])
		for _, column := range []string{"cut_on", "shipped_on"} {
			if later(row[column]) {
				row[column] = ""
			}
		}
		return !later(row["received_on"])
	})
	write("forms", read("forms"), func(row map[string]string) bool {
		if uncut[row["order_id"]] {
			row["cut_from"] = ""
		}
		known[row["form_id"]] = !later(row["received_on"])
		return known[row["form_id"]]
	})
	write("measurements", read("measurements"), func(row map[string]string) bool { return known[row["form_id"]] })
	write("outcomes", read("outcomes"), func(row map[string]string) bool { return !later(row["reported_on"]) })
	write("callbacks", read("callbacks"), func(row map[string]string) bool {
		if later(row["resolved_on"]) {
			row["resolved"], row["resolved_on"] = "", ""
		}
		return !later(row["called_on"])
	})
	for _, name := range []string{"costs", "measurers"} {
		write(name, read(name), func(map[string]string) bool { return true })
	}
	return dir
}

// dayKeys types a day into a field of days: month, day and year, as the browser's
// language has them.
func (b *tab) dayKeys(css string, day cohort.Day) {
	b.t.Helper()
	b.reach(css)
	b.press(day.Time().Format("01022006"))
	require.Equal(b.t, day.String(), eval[string](b, `document.activeElement.value`))
}

// loadSheets loads a folder of sheets from wherever the tab is, and reads what was taken.
func (b *tab) loadSheets(dir string) {
	b.t.Helper()
	b.follow(`nav a[href="/sheets"]`)
	b.until(`location.pathname === "/sheets"`)
	b.reach("#sheets")
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(b.t, err)
	b.uploads("#sheets", files...) // the machine's own window for choosing files
	b.reach(`form[action="/sheets/load"] button.main`)
	b.press(kb.Enter)
	b.until(`location.pathname.endsWith("/loaded")`)
	b.says("What was read")
	b.says(" 0 kept out")
}

// A fit lead's month with nothing but the keyboard: this month's sheets, the review, a
// finding's orders, a rule switched on, three forms at the desk, a letter, what is
// decided; then the next month's sheets, and whether the rule kept its promise.
func TestAMonthFromSheetsToThePromise(t *testing.T) {
	breadth.Leave(t, "TestTheMonthByKeyboardAlone, TestAFormByKeyboard and TestSpreadsheetsByFormsAlone go parts of the way, TestSwitchRules and TestDecisionIsBoundToARunAndComesDue of the service the rest")
	demo, err := demoDir()
	require.NoError(t, err)
	sheets := filepath.Join(demo, "small", "sheets")
	for _, width := range []int64{1280, 390} {
		if width < 1000 && !breadth.Campaign() {
			continue // a minute
		}
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			book := filepath.Join(t.TempDir(), "shop.duckdb")
			var out, errs bytes.Buffer
			require.Zero(t, run(t.Context(), strings.NewReader(""), &out, &errs, []string{"load", "--book", book, sheetsUntil(t, sheets, 60)}), errs.String())
			base := served(t, book)
			b := openTab(t, base)
			b.size(width, 900)
			paths := []string{"/"}
			here := func() string { return eval[string](b, "location.pathname") }
			passes := func(name string) { // a page on the way
				b.look("month-" + name)
				assert.False(t, b.sideways(), "%s is wider than the screen", name)
				if p := here(); !slices.Contains(paths, p) {
					paths = append(paths, p)
				}
			}

			b.visit("/")
			b.says("To decide today")
			b.loadSheets(sheetsUntil(t, sheets, 30))
			passes("loaded")
			b.follow(`.mark a`)
			b.says("To decide today")
			b.reach(`form[action="/notebook/monthly-review/run"] button.main`)
			b.press(kb.Enter)
			b.says("Fit review, boots shipped in")
			b.until(`location.pathname.startsWith("/run/")`)
			first := here()
			passes("review")
			b.reach(`.finding dd a[href*="/behind/"]`)
			b.press(kb.Enter)
			b.says("The orders behind a count")
			passes("behind")
			b.reach(`tbody a[href^="/order/"]`)
			b.press(kb.Enter)
			b.says("What happened, day by day")
			passes("order")

			// The rule that the shop has kept to for a good year and a half.
			b.follow(`nav a[href="/rules"]`)
			b.reach(`a[href="/rules?rule=tape-marks-missing#tried"]`)
			b.press(kb.Enter)
			b.says("Its line in the scorecard")
			passes("rule")
			b.reach(`a[href="#switch"]`)
			b.press(kb.Enter)
			b.reach("#words")
			b.press("Without tape marks we guess.")
			began, err := cohort.ParseDay("2025-05-01")
			require.NoError(t, err)
			last, err := cohort.ParseDay("2026-10-30")
			require.NoError(t, err)
			today := cohort.DayOf(time.Now())
			b.dayKeys("#day", began-last+today)
			b.reach("#who")
			b.press("Ann")
			b.dayKeys("#revisit", today)
			b.reach(`form[action="/rules/switch"] button.main`)
			b.press(kb.Enter)
			b.until(`document.querySelector("#rule-tape-marks-missing td strong") !== null`)
			passes("switched")

			// Three forms: one good, one with a doubt, one without a number.
			keep := func(button string) {
				b.reach(button)
				b.press(kb.Enter)
			}
			b.follow(`nav a[href="/desk"]`)
			b.until(`document.activeElement.id === "order_id"`)
			passes("desk")
			b.keyForm("P90001", nil)
			keep(`button[value="keep"]`)
			b.says("P90001. Nothing holds it.")
			passes("kept")
			keep(`button[value="cut"]`)
			b.says("The desk is done with it")
			b.reach(`a.button[href="/desk"]`)
			b.press(kb.Enter)
			b.until(`location.pathname === "/desk" && document.activeElement.id === "order_id"`)
			b.keyForm("P90002", map[string]string{"25.2": "27,7"})
			keep(`button[value="letter"]`)
			b.says("Please measure again")
			passes("letter")
			pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
			require.NoError(t, err)
			assert.LessOrEqual(t, browsing.Pages(pdf), 2)
			b.follow(`nav a[href="/desk"]`)
			b.until(`location.pathname === "/desk" && document.activeElement.id === "order_id"`)
			b.keyForm("P90003", map[string]string{"34.2": "", "34.1": ""})
			keep(`button[value="keep"]`)
			b.says("P90003. It has waited")
			keep(`button[value="telephone"]`)
			b.says("the customer was asked by telephone")
			b.reach(`.back a[href="/desk/open"]`)
			b.press(kb.Enter)
			b.says("waiting for an answer")
			passes("open")

			// A month later.
			b.loadSheets(sheetsUntil(t, sheets, 0))
			b.follow(`.mark a`)
			b.says("Decisions to look at again")
			passes("first")
			b.reach(`form[action="/notebook/monthly-review/run"] button.main`)
			b.press(kb.Enter)
			b.says("Fit review, boots shipped in")
			b.until(`location.pathname.startsWith("/run/") && location.pathname !== ` + "`" + first + "`")
			b.says("Rules in force: did they work?")
			text := eval[string](b, `[...document.querySelectorAll("#since tbody tr")].map(row => row.innerText).join("\n")`)
			assert.Contains(t, text, "Tape marks missing")
			passes("next-review")
			b.follow(`.mark a`)
			b.says("Decisions to look at again")
			b.reach(`a[href^="/decisions#d-"]`)
			b.press(kb.Enter)
			b.says("Did it keep its promise?")
			b.reach(`article details summary`)
			b.press(kb.Enter)
			b.until(`document.querySelector("article details[open] table") !== null`)
			passes("decision")
			assert.Contains(t, eval[string](b, `document.querySelector("article").innerText`), "Of its promise it has kept")
			b.reach(`.look textarea`)
			b.press("It did. We keep it.")
			b.reach(`.look input[name=who]`)
			b.press("Ann" + kb.Enter)
			b.says("It did. We keep it.")
			b.onlyHere()
			if breadth.Campaign() { // minutes; what is not of this way is looked at by tests of its own
				t.Run("accessible", func(t *testing.T) { openTab(t, base).accessible(axe(t), firstRows, paths) })
			}
		})
	}
}
