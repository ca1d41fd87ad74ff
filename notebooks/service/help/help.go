// Package help explains the work in pictures and plain words. Its glossary is what
// hard words on the other pages lead to.
package help

import (
	"embed"
	"html/template"
	"net/http"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").ParseFS(templateFiles, "templates/*.tmpl"))

// Pages are the pages of help but for the chapter on notebooks.
type Pages struct{ Host topic.Host }

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /help", Role: access.Reader, Handler: p.page("work", "Help", nil)},
		{Pattern: "GET /help/words", Role: access.Reader, Handler: p.page("words", "Words", words)},
	}
}

func (p *Pages) page(name, title string, data any) topic.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return topic.Show(p.Host, w, r, topic.View{Status: http.StatusOK, Title: title, Templates: templates, Name: name, Data: data})
	}
}

// Show is topic.Show for a page whose hard words lead to the glossary.
func Show(h topic.Host, w http.ResponseWriter, r *http.Request, v topic.View) error {
	body, err := topic.Fill(v.Templates, v.Name, v.Data)
	if err == nil {
		h.Show(w, r, v.Status, v.Title, Linked(body))
	}
	return err
}
