package main

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/practice"
	"lastroom/analysis/testdata/breadth"
)

// faultsOf is what is planted on each form of a set, by the answer key.
func faultsOf(t *testing.T, s *practice.Set) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	for _, row := range s.Key() {
		if row.Fault != "" {
			out[row.Form] = append(out[row.Form], row.Fault)
		}
	}
	return out
}

// A whole round of practice: what is planted is seen, but for one kind of fault; the
// page says after each form what was not seen, and at the end which kind it was. A class's
// set on the screen is that of the command's answer key.
func TestAPracticeRound(t *testing.T) {
	breadth.Leave(t, "TestPracticeByKeyboardAlone answers a round, TestReadersTrain of the service what is shown and forgotten after it")
	book := filepath.Join(ownDemo(t), "shop.duckdb")
	b := openTab(t, served(t, book))
	s, err := practice.Plan{Seed: 7, Forms: 20}.Set()
	require.NoError(t, err)
	planted := faultsOf(t, s)
	const blind = "outline-broken"
	b.visit("/practice")
	b.fill("#name", "Ann O'Neil")
	b.fill("#seed", "7")
	b.click("main button.main")
	b.says("Form P01")
	b.click("#f-self-measured")
	b.click("#v-0")
	b.click("main button.main")
	b.says("You pointed at something wrong and would cut all the same.")
	assert.True(t, eval[bool](b, `document.querySelector("#f-self-measured").checked && document.querySelector("#v-0").checked`), "what was ticked stays")
	b.click("#f-self-measured")
	ringed := 0
	for i, f := range s.Forms {
		b.says("Form " + f.ID)
		b.says(fmt.Sprintf("%d of 20", i+1))
		assert.False(t, eval[bool](b, `!!document.querySelector(".ring, .odd")`), "the truth is hidden")
		right := practice.Cut
		for _, id := range planted[f.ID] {
			if id != blind {
				b.click("#f-" + id)
				right = f.Right()
			}
		}
		at := slices.Index(practice.Verdicts, right)
		b.click(fmt.Sprintf("#v-%d", at))
		if i == 3 {
			b.look("practice-form")
		}
		b.click("main button.main")
		b.says("You said " + right)
		if slices.Contains(planted[f.ID], blind) {
			b.says("Not seen: outline broken")
			assert.True(t, eval[bool](b, `!!document.querySelector("svg .ring")`), "the gap is ringed")
			ringed++
			b.look("practice-truth")
		}
		for _, id := range planted[f.ID] {
			assert.True(t, eval[bool](b, `!!document.querySelector('a[href="/teaching/`+id+`"]')`), id)
		}
		b.click("a.next")
	}
	assert.Positive(t, ringed)
	b.says("how it went")
	b.says("Missed more than the other faults: outline broken.")
	b.look("practice-ended")
	b.click("main p a.button")
	b.says("The course over sets")
	b.says("The next set has most of: outline broken")
	b.look("practice-learner")
	learner := eval[string](b, "location.pathname")

	// The next set is made of what was missed; the answers so far are kept over a restart.
	b.click(`button[name="forms"][value="40"]`)
	b.says("made of what you miss")
	next := eval[string](b, "location.pathname")
	kept, err := filepath.Glob(filepath.Join(strings.TrimSuffix(book, ".duckdb")+".files", "learners", "*"))
	require.NoError(t, err)
	require.Len(t, kept, 1)
	b2 := openTab(t, served(t, book))
	b2.visit(next)
	b2.says("Form P01")
	b.onlyHere()

	// A teaching sheet, a worksheet and its key open to be printed.
	for _, path := range []string{"/teaching/" + blind, "/practice/print?seed=7&forms=20&paper=letter", "/practice/print?seed=7&forms=20&what=key"} {
		b.visit(path)
		assert.Greater(t, eval[int](b, `document.styleSheets[0].cssRules.length`), 10, path)
		assert.NotEmpty(t, eval[string](b, `document.querySelector("h1").innerText`), path)
	}
	b.visit(learner)
	b.click("#sure")
	b.click(`form[action$="/forget"] button`)
	b.until(`location.pathname === "/practice"`)
	assert.NotContains(t, eval[string](b, "document.body.innerText"), "Neil")
	_, err = os.Stat(kept[0])
	require.ErrorIs(t, err, os.ErrNotExist)
}

