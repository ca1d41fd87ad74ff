package service

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/jobs"
	"lastroom/notebooks/service/uploads"
)

func bodyText(t *testing.T, res *http.Response) (int, string) {
	t.Helper()
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(b)
}

func post(t *testing.T, to string, form url.Values) (int, string, string) {
	t.Helper()
	res, err := http.PostForm(to, form)
	require.NoError(t, err)
	status, text := bodyText(t, res)
	return status, text, res.Request.URL.Path
}

// runOurs runs the shop's notebook and gives the address of the run.
func runOurs(t *testing.T, base string) string {
	t.Helper()
	status, text, path := post(t, base+"/notebook/ours/run", url.Values{"month": {"2026-09"}})
	require.Equal(t, 200, status, text)
	require.True(t, strings.HasPrefix(path, "/run/"), path)
	return path
}

func TestRunAndFollowACountToItsOrder(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	run := runOurs(t, front.URL)
	_, text := get(t, front.URL+run)
	has(t, text, "Current.")
	has(t, text, `Text <span>0.08 (95 % <a class="word" href="/help/words#interval">interval</a> 0.04 to 0.15, n 100)</span>`)
	behind := regexp.MustCompile(`href="(/run/[^"]+/behind/[0-9a-f]+)"`).FindStringSubmatch(text)
	require.NotNil(t, behind)
	_, text = get(t, front.URL+behind[1])
	has(t, text, "1 order stand")
	order := regexp.MustCompile(`href="(/order/[A-Za-z0-9_-]+)"`).FindStringSubmatch(text)
	require.NotNil(t, order)
	status, text := get(t, front.URL+order[1])
	assert.Equal(t, 200, status)
	has(t, text, "Order order &lt;1&gt;")

	form := regexp.MustCompile(`href="(/form/[A-Za-z0-9_-]+)"`).FindStringSubmatch(mustGet(t, front.URL+run))
	require.NotNil(t, form)
	res, err := http.Get(front.URL + form[1])
	require.NoError(t, err)
	assert.Equal(t, order[1], res.Request.URL.Path)
	res.Body.Close()

	for _, file := range []string{"page.html", "notebook.ipynb", "notebook.md", "tables/marks.csv"} {
		res, err := http.Get(front.URL + run + "/" + file)
		require.NoError(t, err)
		assert.Equal(t, 200, res.StatusCode, file)
		assert.Contains(t, res.Header.Get("Content-Disposition"), "attachment")
		res.Body.Close()
	}
	assert.DirExists(t, filepath.Join(dir, "runs"))
}

// has looks for words in a page without printing the whole page when they are
// not there.
func has(t *testing.T, text, want string) {
	t.Helper()
	if !strings.Contains(text, want) {
		lead := regexp.MustCompile(`(?s)<main.*?</h1>.*?</p>`).FindString(text)
		t.Errorf("%q is not on the page, which begins: %s", want, lead)
	}
}

func hasNot(t *testing.T, text, bad string) {
	t.Helper()
	if i := strings.Index(text, bad); i >= 0 {
		t.Errorf("%q is on the page: …%s", bad, text[max(0, i-80):min(len(text), i+80)])
	}
}

func mustGet(t *testing.T, url string) string {
	t.Helper()
	status, text := get(t, url)
	require.Equal(t, 200, status, text)
	return text
}

func TestARunIsNotCurrentOnceTheBookChanged(t *testing.T) {
	shop := &fakeShop{hash: "h"}
	_, front, _ := serve(t, shop, nil)
	run := runOurs(t, front.URL)
	shop.mu.Lock()
	shop.hash = "other"
	shop.mu.Unlock()
	text := mustGet(t, front.URL+run)
	has(t, text, "Not current:")
	has(t, text, "the book has changed since")
	second := runOurs(t, front.URL)
	require.NotEqual(t, run, second)
	text = mustGet(t, front.URL+"/compare?before="+strings.TrimPrefix(run, "/run/")+"&after="+strings.TrimPrefix(second, "/run/"))
	has(t, text, "What went in")
}

