package notebooks

import (
	"context"
	"fmt"

	"lastroom/analysis/frame"
	"lastroom/analysis/stats"
	"lastroom/notebooks/cache"
	"lastroom/reports/page"
)

// A Catalogue holds the analyses a finding cell can be of, by name.
type Catalogue map[string]Analysis

// An Analysis is one analysis of the tool as a finding cell sees it.
type Analysis struct {
	About string // one sentence for the help page
	Keys  []Key
	Parts []string // names of the parts it can be shown in, in order
	Run   func(ctx context.Context, in Input) (*Output, error)
}

// A Key is something a finding cell may say behind its name: key=value.
type Key struct{ Name, About string }

func (a Analysis) keyNames() []string {
	names := make([]string, len(a.Keys))
	for i, k := range a.Keys {
		names[i] = k.Name
	}
	return names
}

// An Input is what an analysis gets: the book, and the keys of its cell with
// parameters filled in.
type Input struct {
	Source  Source
	Keys    map[string]string
	Version string

	keep keeper
}

// A keeper keeps findings that took long under the book's content.
type keeper struct {
	dir   cache.Dir
	parts []string // what every finding depends on
}

func (w *worker) keeper() keeper {
	if w.fresh {
		return keeper{}
	}
	return w.Runner.keeper(w.run.Facts)
}

// keeper keeps findings on a state of the book; a runner that does not know
// its program keeps nothing.
func (r *Runner) keeper(f Facts) keeper {
	if r.Program == "" {
		return keeper{}
	}
	return keeper{r.Cache, []string{"finding", f.Hash, f.Setup, f.AsOf.String(), r.Program}}
}

// kept is the finding as it was computed before from the same book, day,
// program and options, or computed now.
func kept[T any](in Input, name string, options []any, compute func() (T, error)) (T, error) {
	if in.keep.parts == nil {
		return compute()
	}
	return cache.Of(in.keep.dir, cache.Key(append(in.keep.parts, name, fmt.Sprint(options...))...), compute)
}

// An Output is what an analysis gives.
type Output struct {
	Parts    []Shown
	Values   []page.Value // by dotted name, as tape-marks-missing.risk_ratio
	Frame    frame.Frame  // its main table, for figures and queries; may be the zero Frame
	Cautions []string
	Lead     string // one sentence that may lead the document; may be empty
}

// Shown is a named part of an output.
type Shown struct {
	Name   string
	Blocks []page.Block
}

func (o *Output) part(name string) ([]page.Block, bool) {
	for _, p := range o.Parts {
		if p.Name == name {
			return p.Blocks, true
		}
	}
	return nil, false
}

// blocks are all parts, one after the other.
func (o *Output) blocks() []page.Block {
	var all []page.Block
	for _, p := range o.Parts {
		all = append(all, p.Blocks...)
	}
	return all
}

// exactMethod marks a value that is a plain count or text, not an estimate.
const exactMethod = "as counted"

// Exact is a number that was counted, not estimated: its interval is itself.
func Exact(name, text string, x float64, n int) page.Value {
	return page.Value{Name: name, Text: text, E: stats.Estimate{Point: x, Low: x, High: x, Level: stats.DefaultLevel, N: n, Method: exactMethod}}
}

// Words is a value that is text.
func Words(name, text string) page.Value {
	return page.Value{Name: name, Text: text, E: stats.Missing(0, exactMethod)}
}

// Names are the analyses in order.
func (c Catalogue) Names() []string { return sortedKeys(c) }
