package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"

	"lastroom/analysis/testdata/breadth"
)

// ledger writes a workbook as a small shop keeps one (nobody in it is real): a
// title, the feet above repeated names, a line of months, a total, notes at the
// side, a hidden tab. Its days leave open which number is the month.
func ledger(t *testing.T, name string, first, orders int) string {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	require.NoError(t, f.SetSheetName("Sheet1", "Book"))
	row := 1
	put := func(cells ...any) {
		require.NoError(t, f.SetSheetRow("Book", fmt.Sprintf("A%d", row), &cells))
		row++
	}
	put("Our boots, all in inches")
	row++
	put("", "", "", "", "", "", "", "LEFT", "", "", "RIGHT", "", "")
	put("Order", "Customer", "In", "Shipped", "Ht", "Tuck?", "Measured by", "Ball", "Instep", "12\"", "Ball", "Instep", "12\"", "Remade on", "Why")
	put("— January —")
	for i := range orders {
		n, d := first+i, 1+i%9
		remade, why, tuck, by := "", "", "", "Jo"
		if i%3 == 0 {
			remade, why = fmt.Sprintf("%d/11/2025", d), "ball too tight (our last)"
		}
		if i%2 == 0 {
			tuck, by = "x", "customer"
		}
		put(n, fmt.Sprint("K", n), fmt.Sprintf("%d/2/2025", d), fmt.Sprintf("%d/4/2025", d), "13", tuck, by, "9 1/4", "9.5", "14 1/2", "9 3/8", "9.5", "14.25", remade, why)
	}
	put("Total", orders)
	_, err := f.NewSheet("lists")
	require.NoError(t, err)
	require.NoError(t, f.SetSheetVisible("lists", false))
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, f.SaveAs(path))
	return path
}

// uploads puts files into a field of the page.
func (b *tab) uploads(css string, files ...string) {
	b.t.Helper()
	b.until(`!!document.querySelector("` + css + `") && document.readyState === "complete"`)
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.SetUploadFiles(chromedp.CSS(css), files)))
}

// choose answers a list of a column, by what stands on the page.
func (b *tab) choose(column, list, answer string) {
	b.t.Helper()
	args, _ := json.Marshal([]string{column, list, answer})
	assert.True(b.t, eval[bool](b, `((column, list, answer) => {
		for (const label of document.querySelectorAll("form.lists label")) {
			const under = label.closest("fieldset")?.querySelector("legend").innerText ?? "";
			const field = document.getElementById(label.htmlFor);
			if (!under.endsWith(column) || !label.textContent.includes(list)) continue;
			for (const o of field.options) if (o.label === answer) { field.value = o.value; return true; }
		}
		return false;
	})(...`+string(args)+`)`), "%s: no list %q with %q", column, list, answer)
}