func TestBadParameterShowsTheFormAgain(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	status, text, path := post(t, front.URL+"/notebook/ours/run", url.Values{"month": {"2026-99<svg>"}})
	assert.Equal(t, 422, status)
	assert.Equal(t, "/notebook/ours/run", path)
	has(t, text, "is not a month")
	hasNot(t, text, "<svg>")
}

func TestStopEndsARunWithinASecond(t *testing.T) {
	t.Parallel()
	s, front, _ := serve(t, &fakeShop{hash: "h", wait: 8 * time.Second}, nil)
	status, text, path := post(t, front.URL+"/notebook/ours/run", nil)
	require.Equal(t, 200, status)
	require.Contains(t, text, "Stop")
	start := time.Now()
	_, text, _ = post(t, front.URL+path+"/stop", nil)
	assert.Less(t, time.Since(start), time.Second)
	has(t, text, "stopped on request")
	recs, err := s.store.List()
	require.NoError(t, err)
	assert.Empty(t, recs)
}

// Long work waits for its turn and is told its place; pages wait for nothing.
func TestLongWorkStandsInAQueue(t *testing.T) {
	t.Parallel()
	s, front, _ := serve(t, &fakeShop{hash: "h", wait: time.Hour}, nil)
	// All at once, since each is looked at for a while before its visitor is told where it is.
	type started struct {
		text, path string
		before     int
	}
	works := make([]started, jobs.AtOnce()+2)
	var visitors sync.WaitGroup
	for i := range works {
		visitors.Go(func() {
			_, text, path := post(t, front.URL+"/notebook/ours/run", nil)
			works[i] = started{text, path, 0}
			if m := regexp.MustCompile(`Waiting: (\d+) `).FindStringSubmatch(text); m != nil {
				works[i].before, _ = strconv.Atoi(m[1])
			}
		})
	}
	visitors.Wait()
	slices.SortFunc(works, func(a, b started) int { return a.before - b.before })
	var paths []string
	for _, w := range works {
		paths = append(paths, w.path)
	}
	has(t, works[jobs.AtOnce()+1].text, fmt.Sprintf("Waiting: %d runs and loads come before this one.", jobs.AtOnce()+1))
	begun := time.Now()
	for _, path := range []string{"/", "/review", "/notebooks", "/orders/ask", "/runs", "/practice", "/practice/old", "/desk", "/rules", "/decisions", "/sheets", "/help", "/notebook/ours"} {
		mustGet(t, front.URL+path)
	}
	assert.Less(t, time.Since(begun), 10*time.Second)
	_, text, _ := post(t, front.URL+paths[jobs.AtOnce()]+"/stop", nil)
	has(t, text, "Stopped on request")
	has(t, mustGet(t, front.URL+paths[jobs.AtOnce()+1]+"/state"), fmt.Sprintf(`"says":"Waiting: %d `, jobs.AtOnce()))
	for range jobs.MostWaiting - 1 {
		require.NoError(t, s.jobs.Start(&jobs.Job{}, time.Now(), func(context.Context, *jobs.Job) (string, error) { return "", nil }))
	}
	status, text, _ := post(t, front.URL+"/notebook/ours/run", nil)
	assert.Equal(t, 503, status)
	has(t, text, "Many runs are waiting already")
	for _, path := range paths[:jobs.AtOnce()] {
		post(t, front.URL+path+"/stop", nil)
	}
	s.jobs.StopAll()
	require.Error(t, s.jobs.Start(&jobs.Job{}, time.Now(), nil))
}

// A panic in a job is told as its failure; the service and the next job go on.
func TestAPanicEndsTheJobAlone(t *testing.T) {
	s, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	j := &jobs.Job{Title: "x"}
	require.NoError(t, s.jobs.Start(j, time.Now(), func(context.Context, *jobs.Job) (string, error) {
		var none []int
		return fmt.Sprint(none[len(none)-1]), nil
	}))
	<-j.Ended
	has(t, mustGet(t, front.URL+"/job/"+j.ID), "The program made a mistake at this")
	next := &jobs.Job{Title: "y"}
	require.NoError(t, s.jobs.Start(next, time.Now(), func(context.Context, *jobs.Job) (string, error) { return "/sheets", nil }))
	<-next.Ended
	require.NoError(t, next.Problem())
}

