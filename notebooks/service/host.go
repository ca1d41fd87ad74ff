package service

import (
	"context"
	"crypto/rand"
	"errors"
	"html/template"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/finding"
	"lastroom/notebooks/service/jobs"
	"lastroom/notebooks/service/people"
	"lastroom/notebooks/service/rulebook"
	"lastroom/reports/page"
)

// host is what the server does for the pages of a topic.
type host struct{ s *Server }

func (h host) Show(w http.ResponseWriter, r *http.Request, status int, title string, body template.HTML) {
	h.s.frame(w, r, status, title, body)
}

func (h host) Visitor(r *http.Request) access.Visitor { return visitorOf(r) }
func (h host) Language(r *http.Request) string        { return h.s.tongueOf(r) }
func (h host) Root() *os.Root                         { return h.s.root }
func (h host) Now() time.Time                         { return h.s.cfg.Clock() }

func (h host) Audit(r *http.Request, did, what, outcome string) error {
	return h.s.audit(r, did, what, outcome)
}

func (h host) Load(w http.ResponseWriter, r *http.Request, title, back string, write func(dir *os.Root) error, loaded func() error) error {
	name := "incoming/" + rand.Text()
	if err := h.s.root.MkdirAll(name, 0o700); err != nil {
		return err
	}
	dir, err := h.s.root.OpenRoot(name)
	if err == nil {
		err = errors.Join(write(dir), dir.Close())
	}
	if err == nil {
		err = h.s.audit(r, "load sheets", title, "begun")
	}
	if err != nil {
		return errors.Join(err, h.s.root.RemoveAll(name))
	}
	return h.s.begin(w, r, &jobs.Job{Title: title, Back: back}, func(ctx context.Context, j *jobs.Job) (string, error) {
		defer h.s.root.RemoveAll(name)
		next, nothing, err := h.s.loadIn(ctx, j, Incoming{Dir: h.s.path(name)})
		if err == nil && !nothing {
			err = loaded()
		}
		return next, err
	})
}

// OldForm deals a form of an old order, under its order's word in addresses.
func (h host) OldForm(ctx context.Context) (order string, body template.HTML, err error) {
	id, d, err := h.s.cfg.Workshop.Exercise(ctx)
	if err != nil {
		return "", "", err
	}
	body, err = innerOf(d, nil)
	return h.s.handles.Word("order", id), body, err
}

// OldOutcome is what became of the order, and its id.
func (h host) OldOutcome(ctx context.Context, order string) (id string, body template.HTML, err error) {
	id, ok := h.s.handles.ID("order", order)
	if !ok {
		return "", "", notFound("That address opens no order of this book.")
	}
	p, err := h.s.orderPage(ctx, id)
	if err != nil {
		return "", "", err
	}
	return id, inside(p.body), nil
}

// learnt is what training asks of one state of the book, kept until there is a newer
// one: the pages are asked for often, the book is opened in tenths of a second.
type learnt struct {
	mu       sync.Mutex
	hash     string
	cohort   *cohort.Cohort
	sessions []string
}

// learn reads what is not known of the newest state of the book; nothing where there
// is no book.
func (h host) learn(ctx context.Context) (*cohort.Cohort, []string, error) {
	if !h.s.cfg.Workshop.Exists() {
		return nil, nil, nil
	}
	facts, err := h.s.cfg.Workshop.State(ctx)
	if err != nil {
		return nil, nil, err
	}
	k := &h.s.learnt
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.cohort != nil && k.hash == facts.Hash {
		return k.cohort, k.sessions, nil
	}
	src, err := h.s.cfg.Workshop.At(ctx, cohort.NoDay)
	if err != nil {
		return nil, nil, err
	}
	defer src.Close()
	c, err := src.Cohort(ctx)
	if err != nil {
		return nil, nil, err
	}
	repeats, err := src.Repeats(ctx)
	if err != nil {
		return nil, nil, err
	}
	var ids []string
	for _, r := range repeats {
		if !slices.Contains(ids, r.Session) {
			ids = append(ids, r.Session)
		}
	}
	k.hash, k.cohort, k.sessions = src.Facts().Hash, c, ids
	return c, ids, nil
}

