package service

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/notebooks/service/jobs"
	"lastroom/notebooks/service/uploads"
)

// Spreadsheets of the shop's own go through four pages: they are sent (and wait
// in a private folder), what they seem to hold is shown with lists to mend it by,
// what was chosen is tried, and then they are loaded.

// looked keeps what was seen and tried of the uploads that somebody is at, so
// that a page costs no second look. After a restart it is worked out again.
type looked struct {
	mu sync.Mutex
	by map[string]seen
}

type seen struct {
	sketch *sketch.Sketch
	tried  *LoadResult
}

// mostSeen is how many uploads are kept in mind.
const mostSeen = 8

func (l *looked) keep(id string, s seen) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.by) >= mostSeen || l.by == nil {
		l.by = map[string]seen{}
	}
	l.by[id] = s
}

func (l *looked) at(id string) seen {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.by[id]
}

func (l *looked) drop(id string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.by, id)
}

// spreadsheets takes spreadsheets in, and looks at them, or reads them by a kept
// layout.
func (s *Server) spreadsheets(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Begin()
	if err != nil {
		return err
	}
	said, err := s.take(r, u)
	if err == nil {
		if name := said.Get("layout"); name != "" {
			var kept uploads.Layout
			if kept, err = s.uploads.Layout(name); err == nil {
				u.Layout, u.Mapping = name, kept.Mapping
				if kept.Answers != nil {
					u.Answers = kept.Answers
				}
			}
		}
	}
	if err == nil {
		err = s.uploads.Save(u)
	}
	if err != nil {
		return errors.Join(err, s.uploads.Remove(u))
	}
	if u.Layout != "" {
		return s.try(w, r, u)
	}
	return s.lookAt(w, r, u)
}

// take adds the files of a request to an upload.
func (s *Server) take(r *http.Request, u *uploads.Upload) (said url.Values, err error) {
	u.Batch()
	said, err = receive(r, func(name string, from io.Reader) error { return s.uploads.Add(u, name, from) })
	if err != nil {
		return said, errors.Join(err, s.uploads.Undo(u))
	}
	names, err := s.uploads.Files(u)
	if err == nil && len(names) == 0 {
		err = badRequest("Choose at least one spreadsheet: XLSX, ODS, CSV or TSV.")
	}
	if err == nil {
		err = s.audit(r, "look at spreadsheets", fmt.Sprintf("%d files", len(names)), "begun")
	}
	return said, err
}

func (s *Server) moreSpreadsheets(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return err
	}
	if _, err := s.take(r, u); err != nil {
		return err
	}
	if err := s.uploads.Save(u); err != nil {
		return err
	}
	return s.lookAt(w, r, u)
}

// lookAt works out what an upload seems to hold, and goes to its page.
func (s *Server) lookAt(w http.ResponseWriter, r *http.Request, u *uploads.Upload) error {
	at := spreadsheetsPath + "/" + u.ID
	return s.begin(w, r, &jobs.Job{Title: "Looking at the spreadsheets", Back: "/sheets"}, func(ctx context.Context, j *jobs.Job) (string, error) {
		j.SayStep("looking at the spreadsheets", 0, 0)
		sk, err := s.cfg.Workshop.Sketch(ctx, s.path(u.Dir()), u.Answers)
		if err != nil {
			return "", newProblem(http.StatusUnprocessableEntity, form.Capitalised(err.Error())+".", err)
		}
		s.looked.keep(u.ID, seen{sketch: sk})
		return at, nil
	})
}

type sketchPage struct {
	Upload *uploads.Upload
	Sketch *sketch.Sketch
	Kinds  string
}

// seenOf is an upload with what was seen of it.
func (s *Server) seenOf(r *http.Request) (*uploads.Upload, *sketch.Sketch, error) {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return nil, nil, err
	}
	if sk := s.looked.at(u.ID).sketch; sk != nil {
		return u, sk, nil
	}
	sk, err := s.cfg.Workshop.Sketch(r.Context(), s.path(u.Dir()), u.Answers)
	if err != nil {
		return nil, nil, newProblem(http.StatusUnprocessableEntity, form.Capitalised(err.Error())+".", err)
	}
	s.looked.keep(u.ID, seen{sketch: sk})
	return u, sk, nil
}

// sketch shows what spreadsheets seem to hold, with the lists to mend it by.
func (s *Server) sketch(w http.ResponseWriter, r *http.Request) error {
	u, sk, err := s.seenOf(r)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "sketch", "What these spreadsheets hold", sketchPage{u, sk, uploads.Kinds()})
	return nil
}

// mapping sends what was chosen as a mapping file.
func (s *Server) mapping(w http.ResponseWriter, r *http.Request) error {
	_, sk, err := s.seenOf(r)
	if err != nil {
		return err
	}
	if sk.Mapping == "" {
		return notFound("There is no mapping yet: no table is used.")
	}
	return download(w, "application/yaml", "mapping.yaml", []byte(sk.Mapping))
}

// Names of fields: what was chosen from a list, and a text that a person adds
// with what it means. The rest of the name is the list's.
const (
	chosenField = "chosen:"
	addField    = "add:"
	meansField  = "means:"
)

// choose takes what was chosen from the lists, and looks again or tries it.
func (s *Server) choose(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return err
	}
	for field, values := range r.PostForm {
		if name, ok := strings.CutPrefix(field, chosenField); ok {
			if u.Answers[name] = values[0]; values[0] == "" {
				delete(u.Answers, name)
			}
		}
		if name, ok := strings.CutPrefix(field, addField); ok {
			text, means := strings.TrimSpace(values[0]), r.PostForm.Get(meansField+name)
			if text != "" && means != "" && len(text) <= 200 {
				u.Answers[name+text] = means
			}
		}
	}
	if err := s.uploads.Save(u); err != nil {
		return err
	}
	if r.PostForm.Get("do") != "try" {
		return s.lookAt(w, r, u)
	}
	u.Mapping, u.Mended = "", true
	return s.try(w, r, u)
}

