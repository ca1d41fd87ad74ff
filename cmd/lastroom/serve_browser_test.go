package main

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A tab is a page of the service in Chromium, with every request noted.
type tab struct {
	t     *testing.T
	ctx   context.Context // ends with the test
	whole context.Context // ends with the browser
	base  string

	mu       sync.Mutex
	requests []string
}

// browser is one Chromium for all tests; each tab is a stranger to the others.
var browser = sync.OnceValue(func() context.Context {
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(workshop.FindBrowser()), chromedp.Flag("no-sandbox", os.Geteuid() == 0),
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("hide-scrollbars", true),
		// The page works with the network cut off: no name but the machine's own can be looked up.
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	closeBrowser = func() { cancel(); stop() }
	return ctx
})

var closeBrowser = func() {} // once browser is there, ends it

// openTab opens a tab for the service at an address, or skips where there is no
// browser. Under CI=true a missing browser fails.
func openTab(t *testing.T, base string) *tab {
	t.Helper()
	if workshop.FindBrowser() == "" {
		if breadth.Wide() {
			t.Fatal("no Chromium on this machine, and CI=true")
		}
		t.Skip("no Chromium on this machine: the service's pages were not looked at")
	}
	b := newTab(t)
	b.t, b.base, b.requests = t, base, nil
	var done context.CancelFunc
	b.ctx, done = context.WithTimeout(b.whole, 5*time.Minute)
	t.Cleanup(func() {
		b.giveBack()
		done()
	})
	b.size(1200, 900)
	return b
}

// spare are tabs that tests have given back: a new one takes longer than most pages.
var spare []*tab

// newTab is a spare tab, or one more. Tabs share no cookies, as of the language chosen.
func newTab(t *testing.T) *tab {
	if last := len(spare) - 1; last >= 0 {
		b := spare[last]
		spare = spare[:last]
		return b
	}
	b := &tab{whole: browser()} // with the tab that it starts in
	if chromedp.FromContext(b.whole).Target != nil {
		b.whole, _ = chromedp.NewContext(browser(), chromedp.WithNewBrowserContext()) // ended by closeBrowser
	}
	require.NoError(t, chromedp.Listen(b.whole, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			b.mu.Lock()
			b.requests = append(b.requests, e.Request.URL)
			b.mu.Unlock()
		}
	}))
	_, err := chromedp.Call(b.whole, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	return b
}

// giveBack leaves nothing of a test in its tab: drafts of the desk, cookies, how colours
// and paper were shown. The tab of a test that failed is used no more.
func (b *tab) giveBack() {
	b.t.Helper()
	if b.t.Failed() {
		return
	}
	if eval[bool](b, `location.protocol === "http:"`) {
		eval[bool](b, `(sessionStorage.clear(), localStorage.clear(), true)`)
	}
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.Navigate("about:blank")))
	_, err := chromedp.Call(b.ctx, page.ResetNavigationHistory, cdp.Empty{})
	require.NoError(b.t, err)
	_, err = chromedp.Call(b.ctx, network.ClearBrowserCookies, cdp.Empty{})
	require.NoError(b.t, err)
	_, err = chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
	require.NoError(b.t, err)
	spare = append(spare, b)
}

func (b *tab) size(w, h int64) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.EmulateViewport(w, h)))
}

// visit opens a page. Where what was pressed before is still on its way, the browser
// gives the newer page up for it; then it is asked for again.
func (b *tab) visit(path string) {
	b.t.Helper()
	err := chromedp.Do(b.ctx, chromedp.Navigate(b.base+path))
	if err != nil && strings.Contains(err.Error(), "ERR_ABORTED") {
		b.until(`document.readyState === "complete"`)
		err = chromedp.Do(b.ctx, chromedp.Navigate(b.base+path))
	}
	require.NoError(b.t, err)
}

func eval[T any](b *tab, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, js[max(0, len(js)-300):])
	return v
}

// until waits for a script to be true.
func (b *tab) until(js string) {
	b.t.Helper()
	pause := 5 * time.Millisecond
	for began := time.Now(); time.Since(began) < time.Minute; time.Sleep(pause) {
		v, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](js))
		if err == nil && v { // while a page goes over into another there is an error
			return
		}
		pause = min(2*pause, 80*time.Millisecond)
	}
	b.t.Fatalf("never true: %s\non %s", js, eval[string](b, "location.pathname + ' ' + (document.querySelector('main')?.innerText ?? '').slice(0, 400)"))
}

