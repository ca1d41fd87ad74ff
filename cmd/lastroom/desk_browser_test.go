package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	browsing "lastroom/reports/testdata/browser"
)

// reach waits for an element and goes to it with the tab key, forwards or back; all
// presses at once, since each alone takes long. Where a run is not wide it sets out three
// stops before it: a page's stops are alike, and a long page has hundreds.
func (b *tab) reach(css string) {
	b.t.Helper()
	c, _ := json.Marshal(css)
	b.reachThe(`document.querySelector(` + string(c) + `)`)
}

// reachThe is reach for an element that a script gives.
func (b *tab) reachThe(element string) {
	b.t.Helper()
	b.until(`document.readyState === "complete" && !!(` + element + `)`)
	most := 3
	if breadth.Wide() {
		most = 1000
	}
	// Days have several stops in one field: how many, the browser's language says.
	way := eval[[]int](b, `(() => {
		const found = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter(e => e.tabIndex >= 0 && !e.disabled && e.type !== "hidden" && e.getClientRects().length && e.checkVisibility());
		const all = found.filter((e, i) => { // of radio buttons of one name the chosen one is a stop, else the first
			if (e.type !== "radio") return true;
			const group = found.filter(o => o.type === "radio" && o.name === e.name && o.form === e.form), chosen = group.find(o => o.checked);
			return e === (chosen ?? group[0]);
		});
		const to = all.indexOf(`+element+`), most = `+fmt.Sprint(most)+`;
		let now = document.activeElement ?? document.body;
		if (now === document.body) now = document.getElementById(location.hash.slice(1)) ?? now; // the way begins at the part that the address names
		let at = all.indexOf(now);
		if (at < 0 && now !== document.body) { // it has the focus and is no stop
			const before = all.filter(e => now.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_PRECEDING).length;
			at = to >= before ? before - 1 : before;
		}
		if (Math.abs(to - at) > most) { at = to - Math.sign(to - at) * most; all[at].focus(); }
		const days = all.slice(Math.max(0, Math.min(at, to)), Math.max(at, to)).filter(e => e.type === "date").length;
		return [to - at, days]; })()`)
	there := func() bool {
		return eval[bool](b, `(() => { const e = `+element+`; return !!e && document.activeElement === e; })()`)
	}
	press := func(steps int) {
		if keys := strings.Repeat(kb.Tab, steps); way[0] < 0 {
			require.NoError(b.t, chromedp.Do(b.ctx, chromedp.KeyEvent(keys, chromedp.KeyModifiers(chromedp.ModifierShift))))
		} else {
			b.press(keys)
		}
	}
	press(max(way[0], -way[0]))
	for more := 4 * way[1]; more > 0 && !there(); more-- {
		press(1)
	}
	require.True(b.t, there(), "the tab key comes to %s on %s, not to %s", element, eval[string](b, "location.pathname"), eval[string](b, "document.activeElement?.outerHTML.slice(0, 120) ?? ''"))
	assert.True(b.t, eval[bool](b, `(() => { const r = document.activeElement.getBoundingClientRect(); return r.width > 0 && r.bottom > 0 && r.top < innerHeight; })()`), "%s is on the screen", element)
}

// A form of a man's feet, down the columns of the page.
var (
	leftColumn  = []string{"27.1", "10.2", "25.2", "26.0", "34.2", "22.8", "39.2", "26.5", "31.5", "36.5", "", "", ""}
	rightColumn = []string{"27.0", "10.1", "25.1", "25.9", "34.1", "22.7", "39.0", "26.4", "31.4", "36.4", "", "", ""}
)

