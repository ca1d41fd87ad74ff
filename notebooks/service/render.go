package service

import (
	"embed"
	"errors"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"strings"

	"lastroom/analysis/form"
	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/notebooks/service/uploads"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

//go:embed static
var staticFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{"day": dayWords, "thousands": page.Thousands, "under": under}).ParseFS(templateFiles, "templates/*.tmpl"))

// A surround is what stands around every page.
type surround struct {
	Title   string
	Places  []menuPlace
	Visitor access.Visitor
	Guarded bool // there are tokens, so one can leave
	Ends    bool // the pages end the program
	Tongues []translation.Tongue
	At      string // the page, to come back to
	Body    template.HTML
}

// render fills the page's template and then the frame, and sends them whole.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, name, title string, data any) {
	body, err := topic.Fill(templates, name, data)
	if err != nil {
		s.unmade(w, name, err)
		return
	}
	s.frame(w, r, status, title, body)
}

// frame sends a body inside header and menu.
func (s *Server) frame(w http.ResponseWriter, r *http.Request, status int, title string, body template.HTML) {
	here, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	out, err := topic.Fill(templates, "frame", surround{title, s.menu(here), visitorOf(r), len(s.cfg.Tokens) > 0, s.cfg.End != nil, s.otherTongues(r), pageAddress(r), body})
	if err != nil {
		s.unmade(w, "frame", err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = io.WriteString(w, string(out))
	}
}

// pageAddress is the address of a page that can be shown again; what was sent can't.
func pageAddress(r *http.Request) string {
	if r.Method != http.MethodGet {
		return "/"
	}
	return r.URL.RequestURI()
}

func (s *Server) unmade(w http.ResponseWriter, name string, err error) {
	s.cfg.Log.Error("a page could not be made", "page", name, "error", err)
	http.Error(w, "The page could not be made; the log of the service says why.", http.StatusInternalServerError)
}

// A problem is an error with its status and words for the person.
type problem = topic.Problem

var (
	newProblem = topic.NewProblem
	notFound   = topic.NotFound
	badRequest = topic.BadRequest
)

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
		return http.StatusNotFound, form.Capitalised(err.Error()) + "."
	case errors.Is(err, archive.ErrNoRun):
		return http.StatusNotFound, "There is no such run."
	case errors.Is(err, fs.ErrInvalid):
		return http.StatusNotFound, "There is no such page."
	case errors.Is(err, notebooks.ErrNoNotebook), errors.Is(err, fs.ErrNotExist):
		return http.StatusNotFound, "There is no such notebook."
	case errors.Is(err, ErrNoExercise):
		return http.StatusConflict, form.Capitalised(err.Error()) + "."
	case errors.Is(err, ErrUnknown):
		return http.StatusNotFound, "The book does not know it (any more)."
	}
	return http.StatusInternalServerError, form.Capitalised(err.Error()) + "."
}

type problemPage struct{ Words string }

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	status, words := statusOf(err)
	if status >= 500 && !s.cfg.Workshop.Exists() {
		status, words = http.StatusConflict, "There is no order book yet: load order sheets first, or make the invented workshop."
	}
	if status >= 500 {
		s.cfg.Log.Error("a request failed", "path", r.Pattern, "error", err)
	}
	s.render(w, r, status, "problem", http.StatusText(status), problemPage{words})
}

// page answers with h for whoever has the role.
func (s *Server) page(role access.Role, h topic.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if visitorOf(r).Role < role {
			s.fail(w, r, newProblem(http.StatusForbidden, "Your token lets you read and run, not change anything. Ask for an editor's token.", nil))
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