// says waits for words on the page.
func (b *tab) says(words string) {
	b.t.Helper()
	w, _ := json.Marshal(words)
	b.until("document.body && document.body.innerText.includes(" + string(w) + ")")
}

func (b *tab) click(css string) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.Click(chromedp.CSS(css))), css)
}

// fill puts a value into a field as a person's typing would.
func (b *tab) fill(css, value string) {
	b.t.Helper()
	c, _ := json.Marshal(css)
	v, _ := json.Marshal(value)
	b.until("!!document.querySelector(" + string(c) + ")")
	eval[bool](b, `(() => { const e = document.querySelector(`+string(c)+`); e.focus(); e.value = `+string(v)+`; e.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`)
}

// onlyHere checks that no request left the machine.
func (b *tab) onlyHere() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	require.NotEmpty(b.t, b.requests)
	for _, r := range b.requests {
		u, err := url.Parse(r)
		require.NoError(b.t, err)
		assert.True(b.t, "http://"+u.Host == b.base || u.Scheme == "data" || u.Scheme == "blob", r)
	}
}

func TestTheMonthlyReviewAndTheOrdersBehindIt(t *testing.T) {
	breadth.Leave(t, "TestTheMonthByKeyboardAlone goes from the review to the orders behind it, TestRunAndFollowACountToItsOrder of the service runs a notebook")
	b := openTab(t, served(t, filepath.Join(ownDemo(t), "shop.duckdb")))
	b.visit("/notebooks")
	b.click(`a[href="/notebook/monthly-review"]`)
	b.says("Run it")
	b.fill("#p-month", "2026-08")
	b.fill("#p-resampled", "0")
	b.click("main button.main")
	b.says("Fit review, boots shipped in August 2026")
	assert.Contains(t, eval[string](b, "document.querySelector('.runbar').innerText"), "Current.")

	// A figure has its data as a table that the keyboard opens.
	assert.True(t, eval[bool](b, `(() => { const s = document.querySelector("figure summary"); s.focus(); return document.activeElement === s; })()`))
	require.NoError(t, chromedp.Do(b.ctx, chromedp.KeyEvent("\r")))
	b.until(`document.querySelector("figure details[open] tbody tr").offsetHeight > 0`)

	// A count opens its orders, an order its forms.
	eval[bool](b, `(() => { document.querySelector('a[href*="/behind/"]').click(); return true; })()`)
	b.says("The orders behind a count")
	order := eval[string](b, `document.querySelector('main td a, main th a').innerText`)
	assert.NotContains(t, eval[string](b, "location.href"), order, "no id in the address")
	b.click(`main a[href^="/order/"]`)
	b.says("Order " + order)
	b.says("Form 1")
	b.says("Numbers of form")
	b.onlyHere()
}

func TestEditWithAConflict(t *testing.T) {
	breadth.Leave(t, "TestEditWithConflictKeepsBoth and TestPreviewKeepsNothing of the service send the same forms")
	b := openTab(t, usedShop(t))
	b.visit("/edit/measurements")
	b.fill("#name", "ours")
	text := "---\ntitle: How many orders\n---\nThere are [0](value:n.orders) orders.\n\n```sql name=n\nselect count(*) as orders from cohort\n```\n"
	b.fill("#text", text)
	b.until(`document.readyState === "complete"`)
	b.click(`button[value="preview"]`)
	b.says("Preview, run with the defaults")
	b.says("There are 1,")
	b.click(`button[value="save"]`)
	b.says("Saved.")
	b.visit("/edit/ours")
	status := eval[int](b, `(async () => { const f = new FormData(document.querySelector("form.stack")); f.set("text", f.get("text").replace("There are", "In all")); f.set("do", "save");
		return (await fetch("/edit/ours", {method: "POST", body: new URLSearchParams(f)})).status; })()`)
	require.Equal(t, 200, status, "somebody else saves")
	b.fill("#text", strings.Replace(text, "There are", "We count", 1))
	b.click(`button[value="save"]`)
	b.says("Nothing is lost")
	b.says("In all")
	b.click(`button[value="save"]`)
	b.says("Saved.")
	b.onlyHere()
}

