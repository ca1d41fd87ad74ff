package people

import (
	"bytes"
	"context"
	"errors"
	"html/template"
	"net/http"
	"net/http/httptest"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
)

// shown is a host that keeps the body it is to show.
type shown struct{ body string }

func (s *shown) Show(w http.ResponseWriter, _ *http.Request, status int, _ string, body template.HTML) {
	s.body = string(body)
	w.WriteHeader(status)
}
func (*shown) Visitor(*http.Request) access.Visitor              { return access.Visitor{} }
func (*shown) Audit(*http.Request, string, string, string) error { return nil }
func (*shown) Language(*http.Request) string                     { return "en" }
func (*shown) Root() *os.Root                                    { return nil }
func (*shown) Now() time.Time                                    { return time.Time{} }
func (*shown) Load(http.ResponseWriter, *http.Request, string, string, func(*os.Root) error, func() error) error {
	return errors.New("nothing is loaded here")
}

type shop struct{ none bool }

func (s shop) Exists() bool { return !s.none }
func (shop) Measurers(context.Context) (measurers.Comparison, error) {
	return measurers.Comparison{Measurers: []measurers.Measurer{{ID: "Anna <1>"}, {ID: "Berta"}}}, nil
}
func (shop) Repeats(context.Context) (repeatability.Study, error) { return repeatability.Of(nil), nil }
func (shop) Word(kind, id string) string                          { return kind[:1] + id[:1] }
func (shop) ID(kind, word string) (string, bool) {
	id, ok := map[string]string{"mA": "Anna <1>", "mB": "Berta", "mC": "Carla"}[word]
	return id, ok && kind == "measurer"
}
func (shop) Link(*http.Request) page.Link { return nil }
func (shop) Behind(http.ResponseWriter, *http.Request, *page.Document) (bool, error) {
	return false, nil
}
func (shop) Whole(_ *http.Request, d *page.Document) (template.HTML, error) {
	var b bytes.Buffer
	err := page.BodyHTML(&b, d, nil)
	return template.HTML(b.String()), err
}

func get(t *testing.T, s shop, path string) (string, error) {
	host := &shown{}
	mux, failed := http.NewServeMux(), error(nil)
	for _, r := range (&Pages{Host: host, Shop: s}).Routes() {
		require.Equal(t, access.Reader, r.Role)
		mux.HandleFunc(r.Pattern, func(w http.ResponseWriter, req *http.Request) { failed = r.Handler(w, req) })
	}
	mux.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, path, nil))
	return host.body, failed
}

// A name is chosen from a list, by its word; ids are no part of an address, and are
// escaped where they are shown. The page to hand over names nobody else.
func TestPages(t *testing.T) {
	all, err := get(t, shop{}, "/measurers")
	require.NoError(t, err)
	assert.Contains(t, all, `<a href="/measurers/mA">Anna &lt;1&gt;</a>`)
	assert.Contains(t, all, `<a href="/measurers/mB">Berta</a>`)

	one, err := get(t, shop{}, "/measurers/mB")
	require.NoError(t, err)
	assert.Contains(t, one, "Measurer Berta")
	assert.Contains(t, one, `href="/measurers/mB" aria-current="page"`)
	assert.Contains(t, one, `href="/measurers/mB/hand-over"`)

	hand, err := get(t, shop{}, "/measurers/mB/hand-over")
	require.NoError(t, err)
	assert.Contains(t, hand, "For Berta")
	assert.NotContains(t, hand, "Anna")

	sessions, err := get(t, shop{}, "/measurers/sessions")
	require.NoError(t, err)
	assert.Contains(t, sessions, "No training session is in the book")
}

func TestNobody(t *testing.T) {
	for _, path := range []string{"/measurers/mC", "/measurers/nothing", "/measurers/mC/hand-over"} {
		_, err := get(t, shop{}, path)
		var p *topic.Problem
		require.ErrorAs(t, err, &p, path)
		assert.Equal(t, http.StatusNotFound, p.Status)
	}
	for _, path := range []string{"/measurers", "/measurers/mB", "/measurers/sessions"} {
		_, err := get(t, shop{none: true}, path)
		var p *topic.Problem
		require.ErrorAs(t, err, &p, path)
		assert.Equal(t, http.StatusConflict, p.Status)
	}
}
