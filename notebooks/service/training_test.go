package service

import (
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/help"
	"lastroom/reports/translation"
)

// Readers practise and write in a session; what goes into the book, or away, is for
// editors. Nobody's numbers are on any page before the session is closed. Each page on the
// way can be said in German, but for people's names.
func TestReadersTrain(t *testing.T) {
	german, err := translation.Of("de")
	require.NoError(t, err)
	tokens := []access.Token{access.NewToken("Ann", access.Reader), access.NewToken("Ben", access.Editor)}
	shop := &fakeShop{hash: "h"}
	_, front, _ := serve(t, shop, func(c *Config) { c.Tokens = tokens })
	as := func(secret string) func(path string, form url.Values) (int, string, string) {
		jar, err := cookiejar.New(nil)
		require.NoError(t, err)
		c := &http.Client{Jar: jar}
		ask := func(path string, form url.Values) (int, string, string) {
			var res *http.Response
			var err error
			if form == nil {
				res, err = c.Get(front.URL + path)
			} else {
				res, err = c.PostForm(front.URL+path, form)
			}
			require.NoError(t, err)
			status, text := bodyText(t, res)
			if path != "/enter" && strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
				_, untold := help.Said([]byte(text), german)
				for _, sentence := range untold {
					assert.Contains(t, []string{"Ann", "Ben"}, strings.Trim(sentence, "(),"), "untold in German: %s", path)
				}
			}
			return status, text, res.Request.URL.Path
		}
		ask("/enter", url.Values{"token": {secret}})
		return ask
	}
	ann, ben := as(tokens[0].Secret), as(tokens[1].Secret)

	_, text, _ := ann("/practice", url.Values{"name": {""}, "forms": {"10"}})
	has(t, text, "Say who practises")
	_, text, _ = ann("/practice", url.Values{"name": {"Ann"}, "forms": {"10"}, "seed": {"x"}})
	has(t, text, "whole number up to 999999")
	status, _, _ := ann("/practice", url.Values{"name": {"Ann"}, "forms": {"11"}})
	assert.Equal(t, 400, status)
	status, text, round := ann("/practice", url.Values{"name": {"Ann <b>"}, "forms": {"10"}, "seed": {"7"}})
	assert.Equal(t, 200, status)
	has(t, text, "Ann &lt;b&gt;")
	status, _, _ = ann(round+"/P01", nil)
	assert.Equal(t, 409, status, "the truth is shown after the answer")
	_, text, _ = ann(round, url.Values{"form": {"P01"}, "verdict": {"ask"}})
	has(t, text, "Point at what is wrong")
	status, _, _ = ann(round, url.Values{"form": {"P01"}, "verdict": {"ask"}, "fault": {"no-such"}})
	assert.Equal(t, 400, status)
	status, _, at := ann(round, url.Values{"form": {"P01"}, "verdict": {"ask"}, "fault": {"outline-broken"}})
	assert.Equal(t, 200, status)
	assert.Equal(t, round+"/P01", at)
	_, text, _ = ann(round, url.Values{"form": {"P01"}, "verdict": {"cut"}})
	has(t, text, "You said <b>ask</b>") // the first answer counts
	for _, path := range []string{round + "/P77", "/practice/AAAAAAAAAAAAAAAAAAAAAAAAAA", "/practice/AAAAAAAAAAAAAAAAAAAAAAAAAA/1", round + "9", "/teaching/no-such"} {
		status, _, _ = ann(path, nil)
		assert.Equal(t, 404, status, path)
	}
	_, text, _ = ann("/practice/class?seed=7", nil)
	has(t, text, "1 who answered it: Ann &lt;b&gt;.")
	_, text, _ = ann("/practice/class?seed=8", nil)
	has(t, text, "Nobody has answered set 8")
	learner := strings.TrimSuffix(round, "/1")
	status, _, _ = ann(learner+"/forget", url.Values{})
	assert.Equal(t, 403, status)

	plan := url.Values{"id": {"S1"}, "day": {"2026-11-26"}, "instructor": {"boss"}, "measurers": {"Ann\r\n\r\nBen"}, "subjects": {"A\nB"}, "spot": {"ball"}, "unit": {"mm"}, "trials": {"1"}, "lot": {"3"}}
	for field, wrong := range map[string]string{"day": "26.11.", "instructor": "", "measurers": "boss", "subjects": "", "spot": "toe", "trials": "9", "lot": "-1", "unit": "ell"} {
		was := plan[field]
		plan.Set(field, wrong)
		status, text, at = ann("/session", plan)
		assert.Equal(t, 422, status, field)
		assert.Equal(t, "/session", at, field)
		has(t, text, `role="alert"`)
		plan[field] = was
	}
	_, text, session := ann("/session", plan)
	doors := regexp.MustCompile(`/session/\w+/at/\w+`).FindAllString(text, -1)
	require.Len(t, doors, 3)
	// The words of addresses are drawn at random, and may have the digits of a number.
	said := func(text string) string {
		return regexp.MustCompile(`/session/\w+(/at/\w+)?`).ReplaceAllString(text, "")
	}
	for i, door := range doors {
		for turn := range 2 {
			_, text, _ = ann(door, url.Values{"turn": {[]string{"1", "2"}[turn]}, "left-0": {"24" + []string{"3", "5", "7"}[i]}, "right-0": {""}})
			has(t, text, "One box is empty")
			_, text, _ = ann(door, url.Values{"turn": {[]string{"1", "2"}[turn]}, "left-0": {"24" + []string{"3", "5", "7"}[i]}, "right-0": {""}, "leave": {"yes"}})
			hasNot(t, said(text), "24"+[]string{"3", "5", "7"}[i])
		}
	}
	_, text, _ = ann(session, nil)
	for _, number := range []string{"243", "245", "247"} {
		hasNot(t, said(text), number)
	}
	for _, path := range []string{session + "/repeats.csv", session + "/result/1"} {
		status, text, _ = ann(path, nil)
		assert.Equal(t, 409, status, path)
		hasNot(t, said(text), "245")
	}
	status, _, _ = ben(session+"/save", url.Values{})
	assert.Equal(t, 409, status, "not before it is closed")
	status, _, _ = ann(session+"/close", url.Values{})
	assert.Equal(t, 400, status)
	status, text, _ = ann(session+"/close", url.Values{"sure": {"yes"}})
	assert.Equal(t, 200, status)
	has(t, text, "Everybody beside the instructor")
	_, text, _ = ann(session+"/repeats.csv", nil)
	has(t, text, "S1,A,Ann,1,no,left,ball,,,245,mm,2026-11-26")
	for _, path := range []string{session + "/save", session + "/drop"} {
		status, _, _ = ann(path, url.Values{})
		assert.Equal(t, 403, status, path)
	}
	status, _, _ = ben(session+"/save", url.Values{})
	assert.Equal(t, 200, status)
	assert.Equal(t, []string{"repeats.csv"}, shop.loaded)
	_, text, _ = ann(session, nil)
	has(t, text, "The book has these numbers")
	status, _, at = ben(session+"/drop", url.Values{})
	assert.Equal(t, 200, status)
	assert.Equal(t, "/session", at)
	status, _, at = ben(learner+"/forget", url.Values{})
	assert.Equal(t, 200, status)
	assert.Equal(t, "/practice", at)
	_, text, _ = ann("/practice", nil)
	hasNot(t, text, "Ann &lt;b&gt;")
}