func TestEditWithConflictKeepsBoth(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	version := regexp.MustCompile(`name="version" value="([0-9a-f]+)"`).FindStringSubmatch(mustGet(t, front.URL+"/edit/ours"))[1]
	mine, theirs := strings.ReplaceAll(ours, "Text", "Mine"), strings.ReplaceAll(ours, "Text", "Theirs")
	status, text, _ := post(t, front.URL+"/edit/ours", url.Values{"do": {"save"}, "version": {version}, "text": {strings.ReplaceAll(theirs, "\n", "\r\n")}})
	require.Equal(t, 200, status)
	has(t, text, "Saved.")
	status, text, _ = post(t, front.URL+"/edit/ours", url.Values{"do": {"save"}, "version": {version}, "text": {mine}})
	assert.Equal(t, 409, status)
	has(t, text, "Nothing is lost")
	kept, err := os.ReadFile(filepath.Join(dir, "notebooks", "ours.md"))
	require.NoError(t, err)
	assert.Equal(t, theirs, string(kept))
	files, err := filepath.Glob(filepath.Join(dir, "notebooks", "ours-*.md"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	kept, err = os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Equal(t, mine, string(kept))
	audit, err := os.ReadFile(filepath.Join(dir, "audit.jsonl"))
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(audit), `"did":"save notebook"`))
}

func TestPreviewKeepsNothing(t *testing.T) {
	s, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	status, text, _ := post(t, front.URL+"/edit/ours", url.Values{"do": {"preview"}, "text": {ours}})
	assert.Equal(t, 200, status)
	has(t, text, "Preview, run with the defaults")
	_, text, _ = post(t, front.URL+"/edit/ours", url.Values{"do": {"preview"}, "text": {strings.ReplaceAll(ours, "of=marks", "of=mark")}})
	has(t, text, "did you mean &#34;marks&#34;?")
	assert.Equal(t, before, tree(t, dir))
	recs, _ := s.store.List()
	assert.Empty(t, recs)
}

func tree(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	require.NoError(t, filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			b, _ := os.ReadFile(p)
			out = append(out, fmt.Sprintf("%s %x", p, b))
		}
		return err
	}))
	return out
}

func TestDecisionIsBoundToARunAndComesDue(t *testing.T) {
	now := time.Date(2026, 10, 16, 12, 0, 0, 0, time.UTC)
	var mu sync.Mutex
	clock := func() time.Time { mu.Lock(); defer mu.Unlock(); return now }
	_, front, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) { c.Clock = clock })
	run := strings.TrimPrefix(runOurs(t, front.URL), "/run/")
	form := url.Values{"rule": {"tape-marks-missing"}, "words": {"hold them <b>all</b>"}, "run": {run}, "who": {"Ann"}, "revisit": {"2027-01-15"}}
	status, text, _ := post(t, front.URL+"/decisions", form)
	require.Equal(t, 200, status, text)
	has(t, text, "hold them &lt;b&gt;all&lt;/b&gt;")
	has(t, text, "marks, tape-marks-missing, avoidable")
	hasNot(t, mustGet(t, front.URL+"/"), "Decisions to look at again")
	mu.Lock()
	now = time.Date(2027, 1, 15, 12, 0, 0, 0, time.UTC)
	mu.Unlock()
	has(t, mustGet(t, front.URL+"/"), "Decisions to look at again")
	text = mustGet(t, front.URL+"/decisions")
	id := regexp.MustCompile(`name="looks_at" value="([A-Z0-9]+)"`).FindStringSubmatch(text)[1]
	status, text, _ = post(t, front.URL+"/decisions", url.Values{"rule": {"tape-marks-missing"}, "words": {"it held"}, "run": {run}, "who": {"Ben"}, "looks_at": {id}})
	require.Equal(t, 200, status)
	has(t, text, "it held")
	hasNot(t, mustGet(t, front.URL+"/"), "Decisions to look at again")

	for _, drop := range []string{"rule", "words", "run", "who", "revisit"} {
		bad := url.Values{}
		for k, v := range form {
			if k != drop {
				bad[k] = v
			}
		}
		status, _, _ := post(t, front.URL+"/decisions", bad)
		assert.Equal(t, 400, status, drop)
	}
}