// Cohort are the book's orders as they are now.
func (h host) Cohort(ctx context.Context) (*cohort.Cohort, error) {
	c, _, err := h.learn(ctx)
	return c, err
}

// SessionIDs are the measuring sessions of the book.
func (h host) SessionIDs(ctx context.Context) ([]string, error) {
	_, ids, err := h.learn(ctx)
	return ids, err
}

// Heights are those of the shop, or of the trade's common practice.
func (h host) Heights(ctx context.Context) ([]form.Height, error) {
	if h.s.cfg.Desk == nil {
		const tall = 24 * 25.4
		return form.DefaultScheme.Heights(tall), nil
	}
	return h.s.cfg.Desk.Heights(ctx)
}

func (h host) Length(text string, unit form.Unit) (float64, error) {
	return h.s.cfg.Workshop.Length(text, unit)
}

// rulebook are the pages of rules and decisions.
func (s *Server) rulebook() *rulebook.Pages {
	return &rulebook.Pages{Host: host{s}, Shop: ruling{s.cfg.Workshop, host{s}}, Ledger: s.decisions}
}

// people are the pages about those who measure.
func (s *Server) people() *people.Pages {
	return &people.Pages{Host: host{s}, Shop: struct {
		Workshop
		host
	}{s.cfg.Workshop, host{s}}}
}

// ruling is what the pages of rules ask of the workshop.
type ruling struct {
	Workshop
	host
}

func (h ruling) Runs() ([]archive.Record, error) { return h.s.store.List() }

func (h ruling) Try(ctx context.Context, r rules.Rule, success float64) (*page.Document, []archive.RecordValue, error) {
	d, values, err := h.TryRule(ctx, r, success)
	var kept []archive.RecordValue
	for _, v := range values {
		kept = append(kept, archive.ValueOf(v.Name, v))
	}
	return d, kept, err
}

// Part is a document as a part of the page, which has its own first heading.
func (h ruling) Part(r *http.Request, d *page.Document) (template.HTML, error) {
	body, err := innerOf(d, h.Link(r))
	return template.HTML(strings.NewReplacer("<h1>", "<h3>", "</h1>", "</h3>", "<h2", "<h4", "</h2>", "</h4>", "<aside ", "<section ", "</aside>", "</section>").Replace(string(body))), err
}

// finder is what finding asks of the workshop: of what is kept at the desk and not in
// the book yet too.
type finder struct {
	host
	Workshop
}

func (f finder) Find(ctx context.Context, text string) (finding.Found, error) {
	found, err := f.Workshop.Find(ctx, text)
	if err != nil || len(found.Matches) > 0 || f.s.cfg.Desk == nil {
		return found, err
	}
	open, err := f.s.cfg.Desk.Open(ctx)
	for _, k := range open {
		named := strings.EqualFold(k.Order, text)
		for _, of := range k.Forms {
			named = named || strings.EqualFold(of.ID, text)
		}
		if named || k.Customer != "" && strings.EqualFold(k.Customer, text) {
			found.Matches = append(found.Matches, finding.Match{Kind: finding.AtDesk, ID: k.Order})
		}
	}
	return found, err
}

func (h host) Word(kind, id string) string               { return h.s.handles.Word(kind, id) }
func (h host) ID(kind, word string) (id string, ok bool) { return h.s.handles.ID(kind, word) }

func (h host) Inner(d *page.Document) (template.HTML, error) { return innerOf(d, h.s.linkIn("")) }
func (h host) Whole(r *http.Request, d *page.Document) (template.HTML, error) {
	return bodyOf(d, h.Link(r))
}
