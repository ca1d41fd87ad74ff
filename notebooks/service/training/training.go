// Package training holds the pages of practice and of measuring sessions.
//
//  1. Practice: a learner begins a round (a set of invented forms by its number, or
//     one made of what the learner misses), says of one form after another what to
//     do and what is wrong, and is shown the truth after each. The answers are kept
//     in the learner's own file (notebooks/learners).
//  2. A round that is answered is marked; the learner's page shows the course over
//     sets, and whether practice goes with better forms later.
//  3. A measuring session: the order is drawn, each writes blind on a page of their
//     own, all is shown beside the instructor's and loaded as the repeats sheet
//     (notebooks/sessions, analysis/session, reports/taping).
//  4. Old forms are the second kind: real ones of the book, with what the shop did
//     and what became of the order. Nothing is kept of them.
package training

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"html/template"
	"io"
	"net/http"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/notebooks/journal"
	"lastroom/notebooks/learners"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/notebooks/sessions"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{"inc": func(i int) int { return i + 1 }}).ParseFS(templateFiles, "templates/*.tmpl"))

// A Shop is what training asks of the workshop's book.
type Shop interface {
	// OldForm deals a form of an old order whose outcome is known, under the
	// order's word in addresses; without faults or outcome.
	OldForm(ctx context.Context) (order string, body template.HTML, err error)
	// OldOutcome is what became of that order, and its id.
	OldOutcome(ctx context.Context, order string) (id string, body template.HTML, err error)
	// Cohort are the book's orders; nil where there is no book.
	Cohort(ctx context.Context) (*cohort.Cohort, error)
	// SessionIDs are the measuring sessions that the book has.
	SessionIDs(ctx context.Context) ([]string, error)
	// Heights are the heights at which the shop takes leg girths, lowest first.
	Heights(ctx context.Context) ([]form.Height, error)
	// Length reads a length as typed in, in mm; unit is taken where it names none.
	Length(text string, unit form.Unit) (float64, error)
}

// Pages are the pages of training.
type Pages struct {
	host     topic.Host
	shop     Shop
	learners *learners.Store
	sessions *sessions.Store
}

// New makes the pages.
func New(host topic.Host, shop Shop) *Pages {
	return &Pages{host: host, shop: shop, learners: learners.NewStore(host.Root(), host.Now), sessions: sessions.NewStore(host.Root(), host.Now)}
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /practice", Role: access.Reader, Handler: p.start},
		{Pattern: "POST /practice", Role: access.Reader, Handler: p.begin},
		{Pattern: "GET /practice/old", Role: access.Reader, Handler: p.old},
		{Pattern: "POST /practice/old", Role: access.Reader, Handler: p.oldAnswered},
		{Pattern: "GET /practice/print", Role: access.Reader, Handler: p.print},
		{Pattern: "GET /practice/class", Role: access.Reader, Handler: p.class},
		{Pattern: "GET /practice/{learner}", Role: access.Reader, Handler: p.learner},
		{Pattern: "POST /practice/{learner}/forget", Role: access.Editor, Handler: p.forget},
		{Pattern: "GET /practice/{learner}/{round}", Role: access.Reader, Handler: p.next},
		{Pattern: "POST /practice/{learner}/{round}", Role: access.Reader, Handler: p.answer},
		{Pattern: "GET /practice/{learner}/{round}/{exercise}", Role: access.Reader, Handler: p.truth},
		{Pattern: "GET /session", Role: access.Reader, Handler: p.sessionList},
		{Pattern: "POST /session", Role: access.Reader, Handler: p.sessionBegin},
		{Pattern: "GET /session/{session}", Role: access.Reader, Handler: p.session},
		{Pattern: "GET /session/{session}/sheets", Role: access.Reader, Handler: p.sessionSheets},
		{Pattern: "GET /session/{session}/at/{door}", Role: access.Reader, Handler: p.entry},
		{Pattern: "POST /session/{session}/at/{door}", Role: access.Reader, Handler: p.write},
		{Pattern: "POST /session/{session}/close", Role: access.Reader, Handler: p.sessionClose},
		{Pattern: "GET /session/{session}/repeats.csv", Role: access.Reader, Handler: p.sessionCSV},
		{Pattern: "GET /session/{session}/result/{person}", Role: access.Reader, Handler: p.sessionResult},
		{Pattern: "POST /session/{session}/save", Role: access.Editor, Handler: p.sessionSave},
		{Pattern: "POST /session/{session}/drop", Role: access.Editor, Handler: p.sessionDrop},
		{Pattern: "GET /teaching", Role: access.Reader, Handler: p.teaching},
		{Pattern: "GET /teaching/{fault}", Role: access.Reader, Handler: p.teaching},
	}
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, name, title string, data any) error {
	return topic.Show(p.host, w, r, topic.View{Status: http.StatusOK, Title: title, Templates: templates, Name: name, Data: data})
}

// again shows a page on which what was sent could not be taken, and says why; "": nothing was sent.
func (p *Pages) again(w http.ResponseWriter, r *http.Request, name, title, problem string, data any) error {
	status := http.StatusOK
	if problem != "" {
		status = http.StatusUnprocessableEntity
	}
	return topic.Show(p.host, w, r, topic.View{Status: status, Title: title, Templates: templates, Name: name, Data: data})
}

// blocks are blocks of a document inside a page.
func blocks(list []page.Block) (template.HTML, error) {
	var b bytes.Buffer
	for _, one := range list {
		if err := page.BlockHTML(&b, one, nil); err != nil {
			return "", err
		}
	}
	return template.HTML(b.String()), nil
}

// sendPrint sends a page to print. It brings its own style, and a policy inside it
// that allows that style alone; nothing else may be in it.
func sendPrint(w http.ResponseWriter, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	_, err := w.Write(b.Bytes())
	return err
}

// paperOf is the paper that a form names, A4 where it names none.
func paperOf(r *http.Request) (sheet.Paper, error) {
	name := r.FormValue("paper")
	for _, p := range sheet.Papers {
		if p.Name == name || name == "" {
			return p, nil
		}
	}
	return sheet.Paper{}, topic.BadRequest("There is no such paper.")
}

// whole reads a whole number of a form within bounds; usual is taken where the form
// has none.
func whole(r *http.Request, name string, low, high uint64, usual, words string) (uint64, error) {
	n, err := strconv.ParseUint(cmp.Or(strings.TrimSpace(r.FormValue(name)), usual), 10, 64)
	if err != nil || n < low || n > high {
		return 0, topic.BadRequest(words)
	}
	return n, nil
}

// gone gives a record that is not there its page.
func gone(err error) error {
	if errors.Is(err, journal.ErrNone) {
		return topic.NotFound("There is no such learner or session here (any more).")
	}
	return err
}
