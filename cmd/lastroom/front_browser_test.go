package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	browserpkg "lastroom/reports/testdata/browser"
)

// The tables of the review are sorted and filtered by the keyboard, kept as CSV, and fold
// on a phone instead of being cut; at 1280 pixels none is wider than its room.
func TestTablesOfTheReviewByKeyboard(t *testing.T) {
	breadth.Leave(t, "TestTablesByKeyboard does the same on the page of rules")
	b := openTab(t, shownShop(t))
	b.size(1280, 900)
	b.visit("/review")
	b.until(`!!document.querySelector("#fault-table-data thead button")`)
	cut := eval[[]string](b, `[...document.querySelectorAll(".scroll")].filter(e => !e.closest("details") && e.scrollWidth > e.clientWidth + 1).map(e => e.querySelector("table").id)`)
	assert.Empty(t, cut, "cut at 1280 pixels")

	column := func() []float64 {
		var out []float64
		for _, s := range eval[[]string](b, `[...document.querySelectorAll("#fault-table-data tbody tr")].filter(r => !r.hidden).map(r => r.cells[2].innerText)`) {
			x, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", ""), 64)
			require.NoError(t, err)
			out = append(out, x)
		}
		return out
	}
	began := column()
	require.False(t, slices.IsSorted(began))
	press := func(key string) { require.NoError(t, chromedp.Do(b.ctx, chromedp.KeyEvent(key))) }
	eval[bool](b, `(() => { document.querySelector("#fault-table-data thead th:nth-child(3) button").focus(); return true; })()`)
	press("\r")
	b.until(`document.querySelector("#fault-table-data th:nth-child(3)").getAttribute("aria-sort") === "ascending"`)
	assert.True(t, slices.IsSorted(column()))
	press("\r")
	b.until(`document.querySelector("#fault-table-data th:nth-child(3)").getAttribute("aria-sort") === "descending"`)
	down := column()
	slices.Reverse(down)
	assert.True(t, slices.IsSorted(down))

	eval[bool](b, `(() => { document.querySelector("#fault-table-data").closest(".table").querySelector("input[type=search]").focus(); return true; })()`)
	for _, key := range "tape" {
		press(string(key))
	}
	b.until(`document.querySelector("#fault-table-data").closest(".table").querySelector("[role=status]").innerText === "3 of 14"`)
	assert.Len(t, column(), 3)
	assert.Contains(t, eval[string](b, `document.querySelector("#fault-table-data").closest(".table").querySelector("a[download]").href`), "/tables/fault-table-data.csv")

	b.size(390, 900)
	b.visit("/review")
	b.until(`!!document.querySelector("#fault-table-data thead button")`)
	assert.Equal(t, "flex", eval[string](b, `getComputedStyle(document.querySelector("#fault-table-data tbody td")).display`))
	folded := eval[[]string](b, `[...document.querySelectorAll("table.fold")].filter(e => !e.closest("details") && e.closest(".scroll").scrollWidth > e.closest(".scroll").clientWidth + 1).map(e => e.id)`)
	assert.Empty(t, folded, "wider than a phone, though folded")
	b.onlyHere()
}

// The tables of the service's own pages too.
func TestTablesByKeyboard(t *testing.T) {
	b := openTab(t, shownShop(t))
	b.size(390, 900)
	b.visit("/rules")
	b.until(`!!document.querySelector("#rules-list thead button")`)
	assert.Equal(t, "flex", eval[string](b, `getComputedStyle(document.querySelector("#rules-list tbody td")).display`))
	assert.False(t, b.sideways())
	b.size(1280, 900)
	first := func() string {
		return eval[string](b, `document.querySelector("#rules-list tbody tr:not([hidden]) th").innerText`)
	}
	require.Equal(t, "Tape marks missing", first(), "those that are on come first")
	b.reach("#rules-list thead th:first-child button")
	b.press("\r")
	b.until(`document.querySelector("#rules-list th").getAttribute("aria-sort") === "ascending"`)
	assert.Equal(t, "Foot girth missing", first())
	b.reach(".tabletools input[type=search]")
	b.press("girth")
	b.until(`document.querySelector(".tabletools [role=status]").innerText === "1 of 17"`)
	csv := eval[string](b, `(async () => { let made; URL.createObjectURL = (blob) => { made = blob; return "#"; }; document.querySelector(".tabletools a[download]").click(); return made.text(); })()`)
	assert.Equal(t, "rule,on or off,holds forms where\r\nFoot girth missing,on since 2025-05-01,\"ball, instep or heel girth is missing on a side\"\r\n", csv)
	assert.NotEmpty(t, eval[[]string](b, `[...document.querySelectorAll("a.word")].map(a => a.innerText)`), "hard words lead to the glossary")
	b.onlyHere()
}