// The first page leads with the month, names three orders to ring, and says what came
// since the last review; the lists it counts can be opened.
func TestFirstPageIsTheShopNow(t *testing.T) {
	shop := &fakeShop{hash: "h"}
	_, front, _ := serve(t, shop, nil)
	text := mustGet(t, front.URL+"/")
	for _, want := range []string{"Of 33 pairs 3 came back.", "Make the review of August 2026", "All 4 of them", "/orders/remade", `href="/order/`, "order &lt;1&gt;", "15 October 2026"} {
		has(t, text, want)
	}
	hasNot(t, text, "Since the last review")
	has(t, text, `href="/measurers"`)
	has(t, mustGet(t, front.URL+"/review"), "No review has been made yet")
	ask := mustGet(t, front.URL+"/orders/ask")
	has(t, ask, "o-4")
	has(t, mustGet(t, front.URL+"/orders/remade"), "heel")
	has(t, mustGet(t, front.URL+"/orders/ask.csv"), "order <1>,")
	status, _ := get(t, front.URL+"/orders/other")
	assert.Equal(t, 404, status)

	_, text, _ = post(t, front.URL+"/notebook/monthly-review/run", nil)
	has(t, text, "Fit review")
	text = mustGet(t, front.URL+"/")
	has(t, text, "the book is as it was then")
	has(t, text, `<a href="/review#finding-findings">Found in findings</a>`)
	hasNot(t, text, "Make the review of")
	has(t, mustGet(t, front.URL+"/review"), "Fit review")
	hasNot(t, mustGet(t, front.URL+"/review"), "Make it again") // it is current
	shop.mu.Lock()
	shop.hash = "another"
	shop.mu.Unlock()
	has(t, mustGet(t, front.URL+"/review"), "Make it again")
	text = mustGet(t, front.URL+"/")
	has(t, text, "The book changed by")
	has(t, text, "Make the review of August 2026")
	_, text, _ = post(t, front.URL+"/notebook/monthly-review/run", nil)
	has(t, text, "Fit review")
	has(t, mustGet(t, front.URL+"/"), "/compare?before=")
}

func upload(t *testing.T, to string, files map[string]string) (int, string) {
	t.Helper()
	var b bytes.Buffer
	mw := multipart.NewWriter(&b)
	for name, text := range files {
		w, err := mw.CreateFormFile("sheets", name)
		require.NoError(t, err)
		_, err = io.WriteString(w, text)
		require.NoError(t, err)
	}
	require.NoError(t, mw.Close())
	res, err := http.Post(to, mw.FormDataContentType(), &b)
	require.NoError(t, err)
	return bodyText(t, res)
}

func TestUploadOfSheets(t *testing.T) {
	shop := &fakeShop{none: true, hash: "h"}
	_, front, dir := serve(t, shop, nil)
	has(t, mustGet(t, front.URL+"/"), "There is no order book here yet")
	status, text := upload(t, front.URL+"/sheets/load", map[string]string{`C:\shop\orders.csv`: "order_id\n1\n", "../../forms.csv": "form_id\n"})
	require.Equal(t, 200, status, text)
	has(t, text, "rows kept out")
	assert.Equal(t, []string{"forms.csv", "orders.csv"}, shop.loaded)
	rejects := regexp.MustCompile(`/job/[A-Z0-9]+/rejects.csv`).FindString(text)
	has(t, mustGet(t, front.URL+rejects), "orders.csv,3")
	left, err := os.ReadDir(filepath.Join(dir, "incoming"))
	require.NoError(t, err)
	assert.Empty(t, left, "what was sent is not left lying about")

	// What a load takes from a folder an upload takes, and the picker of files shows.
	has(t, mustGet(t, front.URL+"/sheets"), `accept=".csv,.tsv,.ods,.yaml,.yml"`)
	status, text = upload(t, front.URL+"/sheets/load", map[string]string{"book.ods": "PK", "forms.tsv": "form_id\n"})
	require.Equal(t, 200, status, text)
	assert.Equal(t, []string{"book.ods", "forms.tsv"}, shop.loaded)

	for name, want := range map[string]string{"orders.exe": "Only CSV", ".csv": "has a name that", strings.Repeat("a", 200) + ".csv": "has a name that"} {
		status, text := upload(t, front.URL+"/sheets/load", map[string]string{name: "x"})
		assert.Equal(t, 400, status, name)
		has(t, text, want)
	}
	_, text = upload(t, front.URL+"/sheets/load", map[string]string{"orders.csv": "damaged"})
	has(t, text, "the book is as it was")
	left, _ = os.ReadDir(filepath.Join(dir, "incoming"))
	assert.Empty(t, left)
}