// keyForm types in a form with the keyboard alone, and leaves the focus on the button
// that checks it. swap are numbers that stand otherwise on the paper.
func (b *tab) keyForm(customer string, swap map[string]string) {
	b.t.Helper()
	b.reach("#order_id")
	b.reach("#customer_id")
	b.press(customer)
	for _, c := range [][2]string{{"shaft", "12"}, {"unit", "c"}, {"worn_tucked", "n"}, {"orthotic", "n"}, {"channel", "s"}, {"sex", "m"}} {
		b.reach("#" + c[0])
		b.press(c[1])
	}
	b.reach("#n-left-bare-length")
	keys := ""
	for _, value := range append(append([]string{}, leftColumn...), rightColumn...) {
		if other, is := swap[value]; is {
			value = other
		}
		keys += value + kb.Enter
	}
	b.press(keys)
	for _, mark := range []string{"outline_closed_left", "outline_closed_right", "outline_single_left", "outline_single_right", "ball_mark_left", "ball_mark_right", "instep_mark_left", "instep_mark_right", "tape_zero_used"} {
		b.reach("#" + mark)
		b.press("y")
	}
	b.reach("#self_measured")
	b.press("n")
	b.reach("[data-check]")
}

// inTheBook waits for an order of the desk to come into the book.
func (b *tab) inTheBook(path string) {
	b.t.Helper()
	for range 1200 {
		if strings.Contains(requireOK(b.t, b.base, path), "The order in the book") {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	b.t.Fatal("it never came into the book: " + path)
}

// sideways is whether a page is wider than the screen.
func (b *tab) sideways() bool {
	b.t.Helper()
	return eval[bool](b, "document.documentElement.scrollWidth > innerWidth + 1")
}

// A form whose ball girth is an inch too large is typed in by keyboard alone: the doubt
// stands beside the number as soon as it is there; the page turned to German has lost
// nothing and says so in German; its answer says so too, and the letter asks for the ball.
func TestAFormByKeyboard(t *testing.T) {
	b := openTab(t, usedShop(t))
	b.visit("/desk")
	b.until(`document.activeElement.id === "order_id"`)
	b.reach("#customer_id")
	b.press("P90002")
	b.reach("#unit")
	b.press("c")
	b.reach("#channel")
	b.press("s")
	b.reach("#n-left-bare-ball")
	b.press("27,7" + kb.Enter)
	assert.Equal(t, "n-left-bare-instep", eval[string](b, `document.activeElement.id`), "Enter goes down the column")
	b.reach("#n-right-bare-ball")
	b.press("25.1")
	doubts := func(words, verdict string) {
		b.until(`document.getElementById("n-left-bare-ball-doubt")?.innerText.includes("` + words + `")`)
		b.until(`document.querySelector("[data-verdict]").textContent === "` + verdict + `"`)
	}
	doubts("left ball girth an inch too large", "So far: measure again")
	b.reach(`form[action="/language"] button[value="de"]`)
	b.press(kb.Enter)
	const inGerman = "einen Zoll zu groß"
	doubts(inGerman, "Bis jetzt: noch einmal messen")
	b.reach("[data-check]")
	b.press(kb.Enter)
	b.until(`document.activeElement?.id === "answer" && document.title.includes("Noch einmal messen")`) // the focus goes to the answer
	b.says(inGerman)
	b.reach(`button[value="letter"]`)
	b.press(kb.Enter)
	b.says("Ballenumfang")
	b.onlyHere()
}

// Three forms are typed in and kept, a letter is printed, its answer comes and is
// compared, leather is cut: at a desk and, with -campaign, on a phone, by keyboard alone.
func TestTheDeskByKeyboard(t *testing.T) {
	breadth.Leave(t, "TestAFormByKeyboard types one of the forms, TestKeptAtTheDesk of the service goes the way to the second one")
	for _, width := range []int64{1280, 390} {
		if width < 1000 && !breadth.Campaign() { // a minute's typing
			continue
		}
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			book := filepath.Join(ownDemo(t), "shop.duckdb")
			base, stop := startService(t, book)
			t.Cleanup(stop)
			b := openTab(t, base)
			b.size(width, 900)
			b.visit("/desk")
			b.until(`document.activeElement.id === "order_id"`)
			first := eval[string](b, `document.getElementById("order_id").value`)

			b.keyForm("P90001", nil)
			b.until(`document.querySelector("[data-verdict]").textContent === "So far: cut"`)
			assert.Contains(t, eval[string](b, "document.title"), "cut", "the title follows the verdict")
			// Over a reload of the page nothing of it is lost.
			b.visit("/desk")
			b.until(`document.getElementById("n-left-bare-ball").value === "25.2"`)
			b.says("is in the fields again")
			b.look(fmt.Sprintf("desk-draft-%d", width))
			b.reach(`button[value="keep"]`)
			b.press(kb.Enter)
			b.says("Order " + first + ": cut")
			assert.False(t, b.sideways())
			b.look(fmt.Sprintf("desk-kept-%d", width))
			b.reach(`a.button[href="/desk"]`)
			b.press(kb.Enter)
			b.until(`location.pathname === "/desk" && document.readyState === "complete"`)
			second := eval[string](b, `document.getElementById("order_id").value`)
			assert.NotEqual(t, first, second, "the next number is proposed")
			assert.Empty(t, eval[string](b, `document.getElementById("n-left-bare-ball").value`), "what was kept is no draft any more")
			b.keyForm("P90002", map[string]string{"25.2": "27,7"})
			b.until(`document.getElementById("n-left-bare-ball-doubt").innerText.includes("left ball girth an inch too large")`)
			b.look(fmt.Sprintf("desk-doubt-%d", width))
			b.press(kb.Enter) // on the button that checks
			b.until(`document.activeElement.id === "answer"`)
			b.look(fmt.Sprintf("desk-checked-%d", width))
			b.reach(`button[value="letter"]`)
			b.press(kb.Enter)
			b.says("Please measure again")
			letter := eval[string](b, "document.querySelector('main').innerText")
			assert.Contains(t, letter, "Ball girth")
			assert.Contains(t, letter, second+"-1")
			pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
			require.NoError(t, err)
			assert.LessOrEqual(t, browsing.Pages(pdf), 2)
			b.look(fmt.Sprintf("desk-letter-%d", width))

			b.reach(`.back a`)
			b.press(kb.Enter)
			b.reach(`a.button[href="/desk"]`)
			b.press(kb.Enter)
			b.until(`location.pathname === "/desk" && document.readyState === "complete"`)
			third := eval[string](b, `document.getElementById("order_id").value`)
			b.keyForm("P90003", map[string]string{"34.2": "", "34.1": "about 34"})
			b.until(`document.getElementById("n-right-bare-heel-doubt").innerText.includes("about 34")`)
			b.reach(`button[value="keep"]`)
			b.press(kb.Enter)
			b.says("Not kept yet")
			b.look(fmt.Sprintf("desk-unread-%d", width))
			b.reach("#n-right-bare-heel")
			b.press("34.1")
			b.reach(`button[value="keep"]`)
			b.press(kb.Enter)
			b.says("Order " + third + ": measure again")

			b.reach(`.back a[href="/desk/open"]`)
			b.press(kb.Enter)
			b.until(`location.pathname === "/desk/open" && document.readyState === "complete"`)
			list := eval[string](b, "document.querySelector('main').innerText")
			for _, want := range []string{first, second, third, "by letter on", "not yet"} {
				assert.Contains(t, list, want)
			}
			assert.False(t, b.sideways())
			b.look(fmt.Sprintf("desk-open-%d", width))
			pageOf := func(order string) string {
				return eval[string](b, `[...document.querySelectorAll("main th a")].find(a => a.innerText === "`+order+`").getAttribute("href")`)
			}
			cut, held := pageOf(first), pageOf(second)
			b.reach(`a[href="` + held + `"]`)
			b.press(kb.Enter)
			b.reach(`a[href="` + held + `/again"]`)
			b.press(kb.Enter)
			b.says("The former numbers stand in the fields")
			b.reach("#n-left-bare-ball")
			b.press("25.2") // what stands in a field is chosen when the tab key comes to it
			b.reach(`button[value="keep"]`)
			b.press(kb.Enter)
			b.says("What changed from form " + second + "-1 to " + second + "-2")
			text := eval[string](b, "document.querySelector('main').innerText")
			assert.Contains(t, text, "Order "+second+": cut")
			assert.Regexp(t, `left ball\s+27,7 cm\s+25.2 cm`, text)
			assert.Contains(t, text, "answered")
			assert.False(t, b.sideways())
			b.look(fmt.Sprintf("desk-compared-%d", width))
			b.reach(`button[value="cut"]`)
			b.press(kb.Enter)
			b.says("The desk is done with it")

			// The first one is in the book by now, without anybody's doing. What is kept
			// soon after another load waits its time, or for the next start of the service.
			b.onlyHere()
			b.inTheBook(cut)
			stop()
			b.base, b.requests = served(t, book), nil
			b.inTheBook(held)
			b.visit(held)
			b.reach("#find-order")
			b.press(second[1:] + "-2" + kb.Enter)
			b.says("What happened, day by day")
			text = eval[string](b, "document.querySelector('main').innerText")
			for _, want := range []string{"form 1 came", "asked about form 1", "answer about form 1", "form 2 came", "leather cut"} {
				assert.Contains(t, text, want)
			}
			assert.False(t, b.sideways())
			b.look(fmt.Sprintf("desk-order-%d", width))
			b.onlyHere()
		})
	}
}

