package notebooks

import (
	"context"
	"errors"
	"fmt"
	"time"

	"lastroom/analysis/frame"
	"lastroom/notebooks/cache"
	"lastroom/reports/page"
)

// A Runner runs notebooks over one book. It may be used by several goroutines:
// each run has its own Source.
type Runner struct {
	Book      Book
	Catalogue Catalogue
	Version   string
	Cache     cache.Dir // the zero Dir keeps nothing
	Program   string    // identity of the program, part of each cache key
}

// Options are what a run is made with.
type Options struct {
	Set      map[string]string // parameters by name; the others take their defaults
	AsOf     string            // a day, or "" for the newest in the book
	Progress func(Progress)    // called before each cell and at the end; may be nil
	Fresh    bool              // read nothing from the cache
}

// Progress says how far a run is.
type Progress struct {
	Cell  string // about to run, "" at the end
	Done  int
	Cells int
}

// A Run is a notebook that has been run.
type Run struct {
	Notebook *Notebook
	Facts    Facts
	Binding  Binding
	Cells    []CellRun
	Values   map[string]page.Value
	Claims   []Claim
	Doc      *page.Document
	Tables   []Table // every table in full, each name once
}

// A Table is a table of a run. Whole makes it with all its rows: those of a query
// stay in their frame until they are printed.
type Table struct {
	ID    string
	Whole func() (page.Table, error)
}

func made(t page.Table) Table {
	return Table{t.ID, func() (page.Table, error) { return t, nil }}
}

// A State is how the running of a cell ended.
type State string

// The states of a cell.
const (
	Done    State = "done"
	Failed  State = "failed"
	NotRun  State = "not run"
	Stopped State = "stopped"
)

// A CellRun is a cell that has been run, or not.
type CellRun struct {
	Cell   *Cell
	State  State
	Err    *Error    // of Failed
	Why    string    // of NotRun and Stopped
	Cached time.Time // when the result was made, where it came from the cache
	Took   time.Duration

	frame  frame.Frame // the zero Frame where the cell has no table
	output *Output
	blocks []page.Block
	tables []Table
	key    string
}

// Failures are the errors of the failed cells.
func (r *Run) Failures() []*Error {
	var all []*Error
	for _, c := range r.Cells {
		if c.Err != nil {
			all = append(all, c.Err)
		}
	}
	return all
}

// Unsupported are the claims that the data don't support.
func (r *Run) Unsupported() []Claim {
	var all []Claim
	for _, c := range r.Claims {
		if c.Verdict != Holds {
			all = append(all, c)
		}
	}
	return all
}

// Run runs a notebook whole, top to bottom, on one snapshot. The error tells
// why nothing could run, or that ctx was done; a cell that fails is part of
// the Run, and later cells that rest on it say why they did not run.
func (r *Runner) Run(ctx context.Context, n *Notebook, o Options) (*Run, error) {
	asOf, err := parseAsOf(o.AsOf)
	if err != nil {
		return nil, err
	}
	src, err := r.Book.At(ctx, asOf)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	facts := src.Facts()
	binding, err := n.Bind(o.Set, facts.AsOf)
	if err != nil {
		return nil, err
	}
	binding.Args["as_of"] = facts.AsOf
	run := &Run{Notebook: n, Facts: facts, Binding: binding, Values: map[string]page.Value{}}
	w := worker{Runner: r, run: run, src: src, fresh: o.Fresh}
	for i, c := range n.Cells {
		if o.Progress != nil {
			o.Progress(Progress{c.Name, i, len(n.Cells)})
		}
		run.Cells = append(run.Cells, w.cell(ctx, c))
		if ctx.Err() != nil {
			return nil, fmt.Errorf("stopped in cell %q, %d of %d: %w", c.Name, i+1, len(n.Cells), context.Cause(ctx))
		}
	}
	if o.Progress != nil {
		o.Progress(Progress{"", len(n.Cells), len(n.Cells)})
	}
	run.compose(r.Version)
	return run, nil
}

// A worker runs the cells of one run.
type worker struct {
	*Runner
	run   *Run
	src   Source
	fresh bool
}

func (w *worker) earlier(name string) *CellRun {
	for i := range w.run.Cells {
		if w.run.Cells[i].Cell.Name == name {
			return &w.run.Cells[i]
		}
	}
	return nil
}

// cell runs one cell; it comes back within moments of ctx being done, even
// where the work itself can't be interrupted.
func (w *worker) cell(ctx context.Context, c *Cell) CellRun {
	for _, name := range c.Uses {
		if e := w.earlier(name); e.State != Done {
			return CellRun{Cell: c, State: NotRun, Why: fmt.Sprintf("not run because cell %q %s", name, stateWords(e.State))}
		}
	}
	done := make(chan CellRun, 1)
	start := time.Now()
	go func() {
		defer func() {
			if p := recover(); p != nil {
				done <- w.failed(c, fmt.Errorf("the program met something it did not expect: %v", p))
			}
		}()
		done <- w.compute(ctx, c)
	}()
	select {
	case got := <-done:
		got.Took = time.Since(start)
		if ctx.Err() != nil {
			return CellRun{Cell: c, State: Stopped, Why: "stopped"}
		}
		w.keepValues(&got)
		return got
	case <-ctx.Done():
		return CellRun{Cell: c, State: Stopped, Why: "stopped"}
	}
}

func stateWords(s State) string {
	if s == NotRun {
		return "was not run"
	}
	return string(s)
}

func (w *worker) failed(c *Cell, err error) CellRun {
	e := &Error{File: w.run.Notebook.file(), Line: c.Line, Cell: c.Name, Why: err.Error()}
	var own *Error
	if errors.As(err, &own) {
		e = own
	}
	return CellRun{Cell: c, State: Failed, Err: e}
}

func (w *worker) compute(ctx context.Context, c *Cell) CellRun {
	got := CellRun{Cell: c, State: Done}
	var err error
	switch c.Kind {
	case SQL:
		err = w.sql(ctx, &got)
	case Finding:
		err = w.finding(ctx, &got)
	case Figure:
		err = w.figure(&got)
	case Show:
		err = w.show(&got)
	}
	if err != nil {
		return w.failed(c, err)
	}
	return got
}

// keepValues names what a cell found.
func (w *worker) keepValues(got *CellRun) {
	if got.State != Done {
		return
	}
	name := got.Cell.Name
	switch got.Cell.Kind {
	case SQL:
		values(w.run.Values).ofFrame(name, got.frame)
	case Finding:
		for _, v := range got.output.Values {
			v.Name = name + "." + v.Name
			w.run.Values[v.Name] = v
		}
	}
}
