package sandbox

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"lastroom/analysis/frame"
	"lastroom/ingest/child"
)

// childVariable in the environment makes the program a child that runs one
// query.
const childVariable = "LASTROOM_SQL_CHILD"

// runChild has a child do the job and reads its answer.
func runChild(ctx context.Context, job childJob) (answer frame.Frame, err error) {
	// Nothing of the parent's environment is the child's business.
	c, err := child.Start(childVariable, []string{"TZ=UTC", "GOMAXPROCS=2"}, job)
	if err != nil {
		return answer, fmt.Errorf("can't start the process that runs the SQL: %w", err)
	}
	ctx, cancel := context.WithTimeoutCause(ctx, job.Time+killGrace, errTooLong)
	defer cancel()
	defer context.AfterFunc(ctx, c.Kill)()
	answer, readErr := readAnswer(io.LimitReader(c.Out, childAnswer))
	cancelled := context.Cause(ctx)
	if readErr != nil {
		c.Kill() // whatever it is still doing
	}
	endErr := c.Wait()
	if endErr != nil && cancelled == nil && c.Used() > job.Work-100*time.Millisecond {
		return answer, tooLong(job.Work) // the system ended it
	}
	return answer, childError(cancelled, job, readErr, endErr, c.Said())
}

// childError decides what to say of a child that did not answer in full.
func childError(cancelled error, job childJob, readErr, endErr error, talk string) error {
	var mistake *frame.Error
	switch {
	case readErr == nil:
		return nil
	case errors.As(readErr, &mistake):
		return mistake
	case errors.Is(cancelled, errTooLong):
		return tooLong(job.Time)
	case cancelled != nil:
		return cancelled
	case strings.Contains(talk, "out of memory"), strings.Contains(talk, "bad_alloc"), strings.Contains(talk, "cannot allocate"),
		strings.Contains(talk, "pthread_create failed"), strings.Contains(talk, "Resource temporarily unavailable"):
		return errTooMuch
	case endErr != nil:
		return fmt.Errorf("the process that ran the SQL stopped (%w); it may have needed too much memory", endErr)
	}
	return fmt.Errorf("the answer of the process that ran the SQL can't be read: %w", readErr)
}

// readAnswer reads the columns, the rows and the end.
func readAnswer(r io.Reader) (frame.Frame, error) {
	rows := frame.NewBuilder(nil)
	br := bufio.NewReaderSize(r, 1<<16)
	for {
		line, err := br.ReadBytes('\n')
		if err != nil {
			return frame.Frame{}, fmt.Errorf("the answer stops short: %w", io.ErrUnexpectedEOF)
		}
		if line[0] == '[' {
			if err := rows.AddJSON(line); err != nil {
				return frame.Frame{}, err
			}
			continue
		}
		var l childLine
		if err := json.Unmarshal(line, &l); err != nil {
			return frame.Frame{}, err
		}
		switch {
		case l.Error != nil:
			return frame.Frame{}, l.Error
		case l.End:
			f, err := rows.Frame()
			f.More = l.More
			return f, err
		default:
			rows = frame.NewBuilder(l.Columns)
		}
	}
}
