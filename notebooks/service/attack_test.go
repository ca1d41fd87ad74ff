package service

import (
	"context"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/notebooks/service/access"
)

// ask sends a request as given, without a client's help.
func ask(t *testing.T, base string, change func(*http.Request), method, path, form string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, base, strings.NewReader(form))
	require.NoError(t, err)
	req.URL.Opaque = path
	if form != "" {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if change != nil {
		change(req)
	}
	res, err := http.DefaultTransport.RoundTrip(req)
	require.NoError(t, err)
	return bodyText(t, res)
}

func TestForeignHostIsRefused(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	_, port, _ := net.SplitHostPort(strings.TrimPrefix(front.URL, "http://"))
	for host, want := range map[string]int{
		"evil.example": 421, "evil.example:" + port: 421, "127.0.0.1": 421, "localhost:1": 421, "127.0.0.1.evil.example:" + port: 421,
		"localhost:" + port: 200, "LOCALHOST:" + port: 200, "127.0.0.1:" + port: 200, "[::1]:" + port: 200,
	} {
		status, text := ask(t, front.URL, func(r *http.Request) { r.Host = host }, "GET", "/", "")
		assert.Equal(t, want, status, host)
		if want == 421 {
			has(t, text, "answers only under its own address")
			hasNot(t, text, "evil")
		}
	}
}

func TestCrossSiteFormsAreRefused(t *testing.T) {
	s, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	for _, r := range s.table() {
		path, ok := strings.CutPrefix(r.Pattern, "POST ")
		if !ok {
			continue
		}
		path = strings.NewReplacer("{name}", "ours", "{job}", "x").Replace(path)
		for name, change := range map[string]func(*http.Request){
			"fetch metadata": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
			"origin":         func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
			"other scheme":   func(r *http.Request) { r.Header.Set("Origin", "https://"+r.Host) },
			"null origin":    func(r *http.Request) { r.Header.Set("Origin", "null") },
			"same site":      func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") },
		} {
			status, text := ask(t, front.URL, change, "POST", path, "do=save&text=x&token=x")
			assert.Equal(t, 403, status, "%s %s", name, path)
			has(t, text, "came from another site")
		}
	}
	assert.Equal(t, before, tree(t, dir))
}

func TestNothingChangesByGet(t *testing.T) {
	s, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	for _, r := range s.table() {
		_, path, _ := strings.Cut(r.Pattern, " ")
		path = strings.NewReplacer("{name}", "ours", "{job}", "x", "{run}", "x", "{$}", "").Replace(path)
		ask(t, front.URL, nil, "GET", path+"?do=save&text=x&name=ours&rule=r&words=w", "")
		ask(t, front.URL, nil, "HEAD", path, "")
	}
	for _, method := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"} {
		status, _ := ask(t, front.URL, nil, method, "/edit/ours", "")
		assert.Equal(t, 405, status, method)
	}
	assert.Equal(t, before, tree(t, dir))
}

func TestPathsStayInside(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	run := runOurs(t, front.URL)
	before := tree(t, dir)
	for _, path := range []string{
		"/static/..%2fservice.go", "/static/%2e%2e%2fservice.go", "/run/..%2f..%2fnotebooks/notebook.md", "/run/%2e%2e/page.html",
		run + "/tables/..%2frun.json", run + "/tables/..%2f..%2f..%2fservice.key.csv", run + "/tables/..%5crun.json",
		"/notebook/..%2f..%2fetc%2fpasswd", "/edit/..%2fservice.key", "/notebook/NOTATION", "/order/AAAA", "/order/..%2f..", "/form/%00", "/run/" + run + "/table/%00.csv", "/run/" + run + "/%00",
		"/run/" + strings.Repeat("a", 5000) + "/page.html",
	} {
		status, text := ask(t, front.URL, nil, "GET", path, "")
		assert.Contains(t, []int{404, 400, 414}, status, path)
		hasNot(t, text, "package service")
	}
	for _, name := range []string{"../evil", "..", "a/b", `a\b`, "service.key", "A", "", "con.md", strings.Repeat("a", 200), "a\x00b"} {
		status, _ := ask(t, front.URL, nil, "POST", "/edit/new", url.Values{"do": {"save"}, "name": {name}, "text": {"x"}}.Encode())
		if name != "" { // an empty name means the one in the address
			assert.Equal(t, 422, status, "%q", name)
		}
	}
	after := tree(t, dir)
	assert.Len(t, after, len(before)+2, "the notebook called new, and its audit line's file")
}

