package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"

	"lastroom/notebooks/service/help"
	"lastroom/reports/page"
)

// A count leads to the orders or forms behind it. On a kept run, and on a page that is
// made anew each time, its address holds no id of the book, only a key by which the
// document is looked through again: so it can be kept, and opens as long as the count stands.

// linkIn makes the addresses of what stands behind the counts of a document; those of
// lists begin with behind, "" where it has none.
func (s *Server) linkIn(behind string) page.Link {
	return func(ref page.Ref) string {
		if len(ref.IDs) == 0 {
			return ""
		}
		switch ref.Kind {
		case "order", "form", "measurer":
			if len(ref.IDs) == 1 {
				return map[string]string{"order": "/order/", "form": "/form/", "measurer": "/measurers/"}[ref.Kind] + s.handles.Word(ref.Kind, ref.IDs[0])
			}
		case "orders", "forms":
			if behind != "" {
				return behind + refKey(ref)
			}
		}
		return ""
	}
}

// behindRun is where the lists of a kept run lie.
func behindRun(run string) string { return "/run/" + run + "/behind/" }

// behindPage is where the lists of the page that is asked for lie: at its own address.
func behindPage(r *http.Request) string {
	q := r.URL.Query()
	if q.Del("behind"); len(q) == 0 {
		return r.URL.Path + "?behind="
	}
	return r.URL.Path + "?" + q.Encode() + "&behind="
}

// pageItself is the address of the page to which a list belongs.
func pageItself(r *http.Request) string {
	q := r.URL.Query()
	if q.Del("behind"); len(q) == 0 {
		return r.URL.Path
	}
	return r.URL.Path + "?" + q.Encode()
}

// behind lists the orders or forms behind a count of a run.
func (s *Server) behind(w http.ResponseWriter, r *http.Request) error {
	rec, err := s.store.Record(r.PathValue("run"))
	if err != nil {
		return err
	}
	sp, err := s.stored(rec)
	if err != nil {
		return err
	}
	return s.listBehind(w, r, sp.doc, rec.ID, r.PathValue("ref"), documentPage{Back: "/run/" + rec.ID, BackTo: "Back to the run"})
}

// Link makes the addresses of what stands behind the counts of a page.
func (h host) Link(r *http.Request) page.Link { return h.s.linkIn(behindPage(r)) }

// Behind shows the list behind a count of a page's document instead of the page, where
// the address asks for one.
func (h host) Behind(w http.ResponseWriter, r *http.Request, d *page.Document) (shown bool, err error) {
	key := r.URL.Query().Get("behind")
	if key == "" {
		return false, nil
	}
	return true, h.s.listBehind(w, r, d, pageItself(r), key, documentPage{Back: pageItself(r), BackTo: "Back to the page"})
}

// listBehind shows the list behind the count of a document that has a key. It is kept for
// the state of the book, under the document's name.
func (s *Server) listBehind(w http.ResponseWriter, r *http.Request, d *page.Document, name, key string, p documentPage) error {
	ref, ok := findRef(d, key)
	if !ok {
		return notFound("That count does not stand there any more.")
	}
	facts, err := s.cfg.Workshop.State(r.Context())
	if err != nil {
		return err
	}
	at := s.lists.of(name+" "+key, facts.Hash)
	at.once.Do(func() {
		var hash string
		at.doc, hash, at.err = s.listOf(context.WithoutCancel(r.Context()), d, ref)
		if at.err == nil {
			at.body, at.err = bodyOf(at.doc, s.linkIn(""))
			at.body = help.Linked(at.body)
		}
		if at.err != nil || hash != facts.Hash {
			s.lists.drop(name + " " + key)
		}
	})
	if at.err != nil {
		return at.err
	}
	p.Body = at.body
	s.render(w, r, http.StatusOK, "document", at.doc.Title, p)
	return nil
}

func (s *Server) listOf(ctx context.Context, of *page.Document, ref page.Ref) (*page.Document, string, error) {
	list, title, lead := s.cfg.Workshop.Orders, "The orders behind a count", page.Counted(len(ref.IDs), "order stands", "orders stand")
	if ref.Kind == "forms" {
		list, title, lead = s.cfg.Workshop.Forms, "The forms behind a count", page.Counted(len(ref.IDs), "form stands", "forms stand")
	}
	t, hash, err := list(ctx, ref.IDs)
	return &page.Document{Title: title, Provenance: of.Provenance, Lead: lead + " behind this count.",
		Sections: []page.Section{{Blocks: []page.Block{t}}}}, hash, err
}

// refKey names a Ref within a document.
func refKey(ref page.Ref) string {
	h := sha256.New()
	for _, id := range ref.IDs {
		h.Write([]byte(id + "\x00"))
	}
	return hex.EncodeToString(h.Sum(nil))[:20]
}

// findRef looks a list up in a document by its key.
func findRef(d *page.Document, key string) (page.Ref, bool) {
	var found page.Ref
	look := func(r page.Ref) {
		if found.Kind == "" && (r.Kind == "orders" || r.Kind == "forms") && len(r.IDs) > 0 && refKey(r) == key {
			found = r
		}
	}
	for _, sec := range d.Sections {
		for _, b := range sec.Blocks {
			switch b := b.(type) {
			case page.Finding:
				look(b.Orders)
			case page.Table:
				lookIn(b, look)
			case page.Figure:
				lookIn(b.Data, look)
			}
		}
	}
	return found, found.Kind != ""
}

func lookIn(t page.Table, look func(page.Ref)) {
	for _, row := range t.Rows {
		for _, c := range row {
			look(c.Ref)
		}
	}
}
