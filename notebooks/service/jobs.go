package service

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"lastroom/notebooks/execution"
)

// mostWaiting is how many runs may wait for their turn.
const mostWaiting = 20

// mostRuns is how many runs go on at once. Each of them keeps several processors
// busy by itself, and pages are to be had meanwhile.
func mostRuns() int { return max(1, runtime.GOMAXPROCS(0)/2) }

// jobs are the runs under way, and for a while the ended ones. What takes long
// stands in this queue; pages never do.
type jobs struct {
	mu      sync.Mutex
	by      map[string]*job
	waiting []*job // the next one first
	running int
	closed  bool
	log     *slog.Logger
}

// A job is work under way: a run, a load of sheets, the making of the
// invented workshop.
type job struct {
	ID, Title string
	Back      string // page to go back to
	Started   time.Time
	cancel    context.CancelCauseFunc
	turn      chan struct{} // closed when its turn comes
	ended     chan struct{}

	mu       sync.Mutex
	progress execution.Progress // of a run
	step     string             // of other work, with how far it is
	next     string             // page to go to, once ended well
	err      error
	loaded   *LoadResult // of a load
}

var (
	errStopped = errors.New("stopped on request")
	errClosing = errors.New("the service is closing")
)

// stopAll stops the runs under way, and lets none begin.
func (js *jobs) stopAll() {
	js.mu.Lock()
	defer js.mu.Unlock()
	js.closed = true
	for _, j := range js.by {
		j.cancel(errClosing)
	}
}

// start puts work under a new job into the queue.
func (js *jobs) start(j *job, now time.Time, work func(context.Context, *job) (string, error)) error {
	js.mu.Lock()
	defer js.mu.Unlock()
	for id, old := range js.by {
		if old.hasEnded() && now.Sub(old.Started) > time.Hour {
			delete(js.by, id)
		}
	}
	if js.closed {
		return newProblem(http.StatusServiceUnavailable, "The service is closing.", nil)
	}
	if len(js.waiting) >= mostWaiting {
		return newProblem(http.StatusServiceUnavailable, "Many runs are waiting already. Try again when some have ended.", nil)
	}
	j.ID, j.Started, j.turn, j.ended = rand.Text(), now, make(chan struct{}), make(chan struct{})
	var ctx context.Context
	ctx, j.cancel = context.WithCancelCause(context.Background()) // it goes on when the request has ended
	if js.by == nil {
		js.by = map[string]*job{}
	}
	js.by[j.ID] = j
	js.waiting = append(js.waiting, j)
	js.giveTurns()
	go func() {
		defer close(j.ended)
		defer debug.FreeOSMemory() // a load takes more than all pages together
		defer js.leave(j)
		defer j.cancel(nil)
		select {
		case <-j.turn:
			j.end(js.survive(ctx, j, work))
		case <-ctx.Done():
			j.end("", context.Cause(ctx))
		}
	}()
	return nil
}

// survive does the work of a job. A panic in it is the end of the job, not of the
// service.
func (js *jobs) survive(ctx context.Context, j *job, work func(context.Context, *job) (string, error)) (next string, err error) {
	defer func() {
		if p := recover(); p != nil {
			js.log.Error("a job failed", "job", j.Title, "panic", p, "at", string(debug.Stack()))
			next, err = "", newProblem(http.StatusInternalServerError, "The program made a mistake at this and stopped it; the service goes on. What stands in the service's own window says where.", nil)
		}
	}()
	return work(ctx, j)
}

// giveTurns lets those begin for which there is room. js is locked.
func (js *jobs) giveTurns() {
	for js.running < mostRuns() && len(js.waiting) > 0 {
		close(js.waiting[0].turn)
		js.waiting = js.waiting[1:]
		js.running++
	}
}

// leave takes a job that has ended out of the queue, wherever in it it was.
func (js *jobs) leave(j *job) {
	js.mu.Lock()
	defer js.mu.Unlock()
	if i := slices.Index(js.waiting, j); i >= 0 {
		js.waiting = slices.Delete(js.waiting, i, i+1)
		return
	}
	js.running--
	js.giveTurns()
}

// before is how many jobs come before one that waits; 0 where it has its turn.
func (js *jobs) before(j *job) int {
	js.mu.Lock()
	defer js.mu.Unlock()
	i := slices.Index(js.waiting, j)
	if i < 0 {
		return 0
	}
	return js.running + i
}

func (j *job) hasEnded() bool {
	select {
	case <-j.ended:
		return true
	default:
		return false
	}
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

// sayStep notes how far work other than a run is.
func (j *job) sayStep(step string, done, total int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.step, j.progress.Done, j.progress.Cells = step, done, total
}

// state says how a job stands, for the page and its script.
func (js *jobs) state(j *job, now time.Time) jobState {
	before := js.before(j)
	j.mu.Lock()
	defer j.mu.Unlock()
	st := jobState{Done: j.progress.Done, Cells: j.progress.Cells, Cell: j.progress.Cell, Seconds: int(now.Sub(j.Started).Seconds())}
	switch {
	case j.hasEnded():
		st.Ended, st.Next = true, j.next
		if j.err != nil {
			_, st.Problem = statusOf(j.err)
		}
	case before > 0:
		st.Waiting = true
		st.Says = fmt.Sprintf("Waiting: %d %s before this one.", before, plural(before, "run or load comes", "runs and loads come"))
	case j.step != "" && st.Cells > 0:
		st.Says = fmt.Sprintf("%s: %d %%, %d s.", upper(j.step), 100*st.Done/st.Cells, st.Seconds)
	case j.step != "":
		st.Says = fmt.Sprintf("%s, %d s.", upper(j.step), st.Seconds)
	case st.Cells > 0:
		st.Says = fmt.Sprintf("Cell %d of %d done, %d s.", st.Done, st.Cells, st.Seconds)
	default:
		st.Says = "At work."
	}
	return st
}

type jobState struct {
	Ended   bool   `json:"ended"`
	Waiting bool   `json:"waiting"`
	Says    string `json:"says,omitempty"` // how far it is, in words
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
	st := s.jobs.state(j, s.cfg.Clock())
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
	return json.NewEncoder(w).Encode(s.jobs.state(j, s.cfg.Clock()))
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
