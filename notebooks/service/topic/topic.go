// Package topic is what the server and the packages that hold pages of one topic
// share: a topic gives its Routes, the server gives a Host to show them in.
// So a topic's pages, with their templates and tests, stand in a package of their
// own that the server alone imports.
package topic

import (
	"bytes"
	"html/template"
	"net/http"
	"os"
	"time"

	"lastroom/notebooks/service/access"
	"lastroom/reports/page"
)

// A Handler is a page that may fail. What it gives is shown as a page by the
// server; a Problem with its own status and words.
type Handler func(w http.ResponseWriter, r *http.Request) error

// A Route is a pattern as http.ServeMux takes it, with the role that it needs.
type Route struct {
	Pattern string
	Role    access.Role
	Handler Handler
}

// A Host is what the server does for a topic's pages.
type Host interface {
	// Show sends the body inside the frame with header and menu.
	Show(w http.ResponseWriter, r *http.Request, status int, title string, body template.HTML)
	// Visitor is who asks.
	Visitor(r *http.Request) access.Visitor
	// Language is the tag of the language that the visitor's pages are shown in.
	Language(r *http.Request) string
	// Audit notes a change before it is made; one that can't be noted is not made.
	Audit(r *http.Request, did, what, outcome string) error
	// Root is the folder beside the book, and Now the time of day.
	Root() *os.Root
	Now() time.Time
	// Load loads order sheets that write puts into an empty folder, as a job: the
	// visitor comes to the page that says what was taken. loaded is called when rows
	// went in.
	Load(w http.ResponseWriter, r *http.Request, title, back string, write func(dir *os.Root) error, loaded func() error) error
}

// A Book is what pages about orders and people ask of the server.
type Book interface {
	// Word stands for an id in addresses, ID is the id that a word stands for.
	Word(kind, id string) string
	ID(kind, word string) (id string, ok bool)
	// Whole shows a document with what it opens.
	Whole(r *http.Request, d *page.Document) (template.HTML, error)
	Behind
}

// A Behind leads from the counts of a page to what stands behind them.
type Behind interface {
	// Link makes the addresses of what a page opens.
	Link(r *http.Request) page.Link
	// Behind shows the list behind a count of the page's document, if that is what was
	// asked for.
	Behind(w http.ResponseWriter, r *http.Request, d *page.Document) (shown bool, err error)
}

// A Problem is an error with its status and words for the person.
type Problem struct {
	Status int
	Words  string
	Cause  error
}

func (p *Problem) Error() string {
	if p.Cause != nil {
		return p.Words + ": " + p.Cause.Error()
	}
	return p.Words
}

func (p *Problem) Unwrap() error { return p.Cause }

// NewProblem is a problem with its cause, nil where there is none.
func NewProblem(status int, words string, cause error) *Problem {
	return &Problem{status, words, cause}
}

// NotFound and BadRequest are the usual problems.
func NotFound(words string) *Problem   { return NewProblem(http.StatusNotFound, words, nil) }
func BadRequest(words string) *Problem { return NewProblem(http.StatusBadRequest, words, nil) }

// Fill runs a named template whole, or gives its error.
func Fill(t *template.Template, name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	err := t.ExecuteTemplate(&b, name, data)
	return template.HTML(b.String()), err
}

// A View is a page of a topic: a named template with what it shows.
type View struct {
	Status    int
	Title     string
	Templates *template.Template
	Name      string
	Data      any
}

// Show fills a view and shows it on a host.
func Show(h Host, w http.ResponseWriter, r *http.Request, v View) error {
	body, err := Fill(v.Templates, v.Name, v.Data)
	if err == nil {
		h.Show(w, r, v.Status, v.Title, body)
	}
	return err
}