func TestFirstPageMakesTheInventedWorkshop(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{none: true, hash: "h"}, nil)
	text := mustGet(t, front.URL+"/")
	has(t, text, "The first step")
	status, text, path := post(t, front.URL+"/demo", nil)
	assert.Equal(t, 200, status)
	assert.Equal(t, "/", path)
	has(t, text, "The shop now")
	status, _, _ = post(t, front.URL+"/demo", nil)
	assert.Equal(t, 409, status, "never over a book")
}

func TestDesk(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	has(t, mustGet(t, front.URL+"/desk"), `name="n-left-bare-leg-9"`)
	form := url.Values{"n-left-bare-ball": {"99"}, "shaft": {"12"}}
	status, text, _ := post(t, front.URL+"/desk", form)
	assert.Equal(t, 200, status)
	has(t, text, "expected 14")
	status, text, _ = post(t, front.URL+"/desk/doubts", form)
	assert.Equal(t, 200, status)
	assert.JSONEq(t, `{"verdict":"measure again","doubts":{"n-left-bare-ball":"expected 14"},"notes":[],"pairs":[]}`, text)
	status, text, _ = post(t, front.URL+"/desk/letter", form)
	assert.Equal(t, 200, status)
	has(t, text, "Please measure again")
	form.Set("letter_language", "de")
	_, text, _ = post(t, front.URL+"/desk/letter", form)
	has(t, text, "Bitte noch einmal messen")
	has(t, text, `name="n-left-bare-ball" value="99"`)
	has(t, text, `name="letter_language" value="en"`)
	hasNot(t, text, `type="hidden" name="letter_language"`)
	status, _, _ = post(t, front.URL+"/desk/letter", url.Values{"n-left-bare-ball": {"14"}})
	assert.Equal(t, 409, status)
	status, text, _ = post(t, front.URL+"/desk", url.Values{"n-left-bare-ball": {"x"}})
	assert.Equal(t, 422, status)
	has(t, text, "X is no number.")
	assert.Equal(t, before, tree(t, dir), "nothing that was typed in is kept")
}

// The address of an order may be kept: it is the same after a restart, and says
// nothing of the order's number.
func TestAddressesOutliveARestart(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	_, _, path := post(t, front.URL+"/find", url.Values{"order": {"order <1>"}})
	front.Close()
	_, again, _ := serve(t, &fakeShop{hash: "later"}, func(c *Config) { c.Dir = dir })
	has(t, mustGet(t, again.URL+path), "Order order &lt;1&gt;")
	_, _, same := post(t, again.URL+"/find", url.Values{"order": {"order <1>"}})
	assert.Equal(t, path, same)
	_, other, _ := serve(t, &fakeShop{hash: "h"}, nil)
	status, _ := get(t, other.URL+path)
	assert.Equal(t, 404, status, "another shop's key does not open it")
}