// A request that is too large is refused, whether it says its size or not: a form that says
// it and an upload that does not; with CI=true all that take forms or files.
func TestOversizeIsRefused(t *testing.T) {
	t.Parallel()
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	before := tree(t, dir)
	cases := []struct {
		path    string
		size    int
		chunked bool
	}{
		{"/edit/ours", maxForm + 1, false}, {uploadPath, maxUpload + 1, true},
		{"/edit/ours", maxForm + 1, true}, {uploadPath, maxUpload + 1, false},
		{"/desk", maxForm + 1, false}, {spreadsheetsPath, maxUpload + 1, true},
		{"/desk", maxForm + 1, true}, {spreadsheetsPath, maxUpload + 1, false},
	}
	for _, c := range cases[:breadth.Few(2, len(cases))] {
		status, text := ask(t, front.URL, func(r *http.Request) {
			if c.chunked {
				r.ContentLength = -1
			}
			if c.path == uploadPath || c.path == spreadsheetsPath {
				r.Header.Set("Content-Type", "multipart/form-data; boundary=b")
			}
		}, "POST", c.path, "--b\r\nContent-Disposition: form-data; name=\"sheets\"; filename=\"orders.csv\"\r\n\r\n"+strings.Repeat("a", c.size))
		assert.Equal(t, 413, status, "%s, chunked: %t", c.path, c.chunked)
		has(t, text, "MiB taken at once")
	}
	status, text := ask(t, front.URL, nil, "POST", "/desk", "form_id="+strings.Repeat("a", 4001))
	assert.Equal(t, 400, status)
	has(t, text, "4,000 characters in a field")
	assert.Equal(t, before, tree(t, dir))
}

func TestScriptInNotebooksAndParametersStaysText(t *testing.T) {
	_, front, _ := serve(t, &fakeShop{hash: "h"}, nil)
	evil := "---\ntitle: <script>t()</script>\nfor: <img src=x onerror=f()>\nparameters:\n  - {name: who, type: text, default: x, label: '\"><script>l()</script>'}\n---\n<script>p()</script>\n\n[a](javascript:alert(1)) [b](value:who) [c](data:text/html,x) ![i](http://evil.example/x.png) <svg onload=s()>\n\n```sql name=q caption=\"<script>c()</script>\"\nselect '<script>'\n```\n"
	status, _, _ := post(t, front.URL+"/edit/evil", url.Values{"do": {"save"}, "text": {evil}})
	require.Equal(t, 200, status)
	pages := []string{mustGet(t, front.URL+"/"), mustGet(t, front.URL+"/notebooks"), mustGet(t, front.URL+"/notebook/evil"), mustGet(t, front.URL+"/edit/evil")}
	status, text, path := post(t, front.URL+"/notebook/evil/run", url.Values{"who": {`"><svg/onload=w()>`}})
	require.Equal(t, 200, status, text)
	pages = append(pages, text, mustGet(t, front.URL+path+"/page.html"), mustGet(t, front.URL+"/runs"))
	_, text, _ = post(t, front.URL+"/edit/evil", url.Values{"do": {"preview"}, "text": {evil}})
	pages = append(pages, text)
	for _, text := range pages {
		low := strings.ToLower(strings.ReplaceAll(text, `<script src="/static/service.js" defer></script>`, ""))
		for _, bad := range []string{"<script", "<img", "<svg onload", "<svg/onload", `href="javascript:`, `href="data:`, "src=\"http"} {
			hasNot(t, low, bad)
		}
	}
}

func TestNoIDStandsInAnAddressOrLog(t *testing.T) {
	s, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	_, _, path := post(t, front.URL+"/find", url.Values{"order": {"order <1>"}})
	assert.True(t, strings.HasPrefix(path, "/order/"), path)
	assert.NotContains(t, path, "order%20")
	id, ok := s.handles.ID("order", strings.TrimPrefix(path, "/order/"))
	assert.True(t, ok)
	assert.Equal(t, "order <1>", id)
	_, ok = s.handles.ID("form", strings.TrimPrefix(path, "/order/"))
	assert.False(t, ok, "a word for an order opens no form")
	for _, line := range tree(t, dir) {
		assert.NotContains(t, line, "order <1>")
	}
}

func TestServeRefusesAnOpenAddressWithoutToken(t *testing.T) {
	for _, addr := range []string{"192.168.1.5:80", "0.0.0.0:80", ":80", "workshop:80"} {
		_, err := New(Config{Addr: addr, Names: []string{"shop.lan"}, Dir: t.TempDir()})
		assert.ErrorContains(t, err, "needs a token", addr)
	}
	_, err := New(Config{Addr: "0.0.0.0:80", Tokens: []access.Token{access.NewToken("a", access.Reader)}, Dir: t.TempDir()})
	assert.ErrorContains(t, err, "needs the names")
	_, err = New(Config{Addr: "127.0.0.1:80", Tokens: []access.Token{{Name: "a", Role: access.Reader, Secret: "short"}}, Dir: t.TempDir()})
	assert.ErrorContains(t, err, "shorter than")
}

func TestServeEndsWithItsContext(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s, _, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) { c.Addr = l.Addr().String() })
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l, "", "") }()
	status, _ := get(t, "http://"+l.Addr().String()+"/")
	assert.Equal(t, 200, status)
	cancel()
	assert.NoError(t, <-done)
}
