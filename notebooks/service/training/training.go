// Package training holds the pages of practice and of measuring sessions.
package training

import (
	"context"
	"embed"
	"html/template"
	"net/http"
	"slices"

	"lastroom/analysis/practice"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").ParseFS(templateFiles, "templates/*.tmpl"))

// A Shop is what training asks of the workshop's book.
type Shop interface {
	// OldForm deals a form of an old order whose outcome is known, under the
	// order's word in addresses; without faults or outcome.
	OldForm(ctx context.Context) (order string, body template.HTML, err error)
	// OldOutcome is what became of that order.
	OldOutcome(ctx context.Context, order string) (template.HTML, error)
}

// Pages are the pages of training.
type Pages struct {
	Host topic.Host
	Shop Shop
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /practice", Role: access.Reader, Handler: p.old},
		{Pattern: "POST /practice", Role: access.Reader, Handler: p.oldAnswered},
	}
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, name, title string, data any) error {
	body, err := topic.Fill(templates, name, data)
	if err == nil {
		p.Host.Show(w, r, http.StatusOK, title, body)
	}
	return err
}

type oldPage struct {
	Order   string // the order's word in addresses
	Answers []string
	Said    string // what the learner said; empty before
	Body    template.HTML
}

// old shows a form of an old order and hides what became of it.
func (p *Pages) old(w http.ResponseWriter, r *http.Request) error {
	order, body, err := p.Shop.OldForm(r.Context())
	if err != nil {
		return err
	}
	return p.show(w, r, "old", "Practice", oldPage{Order: order, Answers: practice.Verdicts, Body: body})
}

// oldAnswered shows what became of the order, once the learner has answered. It
// keeps nothing: nobody's record is made of luck.
func (p *Pages) oldAnswered(w http.ResponseWriter, r *http.Request) error {
	said := r.PostForm.Get("answer")
	if r.PostForm.Get("order") == "" || !slices.Contains(practice.Verdicts, said) {
		return topic.BadRequest("Say what you would do with the form: cut, ask, or measure again.")
	}
	body, err := p.Shop.OldOutcome(r.Context(), r.PostForm.Get("order"))
	if err != nil {
		return err
	}
	return p.show(w, r, "old", "Practice", oldPage{Said: said, Body: body})
}