// Two browsers with the same order before them: who keeps second is shown what the
// first kept, with all that was typed still there.
func TestTwoAtTheDesk(t *testing.T) {
	breadth.Leave(t, "TestKeptAtTheDesk of the service keeps an order twice")
	base := usedShop(t)
	ann, ben := openTab(t, base), openTab(t, base)
	for i, b := range []*tab{ann, ben} {
		b.visit("/desk")
		b.fill("#customer_id", "P1")
		b.fill("#n-left-bare-ball", []string{"9 1/8", "9 7/8"}[i])
	}
	order := eval[string](ann, `document.getElementById("order_id").value`)
	require.Equal(t, order, eval[string](ben, `document.getElementById("order_id").value`))
	ann.click(`button[value="keep"]`)
	ann.says("Order " + order)
	ben.click(`button[value="keep"]`)
	ben.says("Nothing is lost")
	text := eval[string](ben, "document.querySelector('main').innerText")
	assert.Regexp(t, `left ball\s+9 1/8 in\s+9 7/8 in`, text)
	assert.Equal(t, "9 7/8", eval[string](ben, `document.getElementById("n-left-bare-ball").value`))
	ben.look("desk-conflict")
	ben.fill("#customer_id", "P00001")
	ben.until(`document.querySelector("[data-pairs] a")?.innerText === "W00001"`)
	ben.fill("#form_id", order+"-2")
	ben.click(`button[value="keep"]`)
	ben.says("What changed from form " + order + "-1 to " + order + "-2")
}

func TestTheDeskIsAccessible(t *testing.T) {
	breadth.Leave(t, "TestEveryPageIsAccessible looks at the desk")
	script := axe(t)
	b := openTab(t, usedShop(t))
	b.visit("/desk")
	kept := eval[string](b, `(async () => new URL((await fetch("/desk/keep", {method: "POST", body: new URLSearchParams({order_id: "W99", form_id: "W99-1", customer_id: "P00002", shaft: "12",
		unit: "in", "n-left-bare-ball": "9 1/8", "n-right-bare-ball": "9 1/4", "n-left-tucked-calf": "15", seen: "0"})})).url).pathname)()`)
	customer := eval[string](b, `(async () => new URL((await fetch("/find", {method: "POST", body: new URLSearchParams({order: "P00002"})})).url).pathname)()`)
	b.accessible(script, firstRows, []string{"/desk", "/desk/open", kept, kept + "/again", kept + "/mend", kept + "/letter", customer}, kept, "/desk/open")
}