func TestUploadWithABadRow(t *testing.T) {
	breadth.Leave(t, "TestSpreadsheetsByFormsAlone uploads a bad row, TestUploadOfSheets of the service sheets for a book that is not there")
	dir := ownDemo(t)
	empty := filepath.Join(t.TempDir(), "new.duckdb")
	b := openTab(t, served(t, empty))
	b.visit("/")
	b.says("There is no order book here yet")
	b.says("Make the invented workshop")
	sheets := filepath.Join(dir, "sheets")
	orders, err := os.ReadFile(filepath.Join(sheets, "orders.csv"))
	require.NoError(t, err)
	lines := strings.SplitN(string(orders), "\n", 3)
	bad := strings.Split(lines[1], ",")
	bad[0], bad[2] = "W99999", "31st of May"
	require.NoError(t, os.WriteFile(filepath.Join(sheets, "orders.csv"), []byte(lines[0]+"\n"+strings.Join(bad, ",")+"\n"+lines[1]+"\n"+lines[2]), 0o600))
	files, err := filepath.Glob(filepath.Join(sheets, "*.csv"))
	require.NoError(t, err)
	b.click(`a[href="/sheets"]`)
	b.until(`!!document.querySelector("#sheets") && document.readyState === "complete"`)
	require.NoError(t, chromedp.Do(b.ctx, chromedp.SetUploadFiles(chromedp.CSS("#sheets"), files)))
	b.click("main button.main")
	b.says("31st of May")
	b.says("kept out")
	b.visit("/")
	b.says("30 October 2026")
	b.onlyHere()
}

func TestRecordADecision(t *testing.T) {
	breadth.Leave(t, "TestDecisionIsBoundToARunAndComesDue of the service sends the same form")
	b := openTab(t, usedShop(t))
	b.visit("/notebook/intake-rules")
	b.click("main button.main")
	b.says("Rules in force: did they keep their promise?")
	b.click(`.tools a[href^="/decisions"]`)
	b.fill("#rule", "tape-marks-missing")
	b.fill("#words", "Hold every form without tape marks from the new year on.")
	b.fill("#who", "Ann and Ben")
	b.fill("#revisit", "2020-01-01")
	b.click("#add button.main")
	b.says("To look at again")
	b.says("Hold every form without tape marks")
	b.says("Decisions")
	eval[bool](b, `(() => { document.querySelector("article details summary").click(); return true; })()`)
	b.says("share of remakes it catches")
	b.visit("/")
	b.says("Decisions to look at again")
	b.onlyHere()
}

// A rule is looked at, switched on, and the decision taken back, with the keyboard
// alone.
func TestSwitchARule(t *testing.T) {
	breadth.Leave(t, "TestSwitchRules of the service sends the same forms, TestAFormByKeyboard goes by the tab key and Enter")
	b := openTab(t, served(t, filepath.Join(ownDemo(t), "shop.duckdb")))
	b.visit("/rules")
	focus := func(sel string) {
		require.True(t, eval[bool](b, `(() => { const e = document.querySelector(`+strconv.Quote(sel)+`); e.focus(); return document.activeElement === e; })()`), sel)
	}
	press := func(keys string) { require.NoError(t, chromedp.Do(b.ctx, chromedp.KeyEvent(keys))) }
	focus(`a[href="/rules?rule=outline-broken#tried"]`)
	press("\r")
	b.says("Outline broken: off")
	b.says("Its line in the scorecard")
	focus("#words")
	press("Gaps at the toe cost us pairs.")
	focus("#who")
	press("Ann\r")
	b.until(`document.querySelector("#rule-outline-broken td strong") !== null`)
	assert.Contains(t, eval[string](b, `document.querySelector("#rule-outline-broken").innerText`), "on since "+time.Now().UTC().Format("2006-01-02"))
	b.visit("/decisions")
	b.says("Gaps at the toe cost us pairs.")
	focus("details.change summary")
	press("\r")
	focus("details.change textarea")
	press("It was a slip.")
	focus("details.change input[name=who]")
	press("Ben")
	focus(`details.change button[formaction="/decisions/take-back"]`)
	press("\r")
	b.until(`!document.querySelector("details.change button[formaction=\"/decisions/take-back\"]")`)
	b.says("taken back")
	b.visit("/rules")
	assert.Contains(t, eval[string](b, `document.querySelector("#rule-outline-broken").innerText`), "off")
	b.onlyHere()
}

