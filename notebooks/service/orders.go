package service

import (
	"context"
	"errors"
	"net/http"

	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/formdesk"
	"lastroom/notebooks/service/help"
	"lastroom/reports/page"
)

// behind lists the orders behind a count of a run.
func (s *Server) behind(w http.ResponseWriter, r *http.Request) error {
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
	key := rec.ID + " " + r.PathValue("ref")
	p := s.lists.of(key, facts.Hash)
	p.once.Do(func() {
		var hash string
		p.doc, hash, p.err = s.behindPage(context.WithoutCancel(r.Context()), rec, sp.doc, r.PathValue("ref"))
		if p.err == nil {
			p.body, p.err = bodyOf(p.doc, s.linkIn(""))
			p.body = help.Linked(p.body)
		}
		if p.err != nil || hash != facts.Hash {
			s.lists.drop(key)
		}
	})
	if p.err != nil {
		return p.err
	}
	s.render(w, r, http.StatusOK, "document", p.doc.Title, documentPage{"/run/" + rec.ID, "Back to the run", p.body})
	return nil
}

func (s *Server) behindPage(ctx context.Context, rec archive.Record, run *page.Document, key string) (d *page.Document, hash string, err error) {
	ref, ok := findRef(run, key)
	if !ok {
		return nil, "", notFound("That count is not in this run.")
	}
	t, hash, err := s.cfg.Workshop.Orders(ctx, ref.IDs)
	if err != nil {
		return nil, "", err
	}
	return &page.Document{Title: "The orders behind a count", Provenance: run.Provenance,
		Lead:     page.Counted(len(ref.IDs), "order", "orders") + " stand behind this count of “" + rec.Title + "”.",
		Sections: []page.Section{{Blocks: []page.Block{t}}}}, hash, nil
}

// order shows one order with its forms.
func (s *Server) order(w http.ResponseWriter, r *http.Request) error {
	id, ok := s.handles.ID("order", r.PathValue("order"))
	if !ok {
		return notFound("That address opens no order of this book.")
	}
	p, err := s.orderPage(r.Context(), id)
	if err != nil {
		return err
	}
	d := struct {
		documentPage
		Desk string // where the desk keeps its forms and letters; "" where it has none
	}{documentPage: documentPage{"/", "The shop now", p.body}}
	if s.cfg.Desk != nil {
		switch _, err := s.cfg.Desk.Kept(r.Context(), id); {
		case err == nil:
			d.Desk = "/desk/kept/" + s.handles.Word("order", id)
		case !errors.Is(err, formdesk.ErrNone):
			return err
		}
	}
	s.render(w, r, http.StatusOK, "order", p.doc.Title, d)
	return nil
}

// orderPage is the page of an order in the newest state of the book.
func (s *Server) orderPage(ctx context.Context, id string) (*storedPage, error) {
	facts, err := s.cfg.Workshop.State(ctx)
	if err != nil {
		return nil, err
	}
	p := s.orders.of(id, facts.Hash)
	p.once.Do(func() {
		if p.doc, p.err = s.cfg.Workshop.Order(context.WithoutCancel(ctx), id); p.err == nil {
			p.body, p.err = bodyOf(p.doc, s.linkIn(""))
			p.body = help.Linked(p.body)
		}
		// After a load the book as it was is shown until the new one is ready.
		if p.err != nil || p.doc.Provenance.BookHash != facts.Hash {
			s.orders.drop(id)
		}
	})
	return p, p.err
}

// form goes to the order of a form.
func (s *Server) form(w http.ResponseWriter, r *http.Request) error {
	id, ok := s.handles.ID("form", r.PathValue("form"))
	if !ok {
		return notFound("That address opens no form of this book.")
	}
	order, err := s.cfg.Workshop.OrderOfForm(r.Context(), id)
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/order/"+s.handles.Word("order", order)+"#"+FormAnchor(id), http.StatusSeeOther)
	return nil
}

// FormAnchor is the id of the part of an order's page that shows a form. It
// tells nothing of the form's own id.
func FormAnchor(formID string) string {
	return "form-" + refKey(page.Ref{IDs: []string{formID}})[:8]
}
