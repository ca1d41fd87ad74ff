package execution

import (
	"context"
	"errors"
	"fmt"
	"time"

	"lastroom/analysis/frame"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
	"lastroom/reports/page"
)

// A Runner runs notebooks over one book. It may be used by several goroutines:
// each run has its own Source.
type Runner struct {
	Book      notebooks.Book
	Catalogue notebooks.Catalogue
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
	Notebook *notebooks.Notebook
	Facts    notebooks.Facts
	Binding  notebooks.Binding
	Cells    []CellRun
	Values   map[string]page.Value
	Claims   []notebooks.Claim
	Doc      *page.Document
	Tables   []FullTable // every table in full, each name once
}

// A FullTable is a table of a run with all its rows: Whole makes it, since those
// of a query stay in their frame until they are printed.
type FullTable struct {
	ID    string
	Whole func() (page.Table, error)
}

// FileName is the name of its CSV file.
func (t FullTable) FileName() string { return slug(t.ID) + ".csv" }

func made(t page.Table) FullTable {
	return FullTable{t.ID, func() (page.Table, error) { return t, nil }}
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
	Cell   *notebooks.Cell
	State  State
	Err    *notebooks.Error // of Failed
	Why    string           // of NotRun and Stopped
	Cached time.Time        // when the result was made, where it came from the cache

	Blocks []page.Block // what it shows

	frame  frame.Frame // the zero Frame where the cell has no table
	output *notebooks.Output
	tables []FullTable
	key    string
}

// Failures are the errors of the failed cells.
func (r *Run) Failures() []*notebooks.Error {
	var all []*notebooks.Error
	for _, c := range r.Cells {
		if c.Err != nil {
			all = append(all, c.Err)
		}
	}
	return all
}

// Unsupported are the claims that the data don't support.
func (r *Run) Unsupported() []notebooks.Claim {
	var all []notebooks.Claim
	for _, c := range r.Claims {
		if c.Verdict != notebooks.Holds {
			all = append(all, c)
		}
	}
	return all
}

// Over gives an analysis without a notebook a state of the book. Its findings are kept,
// and found again, with those of notebooks.
func (r *Runner) Over(src notebooks.Source) notebooks.Input {
	in := notebooks.Input{Source: src}
	in.Keep, in.KeepBook = r.shelves(src.Facts())
	return in
}

// shelves keep findings on a state of the book, with the shop's rules and costs or
// whatever these are; a runner that does not know its program keeps nothing.
func (r *Runner) shelves(f notebooks.Facts) (shop, book cache.Shelf) {
	if r.Program == "" {
		return cache.Shelf{}, cache.Shelf{}
	}
	return r.Cache.Shelf("finding", f.Hash, f.Setup, f.AsOf.String(), r.Program),
		r.Cache.Shelf("finding of the book", f.Hash, f.AsOf.String(), r.Program)
}

// Run runs a notebook whole, top to bottom, on one snapshot. The error tells
// why nothing could run, or that ctx was done; a cell that fails is part of
// the Run, and later cells that rest on it say why they did not run.
func (r *Runner) Run(ctx context.Context, n *notebooks.Notebook, o Options) (*Run, error) {
	asOf, err := notebooks.ParseAsOf(o.AsOf)
	if err != nil {
		return nil, err
	}
	src, err := r.Book.At(ctx, asOf)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	facts := src.Facts()
	if err := facts.Ordered(); err != nil {
		return nil, err
	}
	binding, err := n.Bind(o.Set, facts)
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
	src   notebooks.Source
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
func (w *worker) cell(ctx context.Context, c *notebooks.Cell) CellRun {
	for _, name := range c.Uses {
		if e := w.earlier(name); e.State != Done {
			return CellRun{Cell: c, State: NotRun, Why: fmt.Sprintf("not run because cell %q %s", name, stateWords(e.State))}
		}
	}
	done := make(chan CellRun, 1)
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

func (w *worker) failed(c *notebooks.Cell, err error) CellRun {
	e := &notebooks.Error{File: w.run.Notebook.File(), Line: c.Line, Cell: c.Name, Why: err.Error()}
	var own *notebooks.Error
	if errors.As(err, &own) {
		e = own
	}
	return CellRun{Cell: c, State: Failed, Err: e}
}

func (w *worker) compute(ctx context.Context, c *notebooks.Cell) CellRun {
	got := CellRun{Cell: c, State: Done}
	var err error
	switch c.Kind {
	case notebooks.SQL:
		err = w.sql(ctx, &got)
	case notebooks.Finding:
		err = w.finding(ctx, &got)
	case notebooks.Figure:
		err = w.figure(&got)
	case notebooks.Show:
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
	case notebooks.SQL:
		values(w.run.Values).ofFrame(name, got.frame)
	case notebooks.Finding:
		for _, v := range got.output.Values {
			v.Name = name + "." + v.Name
			w.run.Values[v.Name] = v
		}
	}
}
