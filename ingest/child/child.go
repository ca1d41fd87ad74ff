// Package child starts the program again, as a process of its own that does one job.
//
//  1. [Start] hands a child its job as one line of JSON. What the child writes to its
//     output is its answer, in whatever form who starts it has agreed with it.
//  2. [Job], at the start of main, says whether this process is such a child, and
//     reads the job.
//  3. The child is to end when its input does, so that it outlives neither the program
//     that started it nor the person who waits ([Child.Stop], [Child.Wait]).
package child

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"time"
)

// A Child is the program at work on a job.
type Child struct {
	Out io.Reader // its answer

	cmd     *exec.Cmd
	in      io.Closer
	handing error // what went wrong in handing the job over
	said    start
}

// Start starts the program with an environment to which the variable is added that
// marks the child, and hands it the job.
func Start(variable string, env []string, job any) (*Child, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	line, err := json.Marshal(job)
	if err != nil {
		return nil, err
	}
	c := &Child{cmd: exec.Command(self)}
	c.cmd.Env = append(env, variable+"=1", "MALLOC_ARENA_MAX=2") // more arenas only hold more memory
	c.cmd.Stderr = &c.said
	in, err := c.cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	c.in = in
	if c.Out, err = c.cmd.StdoutPipe(); err != nil {
		return nil, err
	}
	if err := c.cmd.Start(); err != nil {
		return nil, err
	}
	_, c.handing = in.Write(append(line, '\n'))
	return c, nil
}

// Stop tells the child to end, by ending its input.
func (c *Child) Stop() { c.in.Close() }

// Kill ends the child at once, if it has not ended.
func (c *Child) Kill() { _ = c.cmd.Process.Kill() }

// Wait tells the child to end and waits until it has. Its output must have been read,
// or is lost.
func (c *Child) Wait() error {
	c.Stop()
	return errors.Join(c.handing, c.cmd.Wait())
}

// Used is the time of a processor that a child took which has ended.
func (c *Child) Used() time.Duration {
	return c.cmd.ProcessState.UserTime() + c.cmd.ProcessState.SystemTime()
}

// Said is what a child that has ended said of a crash.
func (c *Child) Said() string { return string(c.said.kept) }

// Job reads the job of this process into job, where it was started as a child that
// the variable marks; elsewhere it is no child. ended is called when its input ends.
func Job(variable string, job any, ended func()) (isChild bool, err error) {
	if os.Getenv(variable) == "" {
		return false, nil
	}
	os.Unsetenv(variable) // its own children are others
	in := bufio.NewReader(os.Stdin)
	line, err := in.ReadBytes('\n')
	if err != nil {
		return true, err
	}
	go func() {
		_, _ = io.Copy(io.Discard, in)
		ended()
	}()
	return true, json.Unmarshal(line, job)
}

// A start keeps the first 16 KiB that are written to it: a crash says at its
// start what happened.
type start struct{ kept []byte }

func (s *start) Write(p []byte) (int, error) {
	if room := 16<<10 - len(s.kept); room > 0 {
		s.kept = append(s.kept, p[:min(room, len(p))]...)
	}
	return len(p), nil
}
