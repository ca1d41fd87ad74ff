package service

import (
	"bytes"
	"html/template"
	"net/http"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/help"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
)

// rendered is a document as HTML for the inside of a page.
type rendered = template.HTML

func bodyOf(d *page.Document, link page.Link) (rendered, error) {
	var b bytes.Buffer
	err := page.BodyHTML(&b, d, link)
	return rendered(b.String()), err
}

// innerOf is bodyOf for a document inside a page that has a main part of its
// own: two of them would confuse a screen reader.
func innerOf(d *page.Document, link page.Link) (rendered, error) {
	body, err := bodyOf(d, link)
	return inside(body), err
}

func inside(body rendered) rendered {
	s := strings.Replace(string(body), `<main id="main" class="document">`, `<div class="document">`, 1)
	return rendered(strings.Replace(s, "</main>", "</div>", 1))
}

// pageCache keeps a few pages rendered: reading one again costs no more than
// sending it. A page is found by an id and the state it was made of.
type pageCache struct {
	most  int
	mu    sync.Mutex
	order []string
	by    map[string]*storedPage
}

type storedPage struct {
	once  sync.Once // readers who come at the same time wait for one rendering
	err   error
	state string
	doc   *page.Document
	body  rendered
}

// A run's page is half a megabyte, an order's a tenth of that.
const (
	mostRunPages   = 24
	mostOrderPages = 250
)

// of is the place of a page, empty or filled.
func (c *pageCache) of(id, state string) *storedPage {
	c.mu.Lock()
	defer c.mu.Unlock()
	if p := c.by[id]; p != nil && p.state == state {
		return p
	}
	if c.by == nil {
		c.by = map[string]*storedPage{}
	}
	if c.by[id] == nil {
		c.order = append(c.order, id)
	}
	p := &storedPage{state: state}
	c.by[id] = p
	if len(c.order) > c.most {
		delete(c.by, c.order[0])
		c.order = c.order[1:]
	}
	return p
}

// drop forgets a page that could not be made.
func (c *pageCache) drop(id string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.by[id] != nil {
		c.by[id] = &storedPage{}
	}
}

// stored is a run's document and its page.
func (s *Server) stored(rec archive.Record) (*storedPage, error) {
	p := s.pages.of(rec.ID, rec.Finished.String())
	p.once.Do(func() {
		if p.doc, p.err = s.store.Document(rec.ID); p.err != nil {
			p.err = newProblem(http.StatusGone, form.Capitalised(p.err.Error())+".", p.err)
		} else {
			p.body, p.err = bodyOf(p.doc, s.linkIn(behindRun(rec.ID)))
			p.body = help.Linked(p.body)
		}
		if p.err != nil {
			s.pages.drop(rec.ID)
		}
	})
	return p, p.err
}

type runPage struct {
	runLine
	Body    rendered
	Others  []runLine // of the same notebook, for comparing
	Sources string
	Editor  bool
}

func (s *Server) run(w http.ResponseWriter, r *http.Request) error {
	rec, err := s.store.Record(r.PathValue("run"))
	if err != nil {
		return err
	}
	sp, err := s.stored(rec)
	if err != nil {
		return err
	}
	facts, err := s.cfg.Workshop.State(r.Context())
	if err != nil {
		return err
	}
	p := runPage{runLine: runLine{rec, s.stale(rec, facts, s.digest(rec.Notebook))}, Body: sp.body, Editor: visitorOf(r).Role == access.Editor}
	lines, err := s.runLines(facts)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l.Notebook == rec.Notebook && l.ID != rec.ID && !l.Failed() {
			p.Others = append(p.Others, l)
		}
	}
	src, err := s.store.File(rec.ID, "notebook.md")
	if err != nil {
		return err
	}
	p.Sources = string(src)
	s.render(w, r, http.StatusOK, "run", rec.Title, p)
	return nil
}

type runsPage struct{ Runs []runLine }

func (s *Server) runs(w http.ResponseWriter, r *http.Request) error {
	var facts notebooks.Facts
	if s.cfg.Workshop.Exists() {
		var err error
		if facts, err = s.cfg.Workshop.State(r.Context()); err != nil {
			return err
		}
	}
	lines, err := s.runLines(facts)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "runs", "Runs", runsPage{lines})
	return nil
}

// runPage sends the offline page. Its own policy stands inside it.
func (s *Server) runPage(w http.ResponseWriter, r *http.Request) error {
	b, err := s.store.File(r.PathValue("run"), "page.html")
	if err != nil {
		return err
	}
	return download(w, "text/html; charset=utf-8", r.PathValue("run")+".html", b)
}

func (s *Server) runFile(name, typ string) topic.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		b, err := s.store.File(r.PathValue("run"), name)
		if err != nil {
			return err
		}
		return download(w, typ, r.PathValue("run")+name[strings.LastIndexByte(name, '.'):], b)
	}
}

func (s *Server) runTable(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("table")
	if strings.ContainsAny(name, `/\`) || !strings.HasSuffix(name, ".csv") {
		return notFound("There is no such table.")
	}
	b, err := s.store.File(r.PathValue("run"), "tables/"+name)
	if err != nil {
		return err
	}
	return download(w, "text/csv; charset=utf-8", r.PathValue("run")+"-"+name, b)
}

// download sends a file to be kept, never to be shown inside the service.
func download(w http.ResponseWriter, typ, name string, b []byte) error {
	w.Header().Set("Content-Type", typ)
	w.Header().Set("Content-Disposition", `attachment; filename="`+strings.Map(plainFileRune, name)+`"`)
	_, err := w.Write(b)
	return err
}

func plainFileRune(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' || r == '.' {
		return r
	}
	return '_'
}

type documentPage struct {
	Back, BackTo string
	Body         rendered
}

// compare says what changed between two runs, and why.
func (s *Server) compare(w http.ResponseWriter, r *http.Request) error {
	before, err := s.store.Record(r.FormValue("before"))
	if err != nil {
		return err
	}
	after, err := s.store.Record(r.FormValue("after"))
	if err != nil {
		return err
	}
	if before.Notebook != after.Notebook {
		return badRequest("Only runs of the same notebook can be compared.")
	}
	if after.Finished.Before(before.Finished) {
		before, after = after, before
	}
	var ch cohort.Changes
	if s.cfg.Workshop.Exists() {
		src, err := s.cfg.Workshop.At(r.Context(), after.Facts.AsOf)
		if err != nil {
			return err
		}
		defer src.Close()
		if ch, err = src.Changes(r.Context(), before.Facts); err != nil {
			return err
		}
	}
	body, err := bodyOf(archive.Compare(before, after, ch), nil)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "document", "What changed", documentPage{"/run/" + after.ID, "Back to the run", body})
	return nil
}
