package service

import (
	"bytes"
	"io/fs"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/textproto"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/notebooks/service/access"
)

// send uploads files under the names they are given, with folders, and goes where
// that leads.
func send(t *testing.T, to string, fields map[string]string, files ...string) (int, string, string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, f := range files {
		name, text, _ := strings.Cut(f, "=")
		part, err := w.CreatePart(textproto.MIMEHeader{"Content-Disposition": {`form-data; name="files"; filename="` + name + `"`}})
		require.NoError(t, err)
		_, err = part.Write([]byte(text))
		require.NoError(t, err)
	}
	for name, value := range fields {
		require.NoError(t, w.WriteField(name, value))
	}
	require.NoError(t, w.Close())
	res, err := http.Post(to, w.FormDataContentType(), &b)
	require.NoError(t, err)
	status, text := bodyText(t, res)
	return status, text, res.Request.URL.Path
}

// waiting are the files of all uploads, by their path in the service's folder.
func waiting(t *testing.T, dir string) (files []string) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(dir, "incoming"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		require.NoError(t, err)
		assert.Equal(t, fs.FileMode(0o600), info.Mode().Perm(), path)
		rel, _ := filepath.Rel(dir, path)
		if d.Name() != "upload.json" {
			files = append(files, regexp.MustCompile(`[A-Z2-7]{26}`).ReplaceAllString(filepath.ToSlash(rel), "ID"))
		}
		return err
	})
	if !os.IsNotExist(err) {
		require.NoError(t, err)
	}
	return files
}