// A shop's messy workbook comes into the book by choosing from lists, and next
// month's by the layout that was kept.
func TestAMessyWorkbookFromListsToTheBook(t *testing.T) {
	breadth.Leave(t, "TestSpreadsheetsByFormsAlone goes from a table to the book, TestSpreadsheetsFromListsToTheBook of the service answers lists and keeps a layout")
	b := openTab(t, served(t, filepath.Join(t.TempDir(), "new.duckdb")))
	b.visit("/sheets")
	// Files may be dropped on the form.
	b.until(`document.readyState === "complete"`)
	assert.Equal(t, 1, eval[int](b, `(() => { const files = new DataTransfer(); files.items.add(new File(["x"], "dropped.csv"));
		const form = document.querySelector('form[action="/spreadsheets"]');
		form.dispatchEvent(new DragEvent("drop", {dataTransfer: files, bubbles: true, cancelable: true}));
		return form.querySelector("#spreadsheets").files.length; })()`))
	b.uploads("#spreadsheets", ledger(t, "Ledger 2025.xlsx", 101, 12))
	b.click(`form[action="/spreadsheets"] button.main`)
	b.says("What these spreadsheets hold")
	b.says("14 rows under the names in row 4")
	b.says("9 1/4 → 234.9 mm")
	b.says("Measured by: “Jo” is …")
	b.look("sketch")
	b.choose("", "days in figures", "day first")
	b.choose("Measured by", "Jo", "the shop")
	b.choose("Tuck?", "an empty cell", "no")
	b.click(`button[value="look"]`)
	b.until(`document.querySelectorAll(".pair.open").length === 1`)
	b.says("1 question waits")
	b.says("1/2/2025 → 2025-02-01")
	b.choose("Why", "our last", "pattern")
	b.click(`button[value="try"]`)
	b.says("What would be taken")
	b.says("12 orders, 12 with forms, 12 with numbers (72 numbers, 0 of them tucked)")
	b.says("4 made again")
	b.look("tried")
	trial := eval[string](b, "location.pathname")
	b.visit("/")
	b.says("There is no order book here yet") // trying made none
	b.visit(trial)
	b.says("What would be taken")
	b.fill("#name", "Our ledger")
	b.click("main button.main")
	b.until(`location.pathname.endsWith("/loaded")`)
	b.says("12 orders")
	b.look("loaded")
	b.fill("#find-order", "104")
	b.click(".find button")
	b.says("Order 104")
	b.says("pattern")

	// Next month: the file, two clicks.
	b.visit("/sheets")
	b.says("Layouts kept with the book")
	b.look("layouts")
	b.uploads("#spreadsheets", ledger(t, "Ledger 2026.xlsx", 110, 9))
	b.click(`form[action="/spreadsheets"] button.main`)
	b.says("Read by the layout Our ledger")
	b.click("main button.main")
	b.until(`location.pathname.endsWith("/loaded")`)
	b.fill("#find-order", "118")
	b.click(".find button")
	b.says("Order 118")
	b.onlyHere()
}

// The lists are answered, tried and loaded with the keys alone.
func TestSpreadsheetsByKeyboard(t *testing.T) {
	breadth.Leave(t, "TestSpreadsheetsByFormsAlone goes the way, TestAFormByKeyboard and TestPracticeByKeyboardAlone by the tab key")
	b := openTab(t, served(t, filepath.Join(t.TempDir(), "new.duckdb")))
	b.visit("/sheets")
	b.uploads("#spreadsheets", ledger(t, "Ledger.xlsx", 101, 4))
	press := func(keys string) {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.KeyEvent(keys)))
	}
	// the is the next that is wanted from what has the focus on.
	the := func(kind, wanted string) {
		b.reachThe(`[...document.querySelectorAll("` + kind + `")].find(e => !(document.activeElement.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_PRECEDING) && ` + wanted + `)`)
	}
	the("button", `e.textContent === "Look at them"`)
	press("\r")
	b.says("What these spreadsheets hold")
	b.until(`document.readyState === "complete"`)
	// A question's link goes to its list; there a letter chooses.
	the("a", `e.textContent.startsWith("days in figures")`)
	press("\r")
	b.until(`location.hash.startsWith("#l-")`)
	press("\t")
	the("select", `e.closest("p").innerText.includes("days in figures")`)
	press("d")
	assert.Equal(t, "day first", eval[string](b, `document.activeElement.value`))
	the("button", `e.textContent === "Try how it loads"`)
	press("\r")
	b.says("What would be taken")
	the("button", `e.textContent === "Load it"`)
	press("\r")
	b.until(`location.pathname.endsWith("/loaded")`)
	b.says("4 orders")
	b.says("2025-02-01")
	b.onlyHere()
}

// The pages of the lists and of the trial are accessible, and no wider than the
// screen.
func TestSpreadsheetPagesAreAccessible(t *testing.T) {
	breadth.Leave(t, "TestEveryPageIsAccessible looks at forms and tables")
	script := axe(t)
	b := openTab(t, served(t, filepath.Join(t.TempDir(), "new.duckdb")))
	b.visit("/sheets")
	b.uploads("#spreadsheets", ledger(t, "Ledger.xlsx", 101, 6))
	b.click(`form[action="/spreadsheets"] button.main`)
	b.says("What these spreadsheets hold")
	lists := eval[string](b, "location.pathname")
	b.click(`button[value="try"]`)
	b.says("What would be taken")
	const open = `document.querySelectorAll("details").forEach(d => d.open = true)`
	b.accessible(script, open, []string{"/sheets", lists, lists + "/tried"}, "/sheets", lists, lists+"/tried")
}

