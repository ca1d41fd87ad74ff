package service

import (
	"context"
	"errors"
	"net/http"

	"lastroom/notebooks/service/formdesk"
	"lastroom/notebooks/service/help"
	"lastroom/reports/page"
)

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