// The whole way without a script: sent, answered from a list, tried, loaded and
// kept; next month's file by the kept layout.
func TestSpreadsheetsFromListsToTheBook(t *testing.T) {
	shop := &fakeShop{hash: "h", none: true}
	_, front, dir := serve(t, shop, nil)
	status, text, path := send(t, front.URL+"/spreadsheets", map[string]string{"layout": ""}, "2022/orders.csv=a", "2023/orders.csv=b", "2023/notes.md=c", "2023/.DS_Store=d")
	require.Equal(t, 200, status, text)
	require.Regexp(t, `^/spreadsheets/[A-Z2-7]{26}$`, path)
	assert.Equal(t, []string{"incoming/ID/files/1/2022/orders.csv", "incoming/ID/files/1/2023/orders.csv"}, waiting(t, dir))
	has(t, text, "No table can be used yet")
	has(t, text, "notes.md is no spreadsheet")
	has(t, text, "&lt;b&gt;7&lt;/b&gt;")
	has(t, text, `name="chosen:ledger&lt;1&gt;|Wer|is"`)
	has(t, text, `<optgroup label="Order">`)

	status, _, _ = send(t, front.URL+path+"/files", nil, "orders.csv=c", "orders.csv=d")
	assert.Equal(t, 400, status)
	assert.Len(t, waiting(t, dir), 2, "of a batch that does not come whole nothing stays")
	_, text, more := send(t, front.URL+path+"/files", nil, "orders.csv=c")
	assert.Equal(t, path, more)
	assert.Equal(t, 3, strings.Count(text, "seen: orders.csv"), "a second file of the same name stands beside the first")

	_, text, _ = post(t, front.URL+path, url.Values{"do": {"try"}})
	has(t, text, "No table is used yet")
	_, text, _ = post(t, front.URL+path, url.Values{"do": {"look"}, "chosen:ledger<1>|Wer|is": {"customer"}, "add:ledger<1>|Wer|says ": {"neu"}, "means:ledger<1>|Wer|says ": {"remade"}})
	has(t, text, "Nothing is left to ask")
	has(t, text, `<option value="customer" selected>`)
	text = mustGet(t, front.URL+path+"/mapping.yaml")
	assert.Equal(t, "Wer means customer, remade", text)

	status, _, _ = post(t, front.URL+path+"/load", nil)
	assert.Equal(t, 409, status, "what was not tried is not loaded")
	_, text, at := post(t, front.URL+path, url.Values{"do": {"try"}, "chosen:ledger<1>|Wer|is": {"customer"}})
	assert.Equal(t, path+"/tried", at)
	has(t, text, "A trial by Wer means customer")
	assert.Nil(t, shop.loaded, "trying loads nothing")

	status, _, _ = post(t, front.URL+path+"/load", url.Values{"name": {"../x"}})
	assert.Equal(t, 400, status)
	_, text, at = post(t, front.URL+path+"/load", url.Values{"name": {"Our ledger"}})
	assert.Regexp(t, `^/job/.*/loaded$`, at)
	has(t, text, "The rows kept out, as CSV")
	assert.Equal(t, "Wer means customer, remade", shop.by)
	assert.Empty(t, waiting(t, dir), "what is loaded does not lie about")
	status, _ = get(t, front.URL+path)
	assert.Equal(t, 404, status)

	text = mustGet(t, front.URL+"/sheets")
	has(t, text, "the layout Our ledger")
	assert.Equal(t, "Wer means customer, remade", mustGet(t, front.URL+"/layouts/Our%20ledger/mapping.yaml"))
	_, text, at = send(t, front.URL+"/spreadsheets", map[string]string{"layout": "Our ledger"}, "2024.xlsx=d")
	assert.Regexp(t, `/tried$`, at)
	has(t, text, "Read by the layout Our ledger")
	has(t, text, "A trial by Wer means customer, remade")
	_, text, _ = post(t, front.URL+strings.TrimSuffix(at, "/tried")+"/load", nil)
	has(t, text, "What was loaded")
	assert.Equal(t, []string{"2024.xlsx"}, shop.loaded)

	post(t, front.URL+"/layouts/Our%20ledger/drop", nil)
	hasNot(t, mustGet(t, front.URL+"/sheets"), "Our ledger")
	left, err := os.ReadDir(filepath.Join(dir, "layouts"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestSpreadsheetsThatAreNotTaken(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	for name, want := range map[string]string{
		"":                                  "Choose at least one spreadsheet",
		"notes.md=x":                        "Choose at least one spreadsheet",
		"../../evil.csv=x":                  "a name that can",
		`..\\evil.csv=x`:                    "a name that can",
		"a\tb.csv=x":                        "a name that can",
		strings.Repeat("a", 200) + ".csv=x": "a name that can",
	} {
		status, text, _ := send(t, front.URL+"/spreadsheets", nil, name)
		assert.Equal(t, 400, status, name)
		has(t, text, want)
		assert.Empty(t, waiting(t, dir), name)
	}
	status, text, _ := send(t, front.URL+"/spreadsheets", nil, "a.csv=1", "a.csv=2")
	assert.Equal(t, 400, status)
	has(t, text, "Two of the files are called a.csv")
	many := make([]string, 33)
	for i := range many {
		many[i] = strings.Repeat("a", i+1) + ".csv=x"
	}
	status, text, _ = send(t, front.URL+"/spreadsheets", nil, many...)
	assert.Equal(t, 400, status)
	has(t, text, "At most 32 spreadsheets")
	status, _, _ = send(t, front.URL+"/spreadsheets", map[string]string{"layout": "none such"}, "a.csv=1")
	assert.Equal(t, 404, status)
	assert.Empty(t, waiting(t, dir))
	for _, id := range []string{"x", "..", "%2e%2e", strings.Repeat("A", 26)} {
		status, _ := get(t, front.URL+"/spreadsheets/"+id+"/tried")
		assert.Equal(t, 404, status, id)
	}
}

// A load that took nothing leaves the spreadsheets for other answers, and keeps
// no layout.
func TestALoadOfNothingLeavesTheSpreadsheets(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	_, _, path := send(t, front.URL+"/spreadsheets", nil, "a.csv=1")
	_, _, at := post(t, front.URL+path, url.Values{"do": {"try"}, "chosen:ledger<1>|Wer|is": {"unreadable"}})
	require.Equal(t, path+"/tried", at)
	post(t, front.URL+path+"/load", url.Values{"name": {"Ours"}})
	_, text, _ := post(t, front.URL+path, url.Values{"do": {"try"}, "add:ledger<1>|Wer|says ": {"neu"}, "means:ledger<1>|Wer|says ": {"no order"}})
	has(t, text, "So it can't be loaded")
	status, _, _ := post(t, front.URL+path+"/load", nil)
	assert.Equal(t, 409, status)
	assert.Len(t, waiting(t, dir), 1)
	assert.NoDirExists(t, filepath.Join(dir, "layouts"))
	_, _, at = post(t, front.URL+path+"/drop", nil)
	assert.Equal(t, "/sheets", at)
	assert.Empty(t, waiting(t, dir))
}

// An upload outlives the service, and goes when nobody comes back to it.
func TestUploadsWaitForADay(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, nil)
	_, _, path := send(t, front.URL+"/spreadsheets", nil, "a.csv=1")
	post(t, front.URL+path, url.Values{"chosen:ledger<1>|Wer|is": {"customer"}})
	for _, after := range []time.Duration{time.Hour, 25 * time.Hour} {
		_, again, _ := serve(t, &fakeShop{hash: "h"}, func(c *Config) {
			c.Dir, c.Clock = dir, func() time.Time { return time.Now().Add(after) }
		})
		status, text := get(t, again.URL+path)
		if after < 24*time.Hour {
			has(t, text, "Nothing is left to ask")
			_, _, at := post(t, again.URL+path, url.Values{"do": {"try"}})
			assert.Equal(t, path+"/tried", at)
			continue
		}
		assert.Equal(t, 404, status)
		has(t, text, "waited for a day")
		assert.Empty(t, waiting(t, dir))
	}
}

func TestSpreadsheetsAreForEditors(t *testing.T) {
	_, front, dir := serve(t, &fakeShop{hash: "h"}, func(c *Config) {
		c.Tokens = []access.Token{{Name: "Ann", Role: access.Reader, Secret: strings.Repeat("r", 20)}}
	})
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := &http.Client{Jar: jar}
	res, err := c.PostForm(front.URL+"/enter", url.Values{"token": {strings.Repeat("r", 20)}})
	require.NoError(t, err)
	res.Body.Close()
	res, err = c.PostForm(front.URL+"/spreadsheets", nil)
	require.NoError(t, err)
	status, text := bodyText(t, res)
	assert.Equal(t, 403, status)
	has(t, text, "not change anything")
	assert.NoDirExists(t, filepath.Join(dir, "incoming"))
}