// Without a script, by forms alone: what is on the page is sent back. In a wide run also
// the rows kept out are mended and sent again.
func TestSpreadsheetsByFormsAlone(t *testing.T) {
	base := served(t, filepath.Join(t.TempDir(), "new.duckdb"))
	path := filepath.Join(t.TempDir(), "orders.csv")
	require.NoError(t, os.WriteFile(path, []byte("Nr;Kunde;Eingang;Versand;Ballen L;Ballen R;Spann L;Spann R\n"+
		"7;K7;3.5.2024;20.6.2024;25,1;25,2;25,3;25,4\n8;K8;14.5.2024;20.6.2024;25,1;zwei;25,3;25,4\n"), 0o600))
	text, at := sendFile(t, base+"/spreadsheets", path)
	require.Contains(t, text, "What these spreadsheets hold")
	text, at = sendForm(t, base, at, text, "do", "try")
	require.Contains(t, text, "What would be taken")
	require.Contains(t, text, "zwei")
	text, at = sendForm(t, base, at, text, "name", "Maßbuch")
	require.Contains(t, text, "What was read")
	require.Contains(t, text, "2 orders")
	res, err := http.Get(base + strings.TrimSuffix(at, "/loaded") + "/rejects.csv")
	require.NoError(t, err)
	kept, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	res.Body.Close()
	require.Contains(t, string(kept), "zwei")
	if !breadth.Wide() {
		return
	}
	mended := filepath.Join(t.TempDir(), "rejects.csv")
	require.NoError(t, os.WriteFile(mended, []byte(strings.ReplaceAll(string(kept), "zwei", "25,2")), 0o600))
	text, _ = sendFile(t, base+"/sheets/load", mended)
	require.Contains(t, text, "0 kept out")
}

// sendFile sends a file and goes where that leads.
func sendFile(t *testing.T, to, path string) (text, at string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("files", filepath.Base(path))
	require.NoError(t, err)
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = part.Write(content)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	res, err := http.Post(to, w.FormDataContentType(), &b)
	require.NoError(t, err)
	return arrived(t, res)
}

// arrived waits for a job to end, as a person who looks again does.
func arrived(t *testing.T, res *http.Response) (text, at string) {
	t.Helper()
	for {
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		res.Body.Close()
		require.Equal(t, 200, res.StatusCode, string(b))
		if !strings.Contains(string(b), "data-job=") {
			return string(b), res.Request.URL.Path
		}
		res, err = http.Get(res.Request.URL.String())
		require.NoError(t, err)
	}
}

// sendForm sends the main form of a page with what stands in its fields, and one
// field more.
func sendForm(t *testing.T, base, at, text, field, value string) (string, string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	require.NoError(t, err)
	attr := func(n *html.Node, name string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == name {
				return a.Val, true
			}
		}
		return "", false
	}
	fields, action := url.Values{}, ""
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		name, _ := attr(n, "name")
		to, _ := attr(n, "action")
		switch {
		case n.Data == "form" && (to == at || to == strings.TrimSuffix(at, "/tried")+"/load"):
			action = to
		case n.Data == "select" && name != "":
			for o := range n.Descendants() {
				if v, ok := attr(o, "value"); o.Data == "option" && ok {
					if _, chosen := attr(o, "selected"); chosen || !fields.Has(name) {
						fields.Set(name, v)
					}
				}
			}
		}
	}
	require.NotEmpty(t, action, "the page has its form")
	fields.Set(field, value)
	res, err := http.PostForm(base+action, fields)
	require.NoError(t, err)
	return arrived(t, res)
}