// A form whose ball girth is an inch too large, typed in with the keyboard
// alone: the doubt stands beside the number as soon as it is there, the answer
// says so too, and the letter asks for the ball and nothing else of the foot.
func TestTypeInAFaultyForm(t *testing.T) {
	breadth.Leave(t, "TestAFormByKeyboard types such a form")
	b := openTab(t, shownShop(t))
	b.visit("/desk")
	b.fill("#shaft", "12")
	for name, value := range map[string]string{"unit": "cm", "worn_tucked": "no", "orthotic": "no", "channel": "shop", "sex": "m"} {
		eval[bool](b, `(() => { const e = document.getElementById("`+name+`"); e.value = "`+value+`"; e.dispatchEvent(new Event("input", {bubbles: true})); return e.value === "`+value+`"; })()`)
	}
	eval[bool](b, `(() => { document.querySelector("table.numbers input").focus(); return true; })()`)
	left := []string{"27.1", "10.2", "27,7", "26.0", "34.2", "22.8", "39.2", "26.5", "31.5", "36.5", "", "", ""}
	right := []string{"27.0", "10.1", "25.1", "25.9", "34.1", "22.7", "39.0", "26.4", "31.4", "36.4", "", "", ""}
	for _, value := range append(left, right...) {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.KeyEvent(value+"\r")))
	}
	assert.Equal(t, "27,7", eval[string](b, `document.getElementById("n-left-bare-ball").value`), "Enter goes down the column")
	b.until(`document.getElementById("n-left-bare-ball-doubt").innerText.includes("left ball girth an inch too large")`)
	b.until(`document.querySelector("[data-verdict]").textContent === "So far: measure again"`)
	eval[bool](b, `(() => { document.getElementById("desk").requestSubmit(); return true; })()`)
	b.until(`document.title.includes("Measure again")`)
	b.says("measure again")
	b.until(`document.activeElement.id === "answer"`) // the focus goes to the answer
	b.says("left ball girth an inch too large")
	b.look("desk-answer")
	b.click(".answer > form button")
	b.says("Please measure again")
	letter := eval[string](b, "document.querySelector('main table').innerText")
	assert.Contains(t, letter, "Ball")
	assert.NotContains(t, letter, "Heel")
	b.look("letter")
	b.onlyHere()
}

// look keeps a picture of the page in the folder that LOOK names, for eyes.
func (b *tab) look(name string) {
	b.t.Helper()
	dir := os.Getenv("LOOK")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o600))
}

// axe is the checker of Deque Systems (MPL 2.0), fetched for the tests from the
// package registry and kept in the cache folder; where that can't be, the check is left
// out, and says so.
func axe(t *testing.T) string {
	t.Helper()
	script, err := fetchAxe()
	if err != nil {
		t.Skip("axe was not run: ", err)
	}
	return script
}

var fetchAxe = sync.OnceValues(func() (string, error) {
	const sum = "880970c081707360e64f34cea25ff91892f5bc95675b0776925b9709dd8a68bb" // of the script
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = os.TempDir()
	}
	kept := filepath.Join(cache, "lastroom-tests", "axe-4.10.3.js")
	if b, err := os.ReadFile(kept); err == nil && fmt.Sprintf("%x", sha256.Sum256(b)) == sum {
		return string(b), nil
	}
	npm, err := exec.LookPath("npm")
	if err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp("", "lastroom-axe-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	pack := exec.Command(npm, "pack", "--silent", "axe-core@4.10.3")
	pack.Dir = dir
	if out, err := pack.CombinedOutput(); err != nil {
		return "", fmt.Errorf("it could not be fetched from the registry: %s", out)
	}
	untar := exec.Command("tar", "-xzf", "axe-core-4.10.3.tgz", "package/axe.min.js")
	untar.Dir = dir
	if err := untar.Run(); err != nil {
		return "", err
	}
	b, err := os.ReadFile(filepath.Join(dir, "package", "axe.min.js"))
	if err != nil {
		return "", err
	}
	if is := fmt.Sprintf("%x", sha256.Sum256(b)); is != sum {
		return "", fmt.Errorf("the registry gave another script: %s", is)
	}
	if err := os.MkdirAll(filepath.Dir(kept), 0o700); err == nil {
		_ = os.WriteFile(kept, b, 0o600) // else it is fetched again
	}
	return string(b), nil
})