// Five things a fit lead asks, each answered within three clicks from the first page;
// the log has the clicks as a table.
func TestFromTheFirstPageInThreeClicks(t *testing.T) {
	breadth.Leave(t, "TestTheMonthByKeyboardAlone comes to the orders behind a finding within three")
	b := openTab(t, shownShop(t))
	log := "\nclicks  question, and the way\n"
	for _, ask := range []struct {
		question string
		clicks   []string
		says     string
	}{
		{"which orders should I ring, and what was wrong with the first one's form?", []string{`a[href="/orders/ask"]`, `tbody a[href^="/order/"]`}, "Remake risk, as seen"},
		{"which pairs of the month came back, and where did they not fit?", []string{`a[href="/orders/remade"]`}, "Where it did not fit"},
		{"what did the month cost?", []string{`nav a[href="/review"]`}, "cost in all"},
		{"is the rule for missing tape marks on, and which pairs came back all the same?", []string{`a[href="/review#finding-tape-marks-missing"]`, `#finding-tape-marks-missing dd a[href*="/behind/"]`}, "The orders behind a count"},
		{"is this form good enough to cut from?", []string{`nav a[href="/desk"]`}, "Check"},
	} {
		b.visit("/")
		require.LessOrEqual(t, len(ask.clicks), 3)
		var way []string
		for _, css := range ask.clicks {
			b.until(`document.readyState === "complete" && !!document.querySelector('` + css + `')`)
			from := eval[string](b, "location.href")
			way = append(way, eval[string](b, `(() => { const link = document.querySelector('`+css+`'); link.click(); return link.innerText; })()`))
			b.until("location.href !== " + strconv.Quote(from))
		}
		b.says(ask.says)
		log += fmt.Sprintf("%6d  %s\n        %s\n", len(way), ask.question, strings.Join(way, " → "))
	}
	t.Log(log)
	b.onlyHere()
}

// follow goes to a link by the tab key and opens it.
func (b *tab) follow(css string) {
	b.t.Helper()
	b.reach(css)
	b.press("\r")
}

// From the first page to the review and to the orders behind a finding, with nothing but
// Tab and Enter, on a phone; in a wide run further to one of them, to the glossary and back
// to rules, and on a wide screen, where less is folded away.
func TestTheMonthByKeyboardAlone(t *testing.T) {
	b := openTab(t, shownShop(t))
	widths := []int64{390}
	if breadth.Wide() {
		widths = append(widths, 1280)
	}
	for _, w := range widths {
		b.size(w, 900)
		b.visit("/")
		b.says("To decide today")
		b.follow(`nav a[href="/review"]`)
		b.says("What was found")
		b.follow(`.finding dd a[href*="/behind/"]`)
		b.says("The orders behind a count")
		if !breadth.Wide() {
			break
		}
		b.follow(`tbody a[href^="/order/"]`)
		b.says("Remake risk, as seen")
		b.follow(`nav a[href="/help"]`)
		b.says("One order's way")
		b.follow(`a[href="/help/words#mature"]`)
		b.says("out long enough to tell")
		b.follow(`nav a[href="/rules"]`)
		b.until(`location.pathname === "/rules"`)
	}
	b.onlyHere()
}

// Sheets one and two of the review, as the shipped notebook lays them out, take a page
// each on A4 and on Letter.
func TestSheetsOneAndTwoArePagesEach(t *testing.T) {
	breadth.Leave(t, "TestPageInABrowser of the review prints them")
	b := openTab(t, shownShop(t))
	require.NoError(t, chromedp.Do(b.ctx, chromedp.Navigate("file://"+filepath.Join(shown.folder, "review.html"))))
	b.says("Fit review")
	for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
		for _, sheet := range []string{".sheet-1", ".sheet-2"} {
			eval[int](b, `document.querySelectorAll(".sheet").forEach(e => e.hidden = !e.matches("`+sheet+`")) || 1`)
			pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
			require.NoError(t, err)
			assert.Equal(t, 1, browserpkg.Pages(pdf), "%s on paper %v", sheet, paper)
		}
	}
}
