package service

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/rules"
	"lastroom/notebooks/decisions"
)

// The whole life of a switch: on, mended, off; another one on and taken back; a
// condition of one's own. The rules file follows, and no line of the ledger goes.
func TestSwitchRules(t *testing.T) {
	shop := &fakeShop{hash: "h"}
	s, front, _ := serve(t, shop, func(c *Config) {
		c.Clock = func() time.Time { return time.Date(2026, 10, 16, 12, 0, 0, 0, time.UTC) }
	})
	rule := func(id string) rules.Rule {
		list := shop.RuleList()
		return list[slices.IndexFunc(list, func(r rules.Rule) bool { return r.ID == id })]
	}
	days := func(id string) string { r := rule(id); return r.From.String() + " " + r.Until.String() }
	hidden := func(id string) url.Values {
		_, text := get(t, front.URL+"/rules?rule="+id)
		f := url.Values{"rule": {id}}
		for _, name := range []string{"from", "until", "do"} {
			f.Set(name, regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(text)[1])
		}
		return f
	}
	with := func(f url.Values, more ...string) url.Values {
		g := url.Values{}
		for k, v := range f {
			g[k] = v
		}
		for i := 0; i < len(more); i += 2 {
			g.Set(more[i], more[i+1])
		}
		return g
	}
	never := days("outline-broken")
	seen := hidden("outline-broken")
	on := with(seen, "words", "gaps <cost> us", "who", "Ann", "day", "2026-10-20", "revisit", "2027-04-20")
	for _, lacks := range []string{"words", "who", "day", "revisit", "do"} {
		status, _, _ := post(t, front.URL+"/rules/switch", with(on, lacks, ""))
		assert.Equal(t, http.StatusBadRequest, status, lacks)
	}
	status, text, _ := post(t, front.URL+"/rules/switch", on)
	require.Equal(t, 200, status, text)
	has(t, text, "from 2026-10-20 on")
	assert.Equal(t, "2026-10-20", rule("outline-broken").From.String())
	status, _, _ = post(t, front.URL+"/rules/switch", on)
	assert.Equal(t, http.StatusConflict, status, "the form is of before")
	status, _, _ = post(t, front.URL+"/rules/switch", with(hidden("outline-broken"), "words", "again", "who", "Ann", "day", "2026-11-20", "revisit", "2027-04-20"))
	assert.Equal(t, http.StatusConflict, status, "it is on already")

	text = mustGet(t, front.URL+"/decisions")
	has(t, text, "gaps &lt;cost&gt; us")
	has(t, text, "<li>forms it holds: ")
	first := regexp.MustCompile(`name="about" value="([A-Z0-9]+)"`).FindStringSubmatch(text)[1]
	status, text, _ = post(t, front.URL+"/decisions/mend", url.Values{"about": {first}, "words": {"gaps at the toe cost us"}, "who": {"Ben"}, "revisit": {"2027-02-01"}})
	require.Equal(t, 200, status)
	has(t, text, "gaps at the toe cost us")
	has(t, text, "gaps &lt;cost&gt; us") // its history
	status, _, _ = post(t, front.URL+"/decisions/end", url.Values{"about": {first}, "words": {"the clerk looks now"}, "who": {"Ben"}, "last": {"2026-10-19"}})
	assert.Equal(t, http.StatusBadRequest, status, "before it began")
	status, text, _ = post(t, front.URL+"/decisions/end", url.Values{"about": {first}, "words": {"the clerk looks now"}, "who": {"Ben"}, "last": {"2027-03-31"}})
	require.Equal(t, 200, status)
	has(t, text, "(ended)")
	assert.Equal(t, "2026-10-20 2027-03-31", days("outline-broken"))
	status, text, _ = post(t, front.URL+"/decisions/take-back", url.Values{"about": {first}, "words": {"it was a slip"}, "who": {"Ben"}})
	require.Equal(t, 200, status)
	has(t, text, "(taken back)")
	assert.Equal(t, never, days("outline-broken"))
	for _, gone := range []string{"/decisions/take-back", "/decisions/mend", "/decisions/end"} {
		status, _, _ = post(t, front.URL+gone, url.Values{"about": {first}, "words": {"x"}, "who": {"B"}, "last": {"2027-03-31"}})
		assert.Equal(t, http.StatusConflict, status, gone)
		status, _, _ = post(t, front.URL+gone, url.Values{"about": {"NOBODY"}, "words": {"x"}, "who": {"B"}, "last": {"2027-03-31"}})
		assert.Equal(t, http.StatusNotFound, status, gone)
	}

	// A condition becomes a rule, which is then switched off; who takes the first
	// decision back is told of the second.
	fresh := url.Values{"do": {"on"}, "when": {"shaft_height_in >= 14 AND channel = 'home'"}, "title": {"Tall from home"}, "words": {"they come back"}, "who": {"Ann"}, "day": {"2026-10-16"}, "revisit": {"2027-04-16"}}
	status, _, _ = post(t, front.URL+"/rules/switch", with(fresh, "when", "nonsense"))
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	status, _, _ = post(t, front.URL+"/rules/switch", with(fresh, "title", ""))
	assert.Equal(t, http.StatusBadRequest, status)
	status, text, _ = post(t, front.URL+"/rules/switch", fresh)
	require.Equal(t, 200, status, text)
	has(t, text, "on since 2026-10-16")
	assert.Equal(t, "they come back", rule("tall-from-home").Why)
	second := regexp.MustCompile(`name="about" value="([A-Z0-9]+)"`).FindStringSubmatch(mustGet(t, front.URL+"/decisions"))[1]
	off := with(hidden("tall-from-home"), "words", "too many", "who", "Ann", "day", "2026-10-31")
	assert.Equal(t, "off", off.Get("do"))
	status, _, _ = post(t, front.URL+"/rules/switch", off)
	require.Equal(t, 200, status)
	assert.Equal(t, "2026-10-16 2026-10-31", days("tall-from-home"))
	status, text, _ = post(t, front.URL+"/decisions/take-back", url.Values{"about": {second}, "words": {"no"}, "who": {"Ben"}})
	assert.Equal(t, http.StatusConflict, status)
	has(t, text, "by another decision since")

	lines, err := s.decisions.Read()
	require.NoError(t, err)
	require.Len(t, lines, 6)
	assert.Equal(t, decisions.TakesBack, lines[3].Does)
	assert.Contains(t, string(shop.ruled), "# Intake rules: which first forms to hold, and why.", "what people wrote stays")
}

// A rule is meant by its title in the language of the page too, and a misspelt one is asked
// back about.
func TestADecisionFindsItsRule(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	run := strings.TrimPrefix(runOurs(t, front.URL), "/run/")
	decide := func(rule, language string) (int, string) {
		form := url.Values{"rule": {rule}, "words": {"so"}, "run": {run}, "who": {"Ann"}, "revisit": {"2027-01-15"}}
		req, err := http.NewRequest(http.MethodPost, front.URL+"/decisions", strings.NewReader(form.Encode()))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Accept-Language", language)
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		return bodyText(t, res)
	}
	for _, rule := range []string{"outline broken", "outline-broken", "Umriss mit Lücke"} {
		status, text := decide(rule, "de")
		require.Equal(t, 200, status, "%s: %s", rule, text)
		hasNot(t, text, "Outline brok")
	}
	status, text := decide("outline brokn", "en")
	require.Equal(t, 400, status)
	has(t, text, "did you mean “Outline broken”?")
	status, text = decide("Umriss mit Lucke", "de")
	require.Equal(t, 400, status)
	has(t, text, "meinten Sie „Umriss mit Lücke“?")
	status, _ = decide("who tapes on Fridays", "en")
	require.Equal(t, 200, status)
}
