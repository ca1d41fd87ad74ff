// Package apart does a load in a process of its own: what it took of memory is given
// back when it ends, and if the engine fails the service goes on.
//
//  1. [Load] starts the program again as a child, hands it the [Job] as one line of
//     JSON and reads off its output how far it is, and last what came of it.
//  2. [Main], at the start of main, makes a process that was started so the child.
//  3. The child stops when its input ends: it outlives neither the service nor the
//     person who waits. A load that is stopped leaves the book as it was.
package apart

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"sync"
	"time"

	"lastroom/ingest/child"
	"lastroom/ingest/load"
)

// childVariable in the environment makes the program a child that loads.
const childVariable = "LASTROOM_LOAD_CHILD"

// killGrace is how long a child that shall stop may take to do so.
const killGrace = 10 * time.Second

// A Job is a load, as [load.Options] describe it, into the book.
type Job struct {
	Book, Rules string
	Now         time.Time
	Paths       []string
	Map         string `json:",omitempty"`
	Rejects     string `json:",omitempty"`
	DryRun      bool   `json:",omitempty"`
}

// A Failed load says why, and with which exit status the command would have ended.
type Failed struct {
	Status int
	Words  string
}

func (f *Failed) Error() string { return f.Words }

// A message is a line of the child's output: how far it is, or, the last one, the
// end.
type message struct {
	Step        string `json:",omitempty"`
	Done, Total int
	End         bool `json:",omitempty"`
	Report      *load.Report
	Failed      *Failed
}

// Load does a job in a child. As that of [load.Sheets], the report may be there with
// an error; that is a *Failed, or of ctx.
func Load(ctx context.Context, job Job, say func(step string, done, total int)) (*load.Report, error) {
	c, err := child.Start(childVariable, os.Environ(), job)
	if err != nil {
		return nil, fmt.Errorf("can't start the process that loads: %w", err)
	}
	ended := make(chan struct{})
	var stopping sync.WaitGroup
	stopping.Go(func() {
		select {
		case <-ended:
		case <-ctx.Done():
			c.Stop()
			select {
			case <-ended:
			case <-time.After(killGrace):
				c.Kill()
			}
		}
	})
	last := message{}
	readErr := read(c.Out, func(m message) {
		if last = m; !m.End {
			say(m.Step, m.Done, m.Total)
		}
	})
	close(ended)
	stopping.Wait()
	endErr := c.Wait()
	switch {
	case ctx.Err() != nil && (!last.End || last.Failed != nil):
		return last.Report, context.Cause(ctx)
	case last.End && last.Failed != nil:
		return last.Report, last.Failed
	case last.End:
		return last.Report, nil
	}
	why, _, _ := strings.Cut(c.Said(), "\n")
	return nil, fmt.Errorf("the process that loads ended before its time, and the book is as it was; do it again, or with the command line, lastroom load (%w %s)",
		errors.Join(readErr, endErr), why)
}

// read gives each message of a child to take.
func read(from io.Reader, take func(message)) error {
	lines := json.NewDecoder(bufio.NewReaderSize(from, 1<<16))
	for {
		var m message
		if err := lines.Decode(&m); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		take(m)
	}
}

// Main makes this process the child, where it was started as one: it does the job by
// do, whose error fail puts into words, and ends the process.
func Main(do func(ctx context.Context, job Job, say func(step string, done, total int)) (*load.Report, error), fail func(error) (status int, words string)) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var job Job
	isChild, err := child.Job(childVariable, &job, stop)
	if !isChild {
		return
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "the load's description can't be read:", err)
		os.Exit(1)
	}
	signal.Ignore(os.Interrupt) // at a terminal it is the service's: the input ends then
	var mu sync.Mutex
	out := json.NewEncoder(os.Stdout)
	tell := func(m message) error {
		mu.Lock()
		defer mu.Unlock()
		return out.Encode(m)
	}
	report, err := do(ctx, job, func(step string, done, total int) { _ = tell(message{Step: step, Done: done, Total: total}) })
	last := message{End: true, Report: report}
	if err != nil {
		status, words := fail(err)
		last.Failed = &Failed{status, words}
	}
	if tell(last) != nil {
		os.Exit(1)
	}
	os.Exit(0)
}
