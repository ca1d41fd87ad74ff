package service

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"lastroom/notebooks/service/jobs"
)

type jobPage struct {
	Job   *jobs.Job
	State jobs.State
}

func (s *Server) job(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.Find(r.PathValue("job"))
	if err != nil {
		return err
	}
	st := s.jobs.State(j, s.cfg.Clock())
	if st.Ended && st.Next != "" {
		http.Redirect(w, r, st.Next, http.StatusSeeOther)
		return nil
	}
	s.render(w, r, http.StatusOK, "job", j.Title, jobPage{j, st})
	return nil
}

func (s *Server) jobState(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.Find(r.PathValue("job"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(s.jobs.State(j, s.cfg.Clock()))
}

// begin starts work and goes to its end, where that comes at once, or to the
// page that shows how far it is.
func (s *Server) begin(w http.ResponseWriter, r *http.Request, j *jobs.Job, work func(context.Context, *jobs.Job) (string, error)) error {
	if err := s.jobs.Start(j, s.cfg.Clock(), work); err != nil {
		return err
	}
	select {
	case <-j.Ended:
	case <-time.After(patience):
	case <-r.Context().Done():
	}
	http.Redirect(w, r, "/job/"+j.ID, http.StatusSeeOther)
	return nil
}

// patience is how long a form waits for its answer before it shows progress.
const patience = 1500 * time.Millisecond

var errStopped = errors.New("stopped on request")

// stopJob stops a run; it ends within a second.
func (s *Server) stopJob(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.Find(r.PathValue("job"))
	if err != nil {
		return err
	}
	j.Stop(errStopped)
	select {
	case <-j.Ended:
	case <-time.After(2 * time.Second):
	}
	http.Redirect(w, r, "/job/"+j.ID, http.StatusSeeOther)
	return nil
}