// The box goes to the one thing that a number means, lists several, and says what is
// spelt almost so.
func TestFind(t *testing.T) {
	s, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	find := func(text string) (int, string, string) {
		return post(t, front.URL+"/find", url.Values{"order": {text}})
	}
	status, _, path := find(" order  <1> ")
	assert.Equal(t, 200, status)
	assert.Equal(t, "/order/"+s.handles.Word("order", "order <1>"), path)
	status, text, _ := find("1")
	assert.Equal(t, 200, status)
	has(t, text, "order order &lt;1&gt;</a>: shipped")
	has(t, text, `href="/customer/`+s.handles.Word("customer", "C")+`"`)
	status, text, _ = find(strings.Repeat("1 ", 101))
	assert.Equal(t, 400, status)
	has(t, text, "That is too long for a number")
	status, text, _ = find("ordre")
	assert.Equal(t, 404, status)
	has(t, text, "Spelt almost so")
	status, text, _ = find("<b>")
	assert.Equal(t, 404, status)
	has(t, text, "Nothing is spelt almost so either")
	status, _, _ = find(" ")
	assert.Equal(t, 400, status)
	has(t, mustGet(t, front.URL+"/customer/"+s.handles.Word("customer", "C")), "order &lt;1&gt;")
	status, _ = get(t, front.URL+"/customer/"+s.handles.Word("customer", "D"))
	assert.Equal(t, 404, status)
	post(t, front.URL+"/desk/keep", url.Values{"order_id": {"W2"}, "form_id": {"W2-1"}, "seen": {"0"}})
	_, _, path = find("w2-1")
	assert.Equal(t, "/desk/kept/"+s.handles.Word("order", "W2"), path, "what is kept and not in the book yet is found")
}

// From the desk to the letter, to the answer and to the cut; two who keep a form of
// one order both see what the other kept, and nobody's typing is lost.
func TestKeptAtTheDesk(t *testing.T) {
	s, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	has(t, mustGet(t, front.URL+"/desk"), `value="W2-1"`)
	has(t, mustGet(t, front.URL+"/desk/open"), "No form is held")
	form := url.Values{"order_id": {"W2"}, "customer_id": {"C<7>"}, "n-left-bare-ball": {"99"}, "seen": {"0"}}
	status, text, _ := post(t, front.URL+"/desk/keep", form)
	assert.Equal(t, 422, status)
	has(t, text, "needed, to be kept")
	has(t, text, `value="99"`)
	form.Set("form_id", "W2-1")
	form.Set("do", "letter")
	status, text, path := post(t, front.URL+"/desk/keep", form)
	assert.Equal(t, 200, status)
	at := "/desk/kept/" + s.handles.Word("order", "W2")
	assert.Equal(t, at+"/letter", path)
	has(t, text, "Please measure again")
	text = mustGet(t, front.URL+at+"/letter?letter_language=de")
	has(t, text, `<div class="letter" lang="de" translate="no">`)
	has(t, text, "Bitte noch einmal messen")
	text = mustGet(t, front.URL+"/desk/open")
	has(t, text, `href="`+at+`"`)
	has(t, text, "by letter on 2026-10-15")
	has(t, text, "C&lt;7&gt;")

	other := url.Values{"order_id": {"W2"}, "form_id": {"W2-1"}, "n-left-bare-ball": {"14"}, "seen": {"0"}}
	status, text, _ = post(t, front.URL+"/desk/keep", other)
	assert.Equal(t, 409, status)
	for _, want := range []string{"Nothing is lost", "typed by you", "left ball", "99 in", "14 in", `name="seen" value="2"`, `value="14"`} {
		has(t, text, want)
	}
	status, _, _ = post(t, front.URL+at, url.Values{"do": {"cut"}, "seen": {"1"}})
	assert.Equal(t, 409, status)
	status, _, _ = post(t, front.URL+at, url.Values{"do": {"dance"}, "seen": {"2"}})
	assert.Equal(t, 400, status)

	text = mustGet(t, front.URL+at+"/again")
	has(t, text, `name="form_id" value="W2-2"`)
	has(t, text, `value="99"`)
	other.Set("form_id", "W2-2")
	other.Set("seen", "2")
	status, text, path = post(t, front.URL+"/desk/keep", other)
	assert.Equal(t, 200, status)
	assert.Equal(t, at, path)
	has(t, text, "What changed from form W2-1 to W2-2")
	status, text, _ = post(t, front.URL+at, url.Values{"do": {"cut"}, "seen": {"3"}})
	assert.Equal(t, 200, status)
	has(t, text, "done with it since 2026-10-15: cut")
	has(t, mustGet(t, front.URL+at+"/mend"), "typed wrongly")
	status, _ = get(t, front.URL+"/desk/kept/nonsense")
	assert.Equal(t, 404, status)
	status, _ = get(t, front.URL+"/desk/kept/"+s.handles.Word("order", "W9"))
	assert.Equal(t, 404, status)
}