// What is printed is in the language of the visitor's pages: teaching sheets have texts and
// units of their own for it, worksheets and session sheets a line of style at their foot.
func TestPrintsAreInTheVisitorsLanguage(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) { c.Language = "de" })
	_, text := get(t, front.URL+"/teaching/tape-zero-shown")
	has(t, text, `<html lang="de"`)
	has(t, text, "Alle Zahlen gleich verschoben")
	has(t, text, "Bein in 27,9 cm")
	_, text = get(t, front.URL+"/practice/print?seed=7&forms=2")
	has(t, text, `content:"Satz 7, 2 Bögen"`)
	has(t, text, "Was falsch sein kann")
}

// Practice is in the unit that was chosen, else in that of the learner's last round, else in
// that of the language, and stays in it when the page's language changes: boxes, marks and
// truth are those of the same forms.
func TestARoundKeepsItsUnit(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	ask := func(language, path string, form url.Values) (string, string) {
		method, body := http.MethodGet, ""
		if form != nil {
			method, body = http.MethodPost, form.Encode()
		}
		r, err := http.NewRequestWithContext(t.Context(), method, front.URL+path, strings.NewReader(body))
		require.NoError(t, err)
		r.Header.Set("Accept-Language", language)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		status, text := bodyText(t, res)
		require.Equal(t, 200, status, text)
		return text, res.Request.URL.Path
	}
	boxes := regexp.MustCompile(`<td class="box[^"]*">([^<]*)<`)
	for _, begun := range []struct{ language, unit, english, german string }{ // a learner each, by the language
		{"de", "cm|cm", "One number is in inches, the others are in centimetres.", "Eine Zahl ist in Zoll, die anderen sind in Zentimetern."},
		{"en", "in|Zoll", "One number is in centimetres, the others are in inches.", "Eine Zahl ist in Zentimetern, die anderen sind in Zoll."}} {
		// A set of the learner's own and one by its number, each seen in both languages.
		for _, set := range []string{"", "7"} {
			_, round := ask(begun.language, "/practice", url.Values{"name": {begun.language}, "forms": {"20"}, "seed": {set}})
			for _, language := range []string{"en", "de"} {
				text, _ := ask(language, round, nil)
				found := boxes.FindAllStringSubmatch(text, -1)
				assert.Greater(t, len(found), 12)
				for _, box := range found {
					if box[1] != "" {
						assert.Regexp(t, `^[\d.,/ ]+ (`+begun.unit+`)$`, box[1], "begun in %s, seen in %s", begun.language, language)
					}
				}
			}
			if set == "7" {
				ask("en", round, url.Values{"form": {"P01"}, "verdict": {"measure again"}, "fault": {"unit-mixed"}})
				text, _ := ask("en", round+"/P01", nil)
				has(t, text, begun.english)
				has(t, text, "Seen: unit mixed")
				text, _ = ask("de", round+"/P01", nil)
				has(t, text, begun.german)
			}
		}
	}
	for _, next := range []struct{ asked, unit string }{{"mm", "mm"}, {"", "mm"}, {"in", "in"}} {
		text, _ := ask("en", "/practice", url.Values{"name": {"de"}, "forms": {"20"}, "unit": {next.asked}})
		assert.Regexp(t, `^[\d./ ]+ `+next.unit+`$`, boxes.FindStringSubmatch(text)[1], "asked for %q", next.asked)
	}
	text, _ := ask("de", "/practice/print?seed=7&forms=20&unit=in", nil)
	has(t, text, "Bein in 7 Zoll")
	text, _ = ask("de", "/practice/print?seed=7&forms=20", nil)
	has(t, text, "Bein in 17,8 cm")
	text, _ = ask("en", "/practice/print?seed=7&forms=20", nil)
	has(t, text, "Leg at 7 in")
}
