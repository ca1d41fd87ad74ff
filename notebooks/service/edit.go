package service

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/jobs"
)

type editPage struct {
	Name    string
	New     bool
	Text    string
	Version string
	Problem string // of the text
	Saved   bool
	Preview rendered
	Notes   []string
	// Of a conflict: what the other one says, and where this text is kept.
	Theirs, Kept string
}

const starter = "---\ntitle: A question of ours\nfor: \nparameters:\n  - name: month\n    type: month\n    default: latest\n---\n\n" +
	"```sql name=shipped share=remade/shipped\nselect channel, count(*) as shipped,\n       count(*) filter (where remade) as remade\nfrom cohort\ngroup by channel\norder by channel\n```\n"

func (s *Server) editNew(w http.ResponseWriter, r *http.Request) error {
	s.render(w, r, http.StatusOK, "edit", "A new notebook", editPage{New: true, Text: starter})
	return nil
}

// edit shows the text of a shop's notebook, or of a shipped one as the start
// of a new one.
func (s *Server) edit(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("name")
	t, err := s.shelf.Read(name)
	if err != nil {
		return err
	}
	p := editPage{Name: name, Text: string(t.Source), Version: t.Version, Problem: s.problemOf(name, t.Source)}
	if t.Shipped {
		p.Name, p.New, p.Version = "our-"+name, true, ""
	}
	s.render(w, r, http.StatusOK, "edit", "Edit "+p.Name, p)
	return nil
}

func (s *Server) problemOf(name string, src []byte) string {
	if _, err := notebooks.Parse(name, src, s.cfg.Runner.Catalogue); err != nil {
		return err.Error()
	}
	return ""
}

// save previews or saves a shop's notebook.
func (s *Server) save(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("name")
	if given := strings.TrimSpace(r.PostForm.Get("name")); given != "" {
		name = given
	}
	// Browsers send CR LF; the file has LF.
	src := []byte(strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n"))
	p := editPage{Name: name, Text: string(src), Version: r.PostForm.Get("version"), New: r.PostForm.Get("version") == "", Problem: s.problemOf(name, src)}
	status := http.StatusOK
	if r.PostForm.Get("do") == "preview" {
		if p.Problem == "" {
			s.preview(r, name, src, &p)
		}
		s.render(w, r, status, "edit", "Edit "+name, p)
		return nil
	}
	saved, err := s.shelf.Save(name, src, p.Version)
	var conflict *notebooks.Conflict
	switch {
	case errors.As(err, &conflict):
		status = http.StatusConflict
		p.Theirs, p.Kept, p.Version = string(conflict.Theirs.Source), conflict.Kept, conflict.Theirs.Version
		err = s.audit(r, "save notebook", name, "conflict, kept as "+conflict.Kept)
	case err != nil:
		p.Problem, status = form.Capitalised(err.Error())+".", http.StatusUnprocessableEntity
		err = nil
	default:
		p.Saved, p.New, p.Version = true, false, saved.Version
		err = s.audit(r, "save notebook", name, "saved "+saved.Version)
	}
	if err != nil {
		return err
	}
	s.render(w, r, status, "edit", "Edit "+name, p)
	return nil
}

// previewTime bounds the run of a preview, its wait in the queue included.
const previewTime = 15 * time.Second

// preview runs the text as it is, with its defaults, and keeps nothing.
func (s *Server) preview(r *http.Request, name string, src []byte, p *editPage) {
	n, err := notebooks.Parse(name, src, s.cfg.Runner.Catalogue)
	if err != nil {
		p.Problem = err.Error()
		return
	}
	if !s.cfg.Workshop.Exists() {
		p.Problem = "There is no book yet to run it on."
		return
	}
	var run *execution.Run
	j := &jobs.Job{Title: "Preview", Back: "/edit/" + name}
	err = s.jobs.Start(j, s.cfg.Clock(), func(ctx context.Context, _ *jobs.Job) (_ string, err error) {
		run, err = s.cfg.Runner.Run(ctx, n, execution.Options{})
		return "", err
	})
	if err != nil {
		_, p.Problem = statusOf(err)
		return
	}
	ctx, cancel := context.WithTimeoutCause(r.Context(), previewTime, errors.New("a preview may take 15 seconds; save the notebook and run it"))
	defer cancel()
	select {
	case <-j.Ended:
	case <-ctx.Done():
		if s.jobs.Before(j) > 0 {
			p.Problem = s.jobs.State(j, s.cfg.Clock()).Says + " A preview waits 15 seconds; save the notebook and run it."
		}
		j.Stop(context.Cause(ctx))
		<-j.Ended
	}
	if err := j.Problem(); err != nil && p.Problem == "" {
		p.Problem = err.Error()
	}
	if p.Problem != "" {
		return
	}
	for _, e := range run.Failures() {
		p.Notes = append(p.Notes, e.Error())
	}
	if p.Preview, err = innerOf(run.Doc, s.linkIn("")); err != nil {
		p.Problem = err.Error()
	}
}