func TestPracticeHidesTheOutcomeUntilAnswered(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	text := mustGet(t, front.URL+"/practice/old")
	hasNot(t, text, "order &lt;1&gt;")
	order := regexp.MustCompile(`name="order" value="([^"]+)"`).FindStringSubmatch(text)[1]
	status, _, _ := post(t, front.URL+"/practice/old", url.Values{"order": {order}})
	assert.Equal(t, 400, status)
	status, text, _ = post(t, front.URL+"/practice/old", url.Values{"order": {order}, "answer": {"ask"}})
	assert.Equal(t, 200, status)
	has(t, text, "You said: ask")
	has(t, text, "Order order &lt;1&gt;")
	assert.Equal(t, before, tree(t, dir), "practice is nobody's record")
}

func TestRoles(t *testing.T) {
	tokens := []access.Token{access.NewToken("Ann", access.Reader), access.NewToken("Ben", access.Editor)}
	_, front, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) { c.Tokens = tokens })
	status, text := get(t, front.URL+"/runs")
	assert.Equal(t, 401, status)
	has(t, text, "asks for a token")
	enter := func(secret string) *http.Client {
		jar, err := cookiejar.New(nil)
		require.NoError(t, err)
		c := &http.Client{Jar: jar}
		res, err := c.PostForm(front.URL+"/enter", url.Values{"token": {secret}})
		require.NoError(t, err)
		res.Body.Close()
		return c
	}
	try := func(c *http.Client, path string, form url.Values) int {
		res, err := c.PostForm(front.URL+path, form)
		require.NoError(t, err)
		res.Body.Close()
		return res.StatusCode
	}
	save := url.Values{"do": {"save"}, "text": {ours}}
	ann, ben := enter(tokens[0].Secret), enter(tokens[1].Secret)
	assert.Equal(t, 200, try(ann, "/notebook/ours/run", nil))
	for _, path := range []string{"/edit/new", "/rules/switch", "/decisions", "/decisions/mend", "/decisions/end", "/decisions/take-back", "/demo", "/sheets/load"} {
		assert.Equal(t, 403, try(ann, path, save), path)
	}
	assert.Equal(t, 200, try(ben, "/edit/fresh", save))
	assert.Equal(t, 200, try(ann, "/leave", nil))
	assert.Equal(t, 401, try(ann, "/notebook/ours/run", nil))
	wrong := 0
	for range access.MostWrong + 1 {
		res, err := http.PostForm(front.URL+"/enter", url.Values{"token": {"wrong"}})
		require.NoError(t, err)
		res.Body.Close()
		if res.StatusCode == 401 {
			wrong++
		}
	}
	assert.Equal(t, access.MostWrong, wrong, "guessing is slowed")
}

