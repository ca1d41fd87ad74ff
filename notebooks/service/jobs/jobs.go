// Package jobs is the queue of what takes long: runs, loads, the making of the invented
// workshop. A few go on at once, the others wait for their turn; a panic ends one job
// and no other. Pages never stand in it.
//
//  1. [Queue.Start] takes a [Job] in; its work begins when its turn comes.
//  2. A page asks [Queue.State] how far it is, as often as it likes; a person may stop it.
//  3. An ended job is held for a while, so that its page can say how it went.
package jobs

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"lastroom/analysis/form"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
)

// MostWaiting is how many runs may wait for their turn.
const MostWaiting = 20

// AtOnce is how many runs go on at once. Each of them keeps several processors
// busy by itself, and pages are to be had meanwhile.
func AtOnce() int { return max(1, runtime.GOMAXPROCS(0)/2) }

// A Queue has the jobs under way, and for a while the ended ones.
type Queue struct {
	Log   *slog.Logger
	Words func(error) string // of an error, for the page

	mu      sync.Mutex
	by      map[string]*Job
	waiting []*Job // the next one first
	running int
	closed  bool
}

// A Job is work under way: a run, a load of sheets, the making of the
// invented workshop.
type Job struct {
	ID, Title string
	Back      string // page to go back to
	Started   time.Time
	cancel    context.CancelCauseFunc
	turn      chan struct{} // closed when its turn comes
	Ended     chan struct{} // closed when it has ended

	mu       sync.Mutex
	progress execution.Progress // of a run
	step     string             // of other work, with how far it is
	next     string             // page to go to, once ended well
	err      error
	result   any // what it kept
}

var errClosing = errors.New("the service is closing")

// StopAll stops the runs under way, and lets none begin.
func (js *Queue) StopAll() {
	js.mu.Lock()
	defer js.mu.Unlock()
	js.closed = true
	for _, j := range js.by {
		j.cancel(errClosing)
	}
}

// Start puts work under a new job into the queue.
func (js *Queue) Start(j *Job, now time.Time, work func(context.Context, *Job) (string, error)) error {
	js.mu.Lock()
	defer js.mu.Unlock()
	for id, old := range js.by {
		if old.hasEnded() && now.Sub(old.Started) > time.Hour {
			delete(js.by, id)
		}
	}
	if js.closed {
		return topic.NewProblem(http.StatusServiceUnavailable, "The service is closing.", nil)
	}
	if len(js.waiting) >= MostWaiting {
		return topic.NewProblem(http.StatusServiceUnavailable, "Many runs are waiting already. Try again when some have ended.", nil)
	}
	j.ID, j.Started, j.turn, j.Ended = rand.Text(), now, make(chan struct{}), make(chan struct{})
	var ctx context.Context
	ctx, j.cancel = context.WithCancelCause(context.Background()) // it goes on when the request has ended
	if js.by == nil {
		js.by = map[string]*Job{}
	}
	js.by[j.ID] = j
	js.waiting = append(js.waiting, j)
	js.giveTurns()
	go func() {
		defer close(j.Ended)
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
func (js *Queue) survive(ctx context.Context, j *Job, work func(context.Context, *Job) (string, error)) (next string, err error) {
	defer func() {
		if p := recover(); p != nil {
			js.Log.Error("a job failed", "job", j.Title, "panic", p, "at", string(debug.Stack()))
			next, err = "", topic.NewProblem(http.StatusInternalServerError, "The program made a mistake at this and stopped it; the service goes on. What stands in the service's own window says where.", nil)
		}
	}()
	return work(ctx, j)
}

// giveTurns lets those begin for which there is room. js is locked.
func (js *Queue) giveTurns() {
	for js.running < AtOnce() && len(js.waiting) > 0 {
		close(js.waiting[0].turn)
		js.waiting = js.waiting[1:]
		js.running++
	}
}

// leave takes a job that has ended out of the queue, wherever in it it was.
func (js *Queue) leave(j *Job) {
	js.mu.Lock()
	defer js.mu.Unlock()
	if i := slices.Index(js.waiting, j); i >= 0 {
		js.waiting = slices.Delete(js.waiting, i, i+1)
		return
	}
	js.running--
	js.giveTurns()
}

// Before is how many jobs come before one that waits; 0 where it has its turn.
func (js *Queue) Before(j *Job) int {
	js.mu.Lock()
	defer js.mu.Unlock()
	i := slices.Index(js.waiting, j)
	if i < 0 {
		return 0
	}
	return js.running + i
}

func (j *Job) hasEnded() bool {
	select {
	case <-j.Ended:
		return true
	default:
		return false
	}
}

func (j *Job) end(next string, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.next, j.err = next, err
}

// Say notes how far a run is.
func (j *Job) Say(p execution.Progress) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.progress = p
}

// SayStep notes how far work other than a run is.
func (j *Job) SayStep(step string, done, total int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.step, j.progress.Done, j.progress.Cells = step, done, total
}

// Stop stops a job; it ends within a second, and says why.
func (j *Job) Stop(why error) { j.cancel(why) }

// Problem is why a job that has ended did not end well.
func (j *Job) Problem() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.err
}

// Keep keeps something for the page after the job, as what a load did.
func (j *Job) Keep(what any) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.result = what
}

// Kept is what a job has kept, nil before.
func (j *Job) Kept() any {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.result
}

// State says how a job stands, for the page and its script.
func (js *Queue) State(j *Job, now time.Time) State {
	before := js.Before(j)
	j.mu.Lock()
	defer j.mu.Unlock()
	st := State{Done: j.progress.Done, Cells: j.progress.Cells, Cell: j.progress.Cell, Seconds: int(now.Sub(j.Started).Seconds())}
	switch {
	case j.hasEnded():
		st.Ended, st.Next = true, j.next
		if j.err != nil {
			st.Problem = js.Words(j.err)
		}
	case before > 0:
		st.Waiting = true
		st.Says = "Waiting: " + page.Counted(before, "run or load comes", "runs and loads come") + " before this one."
	case j.step != "" && st.Cells > 0:
		st.Says = fmt.Sprintf("%s: %d %%, %d s.", form.Capitalised(j.step), 100*st.Done/st.Cells, st.Seconds)
	case j.step != "":
		st.Says = fmt.Sprintf("%s, %d s.", form.Capitalised(j.step), st.Seconds)
	case st.Cells > 0:
		st.Says = fmt.Sprintf("Cell %d of %d done, %d s.", st.Done, st.Cells, st.Seconds)
	default:
		st.Says = "At work."
	}
	return st
}

// A State is how a job stands.
type State struct {
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

// Find finds a job by its id.
func (js *Queue) Find(id string) (*Job, error) {
	js.mu.Lock()
	defer js.mu.Unlock()
	if j, ok := js.by[id]; ok {
		return j, nil
	}
	return nil, topic.NotFound("There is no such run under way. Runs that ended are in the list of runs.")
}
