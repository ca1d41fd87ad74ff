package service

import (
	"context"
	"net/http"
	"time"

	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/jobs"
)

type shelfPage struct {
	Editor    bool
	Notebooks []shelved
	Recent    []runLine
}

// A shelved notebook has its newest run beside it.
type shelved struct {
	notebooks.Entry
	Last *runLine
}

// notebooks lists the notebooks with their newest runs.
func (s *Server) notebooks(w http.ResponseWriter, r *http.Request) error {
	facts, err := s.cfg.Workshop.State(r.Context())
	if err != nil {
		return err
	}
	entries, err := s.shelf.List(s.cfg.Runner.Catalogue)
	if err != nil {
		return err
	}
	lines, err := s.runLines(facts)
	if err != nil {
		return err
	}
	p := shelfPage{Editor: visitorOf(r).Role == access.Editor, Recent: lines[:min(len(lines), 8)]}
	for _, e := range entries {
		sh := shelved{Entry: e}
		for i := range lines {
			if lines[i].Notebook == e.Name && !lines[i].Failed() {
				sh.Last = &lines[i]
				break
			}
		}
		p.Notebooks = append(p.Notebooks, sh)
	}
	s.render(w, r, http.StatusOK, "notebooks", "Notebooks", p)
	return nil
}

// A runLine is a run in a list, with how current it is.
type runLine struct {
	archive.Record
	Stale []string // why it is not current; empty where it is
}

func (s *Server) runLines(facts notebooks.Facts) ([]runLine, error) {
	recs, err := s.store.List()
	if err != nil {
		return nil, err
	}
	out, digests := make([]runLine, len(recs)), map[string]string{}
	for i, rec := range recs {
		if _, read := digests[rec.Notebook]; !read {
			digests[rec.Notebook] = s.digest(rec.Notebook)
		}
		out[i] = runLine{rec, s.stale(rec, facts, digests[rec.Notebook])}
	}
	return out, nil
}

// digest is that of a notebook's text as it is now, "" where it is gone.
func (s *Server) digest(name string) string {
	t, err := s.shelf.Read(name)
	if err != nil {
		return ""
	}
	return notebooks.Digest(t.Source)
}

// stale says why a run is not what the notebook would give now, whose text has
// that digest.
func (s *Server) stale(rec archive.Record, facts notebooks.Facts, digest string) []string {
	var why []string
	if rec.Failed() {
		why = append(why, "a cell failed")
	}
	if rec.Facts.Hash != facts.Hash {
		why = append(why, "the book has changed since")
	}
	if digest == "" {
		why = append(why, "its notebook is gone")
	} else if digest != rec.Digest {
		why = append(why, "the notebook's text has changed since")
	}
	if rec.Version != s.cfg.Version {
		why = append(why, "made by another version of the program")
	}
	return why
}

func dayWords(t time.Time) string { return t.Format("2006-01-02 15:04") }

type helpPage struct {
	Body     rendered
	Analyses []analysisHelp
	Views    []View
}

type analysisHelp struct {
	Name string
	notebooks.Analysis
}

// notation is the chapter of help on notebooks.
func (s *Server) notation(w http.ResponseWriter, r *http.Request) error {
	n, err := notebooks.Parse("notation", notebooks.Notation(), s.cfg.Runner.Catalogue)
	if err != nil {
		return err
	}
	body, err := innerOf(execution.Unrun(n).Doc, nil)
	if err != nil {
		return err
	}
	p := helpPage{Body: body, Views: s.cfg.Workshop.Views()}
	for _, name := range s.cfg.Runner.Catalogue.Names() {
		p.Analyses = append(p.Analyses, analysisHelp{name, s.cfg.Runner.Catalogue[name]})
	}
	s.render(w, r, http.StatusOK, "notation", "How a notebook is written", p)
	return nil
}

// demo makes the invented workshop.
func (s *Server) demo(w http.ResponseWriter, r *http.Request) error {
	if s.cfg.Workshop.Exists() {
		return newProblem(http.StatusConflict, "There is a book already; the invented workshop never takes its place.", nil)
	}
	if err := s.audit(r, "make the invented workshop", "", "begun"); err != nil {
		return err
	}
	return s.begin(w, r, &jobs.Job{Title: "Making the invented workshop", Back: "/"}, func(ctx context.Context, _ *jobs.Job) (string, error) {
		return "/", s.cfg.Workshop.Demo(ctx)
	})
}

// end ends the program, once the page that says so is on its way.
func (s *Server) end(w http.ResponseWriter, r *http.Request) error {
	s.render(w, r, http.StatusOK, "ended", "Ended", nil)
	s.cfg.End()
	return nil
}
