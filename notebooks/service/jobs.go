package service

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"net/http"
	"sync"
	"time"

	"lastroom/notebooks/execution"
)

// mostRuns is how many runs go on at once; others wait their turn.
const mostRuns = 2

// mostWaiting is how many runs may wait.
const mostWaiting = 20

// jobs are the runs under way, and for a while the ended ones.
type jobs struct {
	mu     sync.Mutex
	by     map[string]*job
	room   chan struct{}
	ctx    context.Context
	cancel context.CancelCauseFunc
}

// A job is work under way: a run, a load of sheets, the making of the
// invented workshop.
type job struct {
	ID, Title string
	Back      string // page to go back to
	Started   time.Time
	cancel    context.CancelCauseFunc
	ended     chan struct{}

	mu       sync.Mutex
	progress execution.Progress
	running  bool
	next     string // page to go to, once ended well
	err      error
	loaded   *LoadResult // of a load
}

var (
	errStopped = errors.New("stopped on request")
	errClosing = errors.New("the service is closing")
)

func (js *jobs) init() {
	js.by = map[string]*job{}
	js.room = make(chan struct{}, mostRuns)
	js.ctx, js.cancel = context.WithCancelCause(context.Background())
}

func (js *jobs) stopAll() { js.cancel(errClosing) }

// start runs work under a new job.
func (js *jobs) start(j *job, now time.Time, work func(context.Context, *job) (string, error)) error {
	js.mu.Lock()
	defer js.mu.Unlock()
	waiting := 0
	for id, old := range js.by {
		select {
		case <-old.ended:
			if now.Sub(old.Started) > time.Hour {
				delete(js.by, id)
			}
		default:
			waiting++
		}
	}
	if waiting >= mostRuns+mostWaiting {
		return &problem{http.StatusServiceUnavailable, "Many runs are waiting already. Try again when some have ended.", nil}
	}
	j.ID, j.Started, j.ended = rand.Text(), now, make(chan struct{})
	var ctx context.Context
	ctx, j.cancel = context.WithCancelCause(js.ctx)
	js.by[j.ID] = j
	go func() {
		defer close(j.ended)
		defer j.cancel(nil)
		select {
		case js.room <- struct{}{}:
			defer func() { <-js.room }()
		case <-ctx.Done():
			j.end("", context.Cause(ctx))
			return
		}
		j.mu.Lock()
		j.running = true
		j.mu.Unlock()
		j.end(work(ctx, j))
	}()
	return nil
}

func (j *job) end(next string, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.next, j.err = next, err
}

func (j *job) say(p execution.Progress) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.progress = p
}

// state says how the job stands, for the page and its script.
func (j *job) state(now time.Time) jobState {
	j.mu.Lock()
	defer j.mu.Unlock()
	st := jobState{Done: j.progress.Done, Cells: j.progress.Cells, Cell: j.progress.Cell, Seconds: int(now.Sub(j.Started).Seconds())}
	select {
	case <-j.ended:
		st.Ended, st.Next = true, j.next
		if j.err != nil {
			_, st.Problem = statusOf(j.err)
		}
	default:
		st.Waiting = !j.running
	}
	return st
}

type jobState struct {
	Ended   bool   `json:"ended"`
	Waiting bool   `json:"waiting"`
	Next    string `json:"next,omitempty"`
	Problem string `json:"problem,omitempty"`
	Cell    string `json:"cell"`
	Done    int    `json:"done"`
	Cells   int    `json:"cells"`
	Seconds int    `json:"seconds"` // since it was asked for
}

func (js *jobs) find(id string) (*job, error) {
	js.mu.Lock()
	defer js.mu.Unlock()
	if j, ok := js.by[id]; ok {
		return j, nil
	}
	return nil, notFound("There is no such run under way. Runs that ended are in the list of runs.")
}

type jobPage struct {
	Job   *job
	State jobState
}

func (s *Server) job(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.find(r.PathValue("job"))
	if err != nil {
		return err
	}
	st := j.state(s.cfg.Clock())
	if st.Ended && st.Next != "" {
		http.Redirect(w, r, st.Next, http.StatusSeeOther)
		return nil
	}
	s.render(w, r, http.StatusOK, "job", j.Title, jobPage{j, st})
	return nil
}

func (s *Server) jobState(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.find(r.PathValue("job"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(j.state(s.cfg.Clock()))
}

// begin starts work and goes to its end, where that comes at once, or to the
// page that shows how far it is.
func (s *Server) begin(w http.ResponseWriter, r *http.Request, j *job, work func(context.Context, *job) (string, error)) error {
	if err := s.jobs.start(j, s.cfg.Clock(), work); err != nil {
		return err
	}
	select {
	case <-j.ended:
	case <-time.After(patience):
	case <-r.Context().Done():
	}
	http.Redirect(w, r, "/job/"+j.ID, http.StatusSeeOther)
	return nil
}

// patience is how long a form waits for its answer before it shows progress.
const patience = 1500 * time.Millisecond

// stopJob stops a run; it ends within a second.
func (s *Server) stopJob(w http.ResponseWriter, r *http.Request) error {
	j, err := s.jobs.find(r.PathValue("job"))
	if err != nil {
		return err
	}
	j.cancel(errStopped)
	select {
	case <-j.ended:
	case <-time.After(2 * time.Second):
	}
	http.Redirect(w, r, "/job/"+j.ID, http.StatusSeeOther)
	return nil
}