// answers sends what is said of a form of a round, as its page would.
func (b *tab) answers(round, form, verdict string, faults []string) {
	b.t.Helper()
	res, err := http.PostForm(b.base+round, url.Values{"form": {form}, "verdict": {verdict}, "fault": faults})
	require.NoError(b.t, err)
	res.Body.Close()
	require.Equal(b.t, 200, res.StatusCode)
}

func (b *tab) press(keys string) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.KeyEvent(keys)))
}

// A round on a phone's width with the keyboard alone, from the first field to the
// marks at the end; where a run is not wide, of the last form: the others are sent.
func TestPracticeByKeyboardAlone(t *testing.T) {
	b := openTab(t, served(t, filepath.Join(t.TempDir(), "none.duckdb")))
	b.size(390, 800)
	s, err := practice.Plan{Seed: 3, Forms: 10}.Set()
	require.NoError(t, err)
	planted := faultsOf(t, s)
	b.visit("/practice")
	b.reach("#name")
	b.press("Ben")
	b.reach("#forms")
	b.press("1") // 10
	b.reach("#seed")
	b.press("3")
	b.reach("main button.main")
	b.press("\r")
	b.says("Form " + s.Forms[0].ID)
	round := eval[string](b, "location.pathname")
	for i, f := range s.Forms {
		switch last := len(s.Forms) - 1; {
		case !breadth.Wide() && i < last:
			b.answers(round, f.ID, f.Right(), planted[f.ID])
			continue
		case !breadth.Wide() && i == last:
			b.visit(round)
		}
		b.says("Form " + f.ID)
		b.until(`document.readyState === "complete" && !!document.querySelector(".answers")`)
		for _, id := range eval[[]string](b, `[...document.querySelectorAll("input[name=fault]")].map(e => e.value)`) { // as they stand on the page
			if slices.Contains(planted[f.ID], id) {
				b.reach("#f-" + id)
				b.press(" ")
			}
		}
		b.reach("#v-0")
		b.press(" ")
		for range slices.Index(practice.Verdicts, f.Right()) {
			b.press(kb.ArrowDown)
		}
		b.reach("main button.main")
		b.press("\r")
		b.says("and that is right")
		b.until(`document.readyState === "complete" && !!document.querySelector("a.next")`)
		b.reach("a.next")
		b.press("\r")
	}
	b.says("how it went")
	assert.False(t, eval[bool](b, "document.documentElement.scrollWidth > innerWidth + 1"))
	b.onlyHere()
}

