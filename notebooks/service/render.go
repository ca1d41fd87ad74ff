package service

import (
	"bytes"
	"embed"
	"errors"
	"html/template"
	"io/fs"
	"net/http"
	"strings"

	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/uploads"
	"lastroom/reports/page"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

//go:embed static
var staticFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{"day": dayWords, "thousands": page.Thousands, "under": under}).ParseFS(templateFiles, "templates/*.tmpl"))

// A surround is what stands around every page.
type surround struct {
	Title   string
	Here    string // first part of the path, for marking the place in the menu
	Visitor access.Visitor
	Guarded bool // there are tokens, so one can leave
	Desk    bool
	Ends    bool // the pages end the program
	Body    template.HTML
}

// render fills the page's template and then the frame, and sends them whole.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, name, title string, data any) {
	body, err := fill(name, data)
	if err == nil {
		here, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		var out []byte
		out, err = fill("frame", surround{title, here, visitorOf(r), len(s.cfg.Tokens) > 0, s.cfg.Desk != nil, s.cfg.End != nil, template.HTML(body)})
		if err == nil {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.WriteHeader(status)
			if r.Method != http.MethodHead {
				_, _ = w.Write(out)
			}
			return
		}
	}
	s.cfg.Log.Error("a page could not be made", "page", name, "error", err)
	http.Error(w, "The page could not be made; the log of the service says why.", http.StatusInternalServerError)
}

func fill(name string, data any) ([]byte, error) {
	var b bytes.Buffer
	err := templates.ExecuteTemplate(&b, name, data)
	return b.Bytes(), err
}

// A problem is an error with its status and words for the person.
type problem struct {
	Status int
	Words  string
	Cause  error
}

func (p *problem) Error() string {
	if p.Cause != nil {
		return p.Words + ": " + p.Cause.Error()
	}
	return p.Words
}

func (p *problem) Unwrap() error { return p.Cause }

func notFound(words string) *problem { return &problem{http.StatusNotFound, words, nil} }
func badRequest(words string) *problem {
	return &problem{http.StatusBadRequest, words, nil}
}

// statusOf is the one table from error to status and words.
func statusOf(err error) (int, string) {
	var p *problem
	var ne *notebooks.Error
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		t := tooLarge(big.Limit)
		return t.Status, t.Words
	case errors.As(err, &p):
		return p.Status, p.Words
	case errors.As(err, &ne):
		return http.StatusUnprocessableEntity, ne.Error()
	case errors.Is(err, uploads.ErrNone), errors.Is(err, uploads.ErrNoLayout):
		return http.StatusNotFound, upper(err.Error()) + "."
	case errors.Is(err, archive.ErrNoRun):
		return http.StatusNotFound, "There is no such run."
	case errors.Is(err, fs.ErrInvalid):
		return http.StatusNotFound, "There is no such page."
	case errors.Is(err, notebooks.ErrNoNotebook), errors.Is(err, fs.ErrNotExist):
		return http.StatusNotFound, "There is no such notebook."
	case errors.Is(err, ErrNoExercise):
		return http.StatusConflict, upper(err.Error()) + "."
	case errors.Is(err, ErrUnknown):
		return http.StatusNotFound, "The book does not know it (any more)."
	}
	return http.StatusInternalServerError, upper(err.Error()) + "."
}

type problemPage struct {
	Status int
	Words  string
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	status, words := statusOf(err)
	if status >= 500 {
		s.cfg.Log.Error("a request failed", "path", r.Pattern, "error", err)
	}
	s.render(w, r, status, "problem", http.StatusText(status), problemPage{status, words})
}

// handler is a page that may fail.
type handler func(w http.ResponseWriter, r *http.Request) error

// page answers with h for whoever has the role.
func (s *Server) page(role access.Role, h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if visitorOf(r).Role < role {
			s.fail(w, r, &problem{http.StatusForbidden, "Your token lets you read and run, not change anything. Ask for an editor's token.", nil})
			return
		}
		if r.Method == http.MethodPost && !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/") {
			if err := r.ParseForm(); err != nil {
				var big *http.MaxBytesError
				if !errors.As(err, &big) {
					err = badRequest("The form could not be read.")
				}
				s.fail(w, r, err)
				return
			}
		}
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}
