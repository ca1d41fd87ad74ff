package notebooks

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
)

// A Notebook is a parsed notebook file.
type Notebook struct {
	Name   string // file name without .md
	Title  string
	For    string // whom it is for
	Params []Param
	Parts  []Part
	Cells  []*Cell // the cells among the parts, in order
	Source []byte
}

// Digest is the SHA-256 of the notebook's text, in hexadecimal.
func (n *Notebook) Digest() string { return Digest(n.Source) }

// Digest is the SHA-256 of a text, in hexadecimal.
func Digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

var titleParam = regexp.MustCompile(`\$[a-z][a-z0-9_]*`)

// Heading is the notebook's title for lists, without the values of a run.
func (n *Notebook) Heading() string { return titleParam.ReplaceAllString(n.Title, "…") }

// cell finds a cell by name.
func (n *Notebook) cell(name string) (*Cell, bool) {
	for _, c := range n.Cells {
		if c.Name == name {
			return c, true
		}
	}
	return nil, false
}

// A Part is a piece of a notebook: exactly one of Cell, Heading, Prose and
// NewSheet is set.
type Part struct {
	Cell     *Cell
	Heading  *Prose // of level 1 or 2; it starts a section
	Prose    *Prose
	NewSheet bool // a thematic break: what follows starts a new printed sheet
}

// A Cell is a fenced block that computes something.
type Cell struct {
	Name string
	Kind Kind
	Line int               // of the opening fence
	Keys map[string]string // what stands behind the kind, name apart
	Body string
	// Uses are the earlier cells it rests on, by name, in order of mention.
	Uses []string
}

// A Kind is the first word behind a fence.
type Kind string

// The kinds of cell.
const (
	SQL     Kind = "sql"     // a query; its result is a table
	Finding Kind = "finding" // an analysis of the tool
	Figure  Kind = "figure"  // a drawing of an earlier cell's table
	Show    Kind = "show"    // a part of an earlier cell's result, placed here
)

// kinds are the kinds of cell with the keys they know.
var kinds = map[Kind][]string{
	SQL:     {"name", "caption", "share", "with", "rows", "hide", "orders"},
	Finding: {"name", "of", "hide"}, // and those of the analysis it is of
	Figure:  {"name", "from", "draw", "x", "y", "low", "high", "title", "about", "unit"},
	Show:    {"name", "from", "part", "beside"},
}

// An Error is something wrong with a notebook or with a run of it, with the
// place and what to do about it.
type Error struct {
	File string
	Line int    // 0: no line
	Cell string // name, or "" outside cells
	Why  string // plain cause
	Do   string // next step, or ""
}

func (e *Error) Error() string {
	s := e.File
	if e.Line > 0 {
		s += fmt.Sprintf(":%d", e.Line)
	}
	if e.Cell != "" {
		s += fmt.Sprintf(": cell %q", e.Cell)
	}
	s += ": " + e.Why
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}
