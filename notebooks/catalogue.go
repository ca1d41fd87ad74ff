package notebooks

import (
	"context"
	"maps"
	"slices"

	"lastroom/analysis/frame"
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
	Source Source
	Keys   map[string]string

	// Keep is where findings that took long are kept, KeepBook where those are that rest
	// on the book alone, not on the shop's rules and costs; the zero Shelf keeps nothing.
	Keep, KeepBook cache.Shelf
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

func (o *Output) Part(name string) ([]page.Block, bool) {
	for _, p := range o.Parts {
		if p.Name == name {
			return p.Blocks, true
		}
	}
	return nil, false
}

// Blocks are all parts, one after the other.
func (o *Output) Blocks() []page.Block {
	var all []page.Block
	for _, p := range o.Parts {
		all = append(all, p.Blocks...)
	}
	return all
}

// Names are the analyses in order.
func (c Catalogue) Names() []string { return slices.Sorted(maps.Keys(c)) }
