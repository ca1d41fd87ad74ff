package service

import (
	"context"
	"net/http"
	"strings"

	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/jobs"
)

type notebookPage struct {
	Notebook *notebooks.Notebook
	Shipped  bool
	Editor   bool
	Book     bool // there is one to ask
	Fields   []field
	AsOf     string
	Facts    notebooks.Facts
	Runs     []runLine
	Source   string
	Problem  string // what was wrong with the form sent before
}

// A field is a parameter as a form field.
type field struct {
	notebooks.Param
	Value string
	Input string // type of the input
}

// open reads and parses a notebook of the library.
func (s *Server) openNotebook(name string) (*notebooks.Notebook, notebooks.Written, error) {
	t, err := s.shelf.Read(name)
	if err != nil {
		return nil, t, err
	}
	n, err := notebooks.Parse(name, t.Source, s.cfg.Runner.Catalogue)
	return n, t, err
}

func (s *Server) notebook(w http.ResponseWriter, r *http.Request) error {
	return s.showNotebook(w, r, http.StatusOK, nil, "")
}

func (s *Server) showNotebook(w http.ResponseWriter, r *http.Request, status int, set map[string]string, wrong string) error {
	name := r.PathValue("name")
	n, t, err := s.openNotebook(name)
	if err != nil {
		return err
	}
	p := notebookPage{Notebook: n, Shipped: t.Shipped, Editor: visitorOf(r).Role == access.Editor, Source: string(t.Source), Problem: wrong, AsOf: set["as_of"], Book: s.cfg.Workshop.Exists()}
	if p.Book {
		if p.Facts, err = s.cfg.Workshop.State(r.Context()); err != nil {
			return err
		}
		lines, err := s.runLines(p.Facts)
		if err != nil {
			return err
		}
		for _, l := range lines {
			if l.Notebook == name {
				p.Runs = append(p.Runs, l)
			}
		}
	}
	if p.Book {
		p.Fields = fields(n, set, p.Facts)
	}
	s.render(w, r, status, "notebook", n.Heading(), p)
	return nil
}

// fields are the parameters with what they would be now.
func fields(n *notebooks.Notebook, set map[string]string, facts notebooks.Facts) []field {
	defaults, err := n.Bind(nil, facts)
	var out []field
	for _, p := range n.Params {
		f := field{Param: p, Value: set[p.Name], Input: map[string]string{"month": "month", "day": "date", "integer": "number", "number": "number"}[p.Type]}
		if f.Value == "" && err == nil {
			f.Value, _ = defaults.Word(p.Name)
		}
		if f.Input == "" {
			f.Input = "text"
		}
		out = append(out, f)
	}
	return out
}

// start runs a notebook with the parameters of its form.
func (s *Server) start(w http.ResponseWriter, r *http.Request) error {
	n, _, err := s.openNotebook(r.PathValue("name"))
	if err != nil {
		return err
	}
	if !s.cfg.Workshop.Exists() {
		return newProblem(http.StatusConflict, "There is no book yet: load order sheets first.", nil)
	}
	set := map[string]string{}
	for _, p := range n.Params {
		if v := strings.TrimSpace(r.PostForm.Get(p.Name)); v != "" {
			set[p.Name] = v
		}
	}
	facts, err := s.cfg.Workshop.State(r.Context())
	if err != nil {
		return err
	}
	asOf := strings.TrimSpace(r.PostForm.Get("as_of"))
	if _, err := n.Bind(set, facts); err != nil {
		set["as_of"] = asOf
		return s.showNotebook(w, r, http.StatusUnprocessableEntity, set, err.Error())
	}
	who := visitorOf(r).Name
	fresh := r.PostForm.Get("fresh") == "yes"
	return s.begin(w, r, &jobs.Job{Title: n.Heading(), Back: "/notebook/" + n.Name}, func(ctx context.Context, j *jobs.Job) (string, error) {
		run, err := s.cfg.Runner.Run(ctx, n, execution.Options{Set: set, AsOf: asOf, Progress: j.Say, Fresh: fresh})
		if err != nil {
			return "", err
		}
		rec, err := s.store.Save(run, s.cfg.Version, who)
		return "/run/" + rec.ID, err
	})
}
