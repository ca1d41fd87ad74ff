package service

import (
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Pages come in the language that the visitor chose, or that of the service, or that of the
// browser; JSON that a page asks for too; the rest stays as it is.
func TestPagesInTheVisitorsLanguage(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	_, german, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) { c.Language = "de" })
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{Jar: jar}
	page := func(base, path, accepts string) string {
		t.Helper()
		r, err := http.NewRequest(http.MethodGet, base+path, nil)
		require.NoError(t, err)
		r.Header.Set("Accept-Language", accepts)
		res, err := client.Do(r)
		require.NoError(t, err)
		status, text := bodyText(t, res)
		require.Equal(t, 200, status, text)
		return text
	}
	const english, deutsch = `<html lang="en">`, `<html lang="de">`
	has(t, page(front.URL, "/desk", "de-AT,de;q=0.9,en;q=0.5"), deutsch)
	has(t, page(front.URL, "/desk", "en-GB,de;q=0.5"), english)
	has(t, page(front.URL, "/desk", "ja"), english)
	has(t, page(front.URL, "/desk", ";;;"), english)
	has(t, page(german.URL, "/desk", "en"), deutsch)
	has(t, page(front.URL, "/desk", "en"), `<option value="in" selected>`) // the unit of a shop that has no form yet
	text := page(front.URL, "/desk", "de")
	has(t, text, `<option value="cm" selected>`)
	has(t, text, `<button name="tag" value="en" lang="en" translate="no">English</button>`)
	has(t, text, "Bogentisch")
	assert.NotContains(t, text, "Form desk")
	assert.Equal(t, page(front.URL, "/static/service.css", "en"), page(front.URL, "/static/service.css", "de"))

	choose := func(form url.Values) *http.Response {
		t.Helper()
		res, err := client.PostForm(front.URL+"/language", form)
		require.NoError(t, err)
		res.Body.Close()
		return res
	}
	assert.Equal(t, "/desk?order=W1", choose(url.Values{"tag": {"de"}, "back": {"/desk?order=W1"}}).Request.URL.RequestURI())
	has(t, page(front.URL, "/desk", "en"), deutsch)
	for _, elsewhere := range []string{"//other.example/x", "https://other.example/", `/\other.example`, ""} {
		to := choose(url.Values{"tag": {"en"}, "back": {elsewhere}})
		assert.Equal(t, front.URL+"/", to.Request.URL.String(), elsewhere)
	}
	has(t, page(front.URL, "/desk", "de"), english)
	assert.Equal(t, http.StatusBadRequest, choose(url.Values{"tag": {"xx"}}).StatusCode)
}
