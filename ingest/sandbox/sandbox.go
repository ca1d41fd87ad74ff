// Package sandbox runs the SQL of a person in a process of its own, locked away
// from files, settings and the network.
//
//  1. [Run] starts the program again as a child, hands it the [frame.Query] as one
//     line of JSON and reads the [frame.Frame] off its output.
//  2. [Main], the first call of main, makes a process that was started so the
//     child: it limits itself, opens the snapshot, closes every door, lets one
//     SELECT through and writes the answer.
//  3. A child that takes too long or too much is ended; what was wrong with the
//     SQL is a [frame.Error].
package sandbox

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/ingest/bookfile"
)

// Options say on which day the book is looked at and how long a query may take.
type Options struct {
	AsOf cohort.Day // as in orderbook.Options
	// Time is how long it may take; 0: 20 s. One second later the process
	// that runs it is ended, whatever it does.
	Time    time.Duration
	Program string
}

// Limits of a person's SQL.
const (
	defaultRows  = 10_000
	defaultTime  = 20 * time.Second
	killGrace    = time.Second
	longestQuery = 10_000  // bytes of SQL
	childSpace   = 1 << 30 // bytes of address space beyond what starting takes
	childAnswer  = 32 << 20
)

// A childJob is what the parent tells the child, as one line of JSON.
type childJob struct {
	Snapshot string        `json:"snapshot"`
	AsOf     cohort.Day    `json:"as_of"`
	SQL      string        `json:"sql"`
	Args     []childArg    `json:"args"`
	MaxRows  int           `json:"max_rows"`
	Time     time.Duration `json:"time"`
	Work     time.Duration `json:"work"`   // of a processor
	Memory   int64         `json:"memory"` // megabytes the engine gives itself
}

// A childArg is a named parameter with its type, so that numbers stay whole.
type childArg struct {
	Name  string `json:"name"`
	Type  string `json:"type"`
	Value string `json:"value"`
}

// A childLine is a line of the child's answer that is not a row: first the
// columns, last the end or an error. The rows between are JSON arrays.
type childLine struct {
	Columns []frame.Column `json:"columns,omitempty"`
	End     bool           `json:"end,omitempty"`
	More    bool           `json:"more,omitempty"`
	Error   *frame.Error   `json:"error,omitempty"`
}

func jobOf(snapshot string, q frame.Query, o Options) (childJob, error) {
	if len(q.SQL) > longestQuery {
		return childJob{}, &frame.Error{Message: fmt.Sprintf("the SQL is longer than %d characters", longestQuery)}
	}
	j := childJob{Snapshot: snapshot, AsOf: o.AsOf, SQL: q.SQL, MaxRows: q.MaxRows, Time: o.Time}
	if j.MaxRows <= 0 {
		j.MaxRows = defaultRows
	}
	if j.Time <= 0 {
		j.Time = defaultTime
	}
	for name, v := range q.Args {
		a, err := argOf(name, v)
		if err != nil {
			return childJob{}, err
		}
		j.Args = append(j.Args, a)
	}
	return j, nil
}

func argOf(name string, v any) (childArg, error) {
	switch v := v.(type) {
	case nil:
		return childArg{name, "null", ""}, nil
	case string:
		return childArg{name, "text", v}, nil
	case int:
		return childArg{name, "integer", strconv.Itoa(v)}, nil
	case int64:
		return childArg{name, "integer", strconv.FormatInt(v, 10)}, nil
	case float64:
		return childArg{name, "real", strconv.FormatFloat(v, 'g', -1, 64)}, nil
	case bool:
		return childArg{name, "boolean", strconv.FormatBool(v)}, nil
	case cohort.Day:
		return childArg{name, "day", v.String()}, nil
	}
	return childArg{}, fmt.Errorf("parameter %s can't be a %T", name, v)
}

// value is the parameter as the driver binds it.
func (a childArg) value() (any, error) {
	switch a.Type {
	case "text":
		return a.Value, nil
	case "integer":
		return strconv.ParseInt(a.Value, 10, 64)
	case "real":
		return strconv.ParseFloat(a.Value, 64)
	case "boolean":
		return strconv.ParseBool(a.Value)
	case "day":
		if a.Value == "" {
			return nil, nil
		}
		d, err := cohort.ParseDay(a.Value)
		return d.Time(), err
	}
	return nil, nil
}

// Run runs a person's SQL, one SELECT or EXPLAIN over the book's tables and
// views, in a process of its own, on the snapshot of the
// book, locked away from files, settings and the network, with limits on
// memory, time and rows. It ends within a second of ctx or of the time limit.
// What was wrong with the SQL is a *frame.Error.
//
// The program's main must call Main first.
func Run(ctx context.Context, book string, q frame.Query, o Options) (frame.Frame, error) {
	f := bookfile.FilesOf(book)
	if err := bookfile.Settle(ctx, f, o.Program); err != nil {
		return frame.Frame{}, err
	}
	job, err := jobOf(f.Snapshot(), q, o)
	if err != nil {
		return frame.Frame{}, err
	}
	info, err := os.Stat(job.Snapshot)
	if err != nil {
		return frame.Frame{}, err
	}
	job.Work, job.Memory = allowed(info.Size())
	return runChild(ctx, job)
}

// allowed is what a question over a book of so many bytes may take: little over a
// small book, where more would be a mistake, and in proportion over a large one. The
// process takes a hundred megabytes besides, and the service some time.
func allowed(size int64) (work time.Duration, megabytes int64) {
	const large = 1 << 30
	size = min(size, large)
	return 3*time.Second + time.Duration(37*size/large)*time.Second, min(100+2*(size>>20), 512)
}

var (
	errTooLong = errors.New("took too long")
	errTooMuch = &frame.Error{Message: "it needs more memory than a question may take; ask for less, as with a LIMIT, a WHERE or fewer columns"}
)

func tooLong(limit time.Duration) *frame.Error {
	return &frame.Error{Message: fmt.Sprintf("it took longer than the %s a question may take, and was stopped; ask for less", limit)}
}