// A session of an instructor and three who learn, two of whom write blind in tabs of their
// own: nobody sees a number before all have written; then all stands beside the
// instructor's, each has a page, and the book has it as repeats.
func TestAMeasuringSession(t *testing.T) {
	breadth.Leave(t, "TestReadersTrain of the service goes through a session")
	book := filepath.Join(ownDemo(t), "shop.duckdb")
	base := served(t, book)
	b := openTab(t, base)
	b.visit("/session")
	b.fill("#id", "Class 1")
	b.fill("#instructor", "boss")
	b.fill("#measurers", "Ann\nBen\nCleo")
	b.fill("#subjects", "A\nB\nC")
	eval[bool](b, `(() => { for (const e of document.querySelectorAll("input[name=spot]")) e.checked = ["ball", "leg-279.4"].includes(e.value); return true; })()`)
	b.fill("#lot", "11")
	b.look("session-new")
	b.click("main button.main")
	b.says("Who is at whose legs")
	b.look("session-open")
	session := eval[string](b, "location.pathname")
	doors := eval[[]string](b, `[...document.querySelectorAll('a[href*="/at/"]')].map(a => a.getAttribute("href"))`)
	require.Len(t, doors, 4)
	for _, path := range []string{session + "/repeats.csv", session + "/result/1"} {
		assert.Equal(t, 409, eval[int](b, `(async () => (await fetch("`+path+`")).status)()`), "blind: %s", path)
	}

	const turns = 6
	sendTurn := func(who, turn int, number func(turn, spot int) string) {
		form := url.Values{"turn": {fmt.Sprint(turn)}}
		for k := range 2 {
			form.Set(fmt.Sprintf("left-%d", k), number(turn, k))
			form.Set(fmt.Sprintf("right-%d", k), number(turn, k))
		}
		res, err := http.PostForm(base+doors[who], form)
		require.NoError(t, err)
		res.Body.Close()
		require.Equal(t, 200, res.StatusCode)
	}
	write := func(w *tab, who int, number func(turn, spot int) string) {
		for turn := 1; turn <= turns; turn++ {
			w.visit(doors[who])
			w.says("Now: the legs of")
			assert.False(t, eval[bool](w, `[...document.querySelectorAll("table input")].some(i => i.value)`), "no number is shown")
			for k := range 2 {
				w.fill(fmt.Sprintf("#left-%d", k), number(turn, k))
				w.fill(fmt.Sprintf("#right-%d", k), number(turn, k))
			}
			w.click("main button.main")
			w.until(`!document.querySelector("#leave") || [...document.querySelectorAll("table input")].every(i => !i.value)`)
		}
		w.says("All your turns are written")
	}
	// Who is not looked at sends what they write; with -campaign everybody types.
	send := func(who int, number func(turn, spot int) string) {
		if breadth.Campaign() {
			write(b, who, number)
			return
		}
		for turn := 1; turn <= turns; turn++ {
			sendTurn(who, turn, number)
		}
	}
	plain := func(_, spot int) string { return []string{"9 1/2", "14 1/8"}[spot] }
	// Two at a time, each in a tab of their own.
	b2 := openTab(t, base)
	write(b, 0, plain)
	b2.visit(doors[1])
	b2.fill("#left-0", "95 in")
	b2.fill("#left-1", "hello")
	b2.click("main button.main")
	b2.says("Some numbers can't be read")
	b2.says("no girth of a foot or leg")
	b2.look("session-entry")
	write(b2, 1, func(_, spot int) string { return []string{"9 7/8", "14 1/8"}[spot] })
	send(2, plain)
	send(3, func(turn, spot int) string { return []string{"9.5", fmt.Sprintf("14 %d/8", 1+turn%2)}[spot] })

	b.visit(session)
	b.says("boss (instructor): 6 of 6 written")
	assert.NotContains(t, eval[string](b, "document.body.innerText"), "9 7/8")
	b.click("#sure")
	b.click(`form[action$="/close"] button`)
	b.says("Everybody beside the instructor")
	b.says("(9.5 to 9.5)") // 3/8 in is 9.525 mm on every leg, where 4 are tolerated
	b.look("session-closed")
	b2.visit(doors[3])
	b2.says("The session is closed")
	assert.Equal(t, 409, eval[int](b2, `(async () => (await fetch("`+doors[3]+`", {method: "POST", body: new URLSearchParams({turn: 1, "left-0": "9", leave: "yes"})})).status)()`))

	b2.visit(session + "/result/1")
	b2.says("Ann: your measurements")
	b2.says("Ball girth: 10 mm more than the instructor")
	assert.NotContains(t, eval[string](b2, "document.body.innerText"), "Cleo")
	b2.look("session-result")

	b.click(`form[action$="/save"] button`)
	b.says("repeats")
	b.visit(session)
	b.says("in the book")
	got := eval[string](b, `(async () => (await fetch("`+session+`/repeats.csv")).text())()`)
	assert.Equal(t, 1+4*6*4, strings.Count(got, "\n"))
	var out, errs bytes.Buffer
	require.Zero(t, run(t.Context(), strings.NewReader(""), &out, &errs, []string{"book", "info", "--book", book, "--format", "json"}), errs.String())
	assert.Contains(t, out.String(), `"repeats"`)
	b.onlyHere()

	// A session of that name can't take the place of the book's.
	b.visit("/session")
	status := eval[string](b, `(async () => (await fetch("/session", {method: "POST", body: new URLSearchParams(`+fmt.Sprintf("%q", url.Values{"id": {"Class 1"}, "day": {"2026-11-26"}, "instructor": {"x"}, "measurers": {"y"}, "subjects": {"A"}, "spot": {"ball"}, "unit": {"in"}, "trials": {"1"}}.Encode())+`)})).text())()`)
	assert.Contains(t, status, "There is a session of that name already")
	b.click(`a[href="` + session + `"]`)
	b.click("#sure-drop")
	b.click(`form[action$="/drop"] button`)
	b.until(`location.pathname === "/session"`)
	kept, err := filepath.Glob(filepath.Join(strings.TrimSuffix(book, ".duckdb")+".files", "sessions", "*"))
	require.NoError(t, err)
	assert.Empty(t, kept)
}