// try reads the spreadsheets by what was chosen, or by the kept layout, and
// reports; the book stays as it is.
func (s *Server) try(w http.ResponseWriter, r *http.Request, u *uploads.Upload) error {
	at := spreadsheetsPath + "/" + u.ID
	return s.begin(w, r, &jobs.Job{Title: "Trying how it loads", Back: at}, func(ctx context.Context, j *jobs.Job) (string, error) {
		var now seen
		if u.Mapping == "" {
			j.SayStep("looking at the spreadsheets", 0, 0)
			sk, err := s.cfg.Workshop.Sketch(ctx, s.path(u.Dir()), u.Answers)
			if err != nil {
				return "", newProblem(http.StatusUnprocessableEntity, form.Capitalised(err.Error())+".", err)
			}
			if u.Mapping, now.sketch = sk.Mapping, sk; u.Mapping == "" {
				return "", newProblem(http.StatusUnprocessableEntity, "No table is used yet. Say of at least one table that it is used, and which column holds the order's number.", nil)
			}
			if err := s.uploads.Save(u); err != nil {
				return "", err
			}
		}
		res, err := s.cfg.Workshop.Load(ctx, Incoming{s.path(u.Dir()), u.Mapping, true}, j.SayStep)
		switch {
		case err != nil && u.Layout != "" && !u.Mended:
			return "", newProblem(http.StatusUnprocessableEntity, fmt.Sprintf("The layout %s does not fit these spreadsheets: %s. Go back and choose from the lists; what you chose for the layout stands in them.", u.Layout, err), err)
		case err != nil:
			return "", newProblem(http.StatusUnprocessableEntity, form.Capitalised(err.Error())+".", err)
		}
		now.tried = res
		s.looked.keep(u.ID, now)
		return at + "/tried", nil
	})
}

type triedPage struct {
	Upload  *uploads.Upload
	Body    rendered
	Nothing bool // it would not load
	Open    int  // lists that nobody answered
}

func (s *Server) tried(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return err
	}
	now := s.looked.at(u.ID)
	if now.tried == nil {
		http.Redirect(w, r, spreadsheetsPath+"/"+u.ID, http.StatusSeeOther)
		return nil
	}
	p := triedPage{Upload: u, Nothing: now.tried.Nothing}
	if now.sketch != nil {
		p.Open = now.sketch.Open()
	}
	if p.Body, err = innerOf(now.tried.Report, s.linkIn("")); err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "tried", "How it would load", p)
	return nil
}

// loadSpreadsheets loads what was tried, keeps the layout where a name is given,
// and takes the upload away.
func (s *Server) loadSpreadsheets(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return err
	}
	at := spreadsheetsPath + "/" + u.ID
	keep := strings.TrimSpace(r.PostForm.Get("name"))
	switch {
	case u.Mapping == "" || s.looked.at(u.ID).tried == nil || s.looked.at(u.ID).tried.Nothing:
		return newProblem(http.StatusConflict, "Try it first: what is loaded is what was tried last.", nil)
	case keep != "" && !uploads.GoodName(keep):
		return badRequest("That is no name for a layout; use letters, figures and blanks, as “Ledger 2026”.")
	}
	if err := s.audit(r, "load spreadsheets", "", "begun"); err != nil {
		return err
	}
	return s.begin(w, r, &jobs.Job{Title: "Loading the spreadsheets", Back: at}, func(ctx context.Context, j *jobs.Job) (string, error) {
		next, nothing, err := s.loadIn(ctx, j, Incoming{s.path(u.Dir()), u.Mapping, false})
		if err != nil || nothing { // the spreadsheets stay, to be mended by the lists
			return next, err
		}
		if keep != "" {
			if err := s.uploads.Keep(uploads.Layout{Name: keep, Mapping: u.Mapping, Answers: u.Answers}); err != nil {
				return "", err
			}
		}
		s.looked.drop(u.ID)
		return next, s.uploads.Remove(u)
	})
}

func (s *Server) dropSpreadsheets(w http.ResponseWriter, r *http.Request) error {
	u, err := s.uploads.Find(r.PathValue("upload"))
	if err != nil {
		return err
	}
	s.looked.drop(u.ID)
	if err := s.uploads.Remove(u); err != nil {
		return err
	}
	http.Redirect(w, r, "/sheets", http.StatusSeeOther)
	return nil
}

func (s *Server) layoutMapping(w http.ResponseWriter, r *http.Request) error {
	l, err := s.uploads.Layout(r.PathValue("layout"))
	if err != nil {
		return err
	}
	return download(w, "application/yaml", l.Name+".yaml", []byte(l.Mapping))
}

func (s *Server) dropLayout(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("layout")
	if err := s.uploads.Drop(name); err != nil {
		return err
	}
	if err := s.audit(r, "drop layout", name, "done"); err != nil {
		return err
	}
	http.Redirect(w, r, "/sheets#layouts", http.StatusSeeOther)
	return nil
}

// A listView is a list with what its page needs besides.
type listView struct {
	sketch.List
	ID string
}

func under(l sketch.List, table, column, n any) listView {
	return listView{l, fmt.Sprintf("l-%v-%v-%v", table, column, n)}
}
