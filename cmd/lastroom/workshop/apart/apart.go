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
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"time"

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
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	line, err := json.Marshal(job)
	if err != nil {
		return nil, err
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childVariable+"=1", "MALLOC_ARENA_MAX=2")
	var crash bytes.Buffer
	c.Stderr = &crash
	in, err := c.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := c.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.Start(); err != nil {
		return nil, fmt.Errorf("can't start the process that loads: %w", err)
	}
	ended := make(chan struct{})
	var stopping sync.WaitGroup
	stopping.Go(func() {
		select {
		case <-ended:
		case <-ctx.Done():
			in.Close()
			select {
			case <-ended:
			case <-time.After(killGrace):
				_ = c.Process.Kill()
			}
		}
	})
	_, writeErr := in.Write(append(line, '\n'))
	last := message{}
	readErr := read(out, func(m message) {
		if last = m; !m.End {
			say(m.Step, m.Done, m.Total)
		}
	})
	close(ended)
	stopping.Wait()
	in.Close()
	waitErr := c.Wait()
	switch {
	case ctx.Err() != nil && (!last.End || last.Failed != nil):
		return last.Report, context.Cause(ctx)
	case last.End && last.Failed != nil:
		return last.Report, last.Failed
	case last.End:
		return last.Report, nil
	}
	why, _, _ := strings.Cut(crash.String(), "\n")
	return nil, fmt.Errorf("the process that loads ended before its time, and the book is as it was; do it again, or with the command line, lastroom load (%w %s)",
		errors.Join(writeErr, readErr, waitErr), why)
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
	if os.Getenv(childVariable) == "" {
		return
	}
	os.Unsetenv(childVariable)  // its own children are others
	signal.Ignore(os.Interrupt) // at a terminal it is the service's: the input ends then

	in := bufio.NewReader(os.Stdin)
	line, err := in.ReadBytes('\n')
	var job Job
	if err == nil {
		err = json.Unmarshal(line, &job)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "the load's description can't be read:", err)
		os.Exit(1)
	}
	ctx, stop := context.WithCancel(context.Background())
	go func() {
		_, _ = io.Copy(io.Discard, in)
		stop()
	}()
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