// TestEveryAddressInParallel fetches each address of the table at once; under
// -race this also looks for unguarded sharing.
func TestEveryAddressInParallel(t *testing.T) {
	s, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	run := strings.TrimPrefix(runOurs(t, front.URL), "/run/")
	behind := regexp.MustCompile(`behind/([0-9a-f]+)`).FindStringSubmatch(mustGet(t, front.URL+"/run/"+run))[1]
	_, _, sheets := send(t, front.URL+"/spreadsheets", nil, "a.csv=1")
	post(t, front.URL+sheets, url.Values{"do": {"try"}, "chosen:ledger<1>|Wer|is": {"customer"}})
	require.NoError(t, s.uploads.Keep(uploads.Layout{Name: "Ours", Mapping: "unit: in\n"}))
	post(t, front.URL+"/desk/keep", url.Values{"order_id": {"order <1>"}, "form_id": {"A"}, "n-left-bare-ball": {"99"}})
	_, _, round := post(t, front.URL+"/practice", url.Values{"name": {"Ann"}, "forms": {"10"}, "seed": {"7"}})
	learner, no, _ := strings.Cut(strings.TrimPrefix(round, "/practice/"), "/")
	post(t, front.URL+round, url.Values{"form": {"P01"}, "verdict": {"cut"}})
	_, _, open := post(t, front.URL+"/session", url.Values{"id": {"S"}, "day": {"2026-11-26"}, "instructor": {"boss"}, "measurers": {"Ann"}, "subjects": {"A"}, "spot": {"ball"}, "unit": {"in"}, "trials": {"1"}})
	door := regexp.MustCompile(`/at/(\w+)`).FindStringSubmatch(mustGet(t, front.URL+open))[1]
	word := strings.TrimPrefix(open, "/session/")
	want := map[string]int{"/job/NONE": 404, "/job/NONE/state": 404, "/job/NONE/loaded": 404, "/job/NONE/rejects.csv": 404, "/compare": 404, open + "/repeats.csv": 409, open + "/result/1": 409,
		"/measurers/none": 404, "/measurers/none/hand-over": 404}
	fill := strings.NewReplacer("{measurer}", "none", "{session}", word, "{door}", door, "{person}", "1", "{learner}", learner, "{round}", no, "{exercise}", "P01", "{fault}", "outline-broken", "{upload}", strings.TrimPrefix(sheets, "/spreadsheets/"), "{layout}", "Ours", "{name}", "ours", "{run}", run, "{ref}", behind, "{table}", "marks.csv", "{file}", "service.js", "{job}", "NONE", "{list}", "ask",
		"{customer}", s.handles.Word("customer", "C"), "{order}", s.handles.Word("order", "order <1>"), "{form}", s.handles.Word("form", "A"), "{$}", "")
	var wg sync.WaitGroup
	for range 4 {
		for _, r := range s.table() {
			path, ok := strings.CutPrefix(r.Pattern, "GET ")
			if !ok {
				continue
			}
			wg.Add(1)
			go func() {
				defer wg.Done()
				path := fill.Replace(path)
				res, err := http.Get(front.URL + path)
				if !assert.NoError(t, err) {
					return
				}
				defer res.Body.Close()
				_, err = io.Copy(io.Discard, res.Body)
				assert.NoError(t, err)
				status := want[path]
				if status == 0 {
					status = 200
				}
				assert.Equal(t, status, res.StatusCode, path)
				assert.Contains(t, res.Header.Get("Content-Security-Policy"), "default-src 'none'")
				assert.Equal(t, "nosniff", res.Header.Get("X-Content-Type-Options"))
				assert.Equal(t, "no-referrer", res.Header.Get("Referrer-Policy"))
			}()
		}
		wg.Add(1)
		go func() {
			defer wg.Done()
			res, err := http.PostForm(front.URL+"/notebook/ours/run", nil)
			if assert.NoError(t, err) {
				res.Body.Close()
			}
		}()
	}
	wg.Wait()
}

// A condition is tried as typed or as built from lists, by an address that can be
// kept; one that is none is told with the reason, and nothing is lost.
func TestTryARule(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	_, text := get(t, front.URL+"/rules?column1=tape_marks_missing&is1=is+true&column2=channel&is2=equals&value2=o%27hara&column3=shaft_height_in&is3=is+at+least&value3=14&success=80")
	require.Contains(t, text, "tape_marks_missing AND channel = &#39;o&#39;&#39;hara&#39; AND shaft_height_in &gt;= 14")
	require.Contains(t, text, "at 0.80")
	require.Contains(t, text, "its line")
	require.Equal(t, 1, strings.Count(text, "<h1"))
	for _, words := range []string{`<option value="tape_marks_missing" selected>tape marks missing</option>`, "shaft height in inches", "any of the four tape marks is not on the tracing"} {
		has(t, text, words)
	}
	for query, why := range map[string]string{
		"when=nonsense":                                            "there is no column",
		"column1=nothing&is1=is+true":                              "There is no column",
		"column1=channel&is1=equals":                               "compares channel with nothing",
		"column1=channel&is1=smells+like":                          "does not say how to compare",
		"when=tape_marks_missing&success=120":                      "no share of call-backs",
		"when=tape_marks_missing&column1=channel&is1=is+not+known": "another one that was typed",
	} {
		status, text := get(t, front.URL+"/rules?"+query)
		require.Equal(t, 422, status, query)
		require.Contains(t, strings.ToLower(text), strings.ToLower(why), query)
		require.NotContains(t, text, "its line", query)
	}
}