func TestTrainingPagesAreAccessible(t *testing.T) {
	breadth.Leave(t, "TestEveryPageIsAccessible looks at forms and tables")
	script := axe(t)
	b := openTab(t, usedShop(t))
	paths := trainingPaths(b)
	slices.Reverse(paths) // the fullest first
	b.accessible(script, firstRows, paths, paths...)
}

// trainingPaths makes a learner who answered, and two sessions, and gives their pages.
func trainingPaths(b *tab) []string {
	b.t.Helper()
	b.visit("/practice")
	send := func(path string, form url.Values) string {
		return eval[string](b, `(async () => new URL((await fetch("`+path+`", {method: "POST", body: new URLSearchParams(`+fmt.Sprintf("%q", form.Encode())+`)})).url).pathname)()`)
	}
	round := send("/practice", url.Values{"name": {"Ann"}, "forms": {"10"}, "seed": {"7"}})
	for i := range 10 {
		send(round, url.Values{"form": {fmt.Sprintf("P%02d", i+1)}, "verdict": {practice.MeasureAgain}, "fault": {"outline-broken"}})
	}
	other := send("/practice", url.Values{"name": {"Ann"}, "forms": {"10"}})
	plan := url.Values{"id": {"One"}, "day": {"2026-11-26"}, "instructor": {"boss"}, "measurers": {"Ann"}, "subjects": {"A\nB\nC"}, "spot": {"ball", "leg-279.4"}, "unit": {"in"}, "trials": {"1"}}
	open := send("/session", plan)
	plan.Set("id", "Two")
	closed := send("/session", plan)
	b.visit(closed)
	for _, door := range eval[[]string](b, `[...document.querySelectorAll('a[href*="/at/"]')].map(a => a.getAttribute("href"))`) {
		for turn := range 3 {
			send(door, url.Values{"turn": {fmt.Sprint(turn + 1)}, "left-0": {"9"}, "right-0": {"9 1/8"}, "left-1": {"14"}, "right-1": {"14 1/4"}})
		}
	}
	send(closed+"/close", url.Values{"sure": {"yes"}})
	b.visit(open)
	door := eval[string](b, `document.querySelector('a[href*="/at/"]').getAttribute("href")`)
	return []string{"/practice", "/practice/old", "/practice/class?seed=7", round, round + "/P01", other, strings.TrimSuffix(round, "/1"), "/session", open, door, closed, closed + "/result/1"}
}
