// Package page holds a finished report as one value, a [Document], and its printers.
// Nothing is computed here: what a Document says was computed before, once.
//
//  1. A Document is made of [Section]s, these of [Block]s: [Prose], [Finding], [Table],
//     [Figure] and others. cells.go makes the cells of tables, of an estimate with its
//     interval, or of what is missing for it.
//  2. A printer takes it as it is: [HTML] and its parts (view.go, html.go, page.tmpl), [WriteText]
//     (text.go, columns.go), [JSON]; [CSV] takes a table of it, [SVG] a figure.
//  3. A [Ref] in a cell is what stands behind a number; a [Link] makes an address of it where
//     there are pages, and nothing otherwise.
//
// It stands on package stats for estimates and package cohort for days.
package page

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

// A Document is a finished report.
type Document struct {
	Title      string
	Lead       string // one sentence that carries the news
	Sections   []Section
	Cautions   []string
	Provenance Provenance
	Foot       string // stands at the foot of each printed sheet; "": as FootOf says
}

// A Section is a headed part of a Document. Sheet says on which printed sheet
// it stands: 1, 2, or 0 for the annex. Beside lets it share its row on paper
// with the section after it.
type Section struct {
	ID, Title string
	Sheet     int
	Beside    bool
	Blocks    []Block
}

// A Block is one piece of a section: Prose, Markup, Finding, Table, Figure or
// Value.
type Block interface{ isBlock() }

// Prose is plain text, one paragraph an entry; no markup.
type Prose []string

// Markup is rich text that was made safe by whoever made it: HTML is printed as
// it stands, Text is the same for printers without markup, one paragraph an
// entry.
type Markup struct {
	HTML []byte
	Text []string
}

// A Finding is a statement a person may act on: what, how sure, what to do.
type Finding struct {
	ID        string
	Headline  string
	Detail    []string
	Certainty string // how sure, in words with interval and n
	Action    string // what to do
	Warnings  []string
	Orders    Ref // the orders it rests on
}

// A Table is aligned columns. Total is the number of rows there are; where it
// is larger than len(Rows) the printers say "showing 200 of 1,340".
type Table struct {
	ID, Caption string
	Columns     []Column
	Rows        [][]Cell
	Total       int
	Notes       []string
}

// A Column heads a table column.
type Column struct {
	Key     string // for CSV and JSON: lower case, words joined by _
	Title   string // for people
	Unit    string
	Numeric bool
}

// A Cell is one entry: Text for people, Value unrounded for CSV and JSON
// (nil: missing; a string, int, float64, bool, cohort.Day, stats.Estimate). AsIs is
// for ids, names, files and what people wrote: no language changes them.
type Cell struct {
	Text  string
	Value any
	Ref   Ref
	AsIs  bool
}

// A Ref points at the orders or forms behind a count, so that a reader of the
// service can open them. The zero Ref points nowhere; offline printers drop it.
type Ref struct {
	Kind string // "orders", "order", "forms", "form"
	IDs  []string
}

// A Figure is an accessible SVG with its data as a table. Narrow is the same
// figure drawn for a phone's width; it may be nil.
type Figure struct {
	ID, Title, Desc string
	SVG, Narrow     []byte
	Data            Table
}

// A Value is one named number of the document, for prose and for JSON.
type Value struct {
	Name string
	Text string
	E    stats.Estimate
}

func (Prose) isBlock()   {}
func (Markup) isBlock()  {}
func (Finding) isBlock() {}
func (Table) isBlock()   {}
func (Figure) isBlock()  {}
func (Value) isBlock()   {}

// Provenance says what a document was made from.
type Provenance struct {
	AsOf       cohort.Day
	BookHash   string
	Version    string
	Parameters [][2]string // name, value; in the order declared
}
