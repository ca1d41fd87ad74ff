// Package people holds the pages about those who measure: all of them, one of
// them, what is handed over to one, and what sessions of repeated measurements tell. A [Shop]
// works out what they show, package reports/people lays it out; here are the addresses,
// in which a word stands for each person.
package people

import (
	"context"
	"embed"
	"html/template"
	"net/http"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
	"lastroom/reports/people"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").ParseFS(templateFiles, "templates/*.tmpl"))

// A Shop is what the pages ask of the workshop.
type Shop interface {
	topic.Book
	// Exists reports whether there is a book.
	Exists() bool
	Measurers(ctx context.Context) (measurers.Comparison, error)
	Repeats(ctx context.Context) (repeatability.Study, error)
}

// Pages are the pages about measurers.
type Pages struct {
	Host topic.Host
	Shop Shop
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /measurers", Role: access.Reader, Handler: p.all},
		{Pattern: "GET /measurers/sessions", Role: access.Reader, Handler: p.sessions},
		{Pattern: "GET /measurers/{measurer}", Role: access.Reader, Handler: p.one},
		{Pattern: "GET /measurers/{measurer}/hand-over", Role: access.Reader, Handler: p.handOver},
	}
}

// A step is a link above a page.
type step struct{ Address, Name string }

type view struct {
	Steps   []step
	Chosen  string
	Choices []step
	Lessons []form.Fault
	Body    template.HTML
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, d *page.Document, v view) error {
	if shown, err := p.Shop.Behind(w, r, d); shown || err != nil {
		return err
	}
	var err error
	if v.Body, err = p.Shop.Whole(r, d); err != nil {
		return err
	}
	return topic.Show(p.Host, w, r, topic.View{Status: http.StatusOK, Title: d.Title, Templates: templates, Name: "people", Data: v})
}

var toAll, toSessions = step{"/measurers", "All measurers"}, step{"/measurers/sessions", "How well the tape is read"}

func (p *Pages) comparison(r *http.Request) (measurers.Comparison, error) {
	if !p.Shop.Exists() {
		return measurers.Comparison{}, topic.NewProblem(http.StatusConflict, "There is no order book yet: load order sheets first, or make the invented workshop.", nil)
	}
	return p.Shop.Measurers(r.Context())
}

// choices are all measurers that have a page.
func (p *Pages) choices(d measurers.Comparison) (out []step) {
	for _, m := range slices.Concat(d.Measurers, d.Newcomers) {
		out = append(out, step{p.address(m), m.ID})
	}
	return out
}

func (p *Pages) address(m measurers.Measurer) string {
	return "/measurers/" + p.Shop.Word("measurer", m.ID)
}

func (p *Pages) all(w http.ResponseWriter, r *http.Request) error {
	d, err := p.comparison(r)
	if err != nil {
		return err
	}
	return p.show(w, r, people.ComparisonPage(d), view{Steps: []step{toSessions}, Choices: p.choices(d)})
}

func (p *Pages) sessions(w http.ResponseWriter, r *http.Request) error {
	if _, err := p.comparison(r); err != nil {
		return err
	}
	s, err := p.Shop.Repeats(r.Context())
	if err != nil {
		return err
	}
	return p.show(w, r, people.RepeatsPage(s), view{Steps: []step{toAll, {"/session", "Hold a session"}}})
}

// chosen is the measurer whom the address names.
func (p *Pages) chosen(r *http.Request) (d measurers.Comparison, m measurers.Measurer, err error) {
	if d, err = p.comparison(r); err != nil {
		return d, m, err
	}
	id, ok := p.Shop.ID("measurer", r.PathValue("measurer"))
	if m, known := d.Named(id); ok && known {
		return d, m, nil
	}
	return d, m, topic.NotFound("The book has no page for that measurer: choose one from the list of all measurers.")
}

func (p *Pages) one(w http.ResponseWriter, r *http.Request) error {
	d, m, err := p.chosen(r)
	if err != nil {
		return err
	}
	return p.show(w, r, people.OnePage(d, m), view{Steps: []step{toAll, {p.address(m) + "/hand-over", "Page to hand over"}, toSessions},
		Chosen: m.ID, Choices: p.choices(d), Lessons: people.Lessons(m)})
}

func (p *Pages) handOver(w http.ResponseWriter, r *http.Request) error {
	d, m, err := p.chosen(r)
	if err != nil {
		return err
	}
	return p.show(w, r, people.HandOver(d, m), view{Steps: []step{{p.address(m), "Back to " + m.ID}}, Lessons: people.Lessons(m)})
}