// Every page is accessible; where a run is not wide, a form and a table: the review is
// looked at in ./reports/review.
func TestEveryPageIsAccessible(t *testing.T) {
	script := axe(t)
	b := openTab(t, shownShop(t))
	if !breadth.Wide() {
		b.accessible(script, firstRows, []string{"/desk", "/orders/ask"}, "/desk")
		return
	}
	b.visit("/runs")
	run := eval[string](b, `document.querySelector('a[href^="/run/"]').getAttribute("href")`)
	b.visit(run)
	behind := eval[string](b, `document.querySelector('a[href*="/behind/"]').getAttribute("href")`)
	b.visit(behind)
	order := eval[string](b, `document.querySelector('a[href^="/order/"]').getAttribute("href")`)
	paths := []string{"/", "/review", "/notebooks", "/orders/ask", "/orders/remade", "/runs", run, behind, order, "/notebook/one-fault", "/edit/one-fault", "/edit", "/decisions", "/rules", "/rules?rule=outline-broken", "/sheets", "/help", "/help/words", "/help/notebooks", "/nowhere", "/desk"}
	b.visit("/measurers")
	measurer := eval[string](b, `document.querySelector('main a[href^="/measurers/"]').getAttribute("href")`)
	paths = append(paths, "/measurers", "/measurers/sessions", measurer, measurer+"/hand-over")
	b.accessible(script, firstRows, paths, "/", run, order, "/decisions", "/desk", "/measurers")
}

// firstRows leaves the first rows of each table: axe takes long, and rows are alike.
const firstRows = `document.querySelectorAll("tbody tr:nth-child(n+6)").forEach(row => row.remove())`

// accessible looks at pages wide and as on a phone, and holds them to all rules as on a
// phone; to those of colours, which pages share and which take axe longest, some of them
// (with -campaign all), wide, by day and in the dark. Each is opened once, and made wide
// and narrow there; prepare is a script to run before axe.
func (b *tab) accessible(script, prepare string, paths []string, coloured ...string) {
	b.t.Helper()
	const all = `runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]`
	const colours = `runOnly: ["color-contrast"]`
	show := func(width int64, scheme string) {
		b.size(width, 900)
		_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		require.NoError(b.t, err)
	}
	for _, path := range paths {
		check := func(how, rules string) {
			found := eval[[]string](b, `(async () => { const r = await axe.run({resultTypes: ["violations"], `+rules+`});
				return r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | ")); })()`)
			assert.Empty(b.t, found, "%s, %s", path, how)
		}
		name := strings.ReplaceAll(path, "/", "_")[:min(len(path), 24)]
		show(1200, "light")
		b.visit(path)
		b.look("wide" + name)
		assert.False(b.t, b.sideways(), "%s is wider than the screen", path)
		show(390, "light")
		b.look("phone" + name)
		assert.False(b.t, b.sideways(), "%s is wider than a phone", path)
		eval[bool](b, `(() => { `+prepare+`; `+script+`; return true; })()`)
		assert.False(b.t, b.sideways(), "%s is wider than a phone", path)
		check("phone", all+`, rules: {"color-contrast": {enabled: false}}`)
		show(1200, "light")
		assert.False(b.t, b.sideways(), "%s is wider than the screen", path)
		if breadth.Campaign() || slices.Contains(coloured, path) {
			check("wide", all)
			show(1200, "dark")
			b.look("dark" + name)
			check("dark", colours)
		}
	}
}

// In German the desk answers in German, what was typed before stays, and tables sort by
// days as German writes them.
func TestTheScriptsInGerman(t *testing.T) {
	breadth.Leave(t, "TestAFormByKeyboard turns to German")
	b := openTab(t, usedShop(t))
	b.visit("/desk")
	b.fill("#customer_id", "P00012")
	b.click(`form[action="/language"] button[value="de"]`)
	b.until(`document.documentElement.lang === "de" && document.readyState === "complete"`)
	assert.Equal(t, "P00012", eval[string](b, `document.getElementById("customer_id").value`), "a change of language is no leaving")
	b.fill("#shaft", "12")
	b.until(`document.querySelector("[data-verdict]").textContent === "Bis jetzt: noch einmal messen"`)
	b.visit("/orders/ask")
	days := eval[[]string](b, `(() => {
		const by = document.querySelector(".tabletools select");
		by.value = "1 up";
		by.dispatchEvent(new Event("change"));
		return [...document.querySelectorAll(".scroll > table[id] tbody tr")].map((row) => row.cells[1].textContent.trim());
	})()`)
	require.NotEmpty(t, days)
	var spelt []string
	for _, d := range days {
		require.Regexp(t, `^\d\d\.\d\d\.\d{4}$`, d)
		spelt = append(spelt, d[6:]+d[3:5]+d[:2])
	}
	assert.IsNonDecreasing(t, spelt)
	assert.Equal(t, "Geordnet nach", eval[string](b, `document.querySelector(".tabletools .order").firstChild.textContent.trim()`))
	b.onlyHere()
}
