// Package frame is a person's query of the order book and its answer: rows as a
// gota data frame, which both the book and the notebooks know. It goes so:
//
//  1. A Query names the SQL and its parameters; what is wrong with it is an Error.
//  2. Rows come one after the other and in known types: a Builder takes them.
//  3. The Frame is what every reader of the rows works on: pages, figures, CSV,
//     claims, later queries and the cache.
//
// No type is ever guessed (gota would turn "007" into 7): each column says its
// Kind.
package frame

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"

	"lastroom/analysis/cohort"
)

// A Query is one SELECT that a person wrote. Args are its named parameters by
// name without the dollar sign: string, int, int64, float64, bool or cohort.Day;
// those it does not use are ignored. MaxRows is how many rows are given at most.
type Query struct {
	SQL     string
	Args    map[string]any
	MaxRows int
}

// An Error is what was wrong with a person's SQL, in words. Line and Column
// are where, from 1; 0 where not known.
type Error struct {
	Message string `json:"message"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
}

func (e *Error) Error() string {
	switch {
	case e.Line > 0 && e.Column > 0:
		return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, e.Message)
	case e.Line > 0:
		return fmt.Sprintf("line %d: %s", e.Line, e.Message)
	}
	return e.Message
}

// A Kind is what a column holds.
type Kind string

// The kinds of column. Everything that is none of the others is text.
const (
	Text    Kind = "text"
	Integer Kind = "integer"
	Real    Kind = "real"
	Boolean Kind = "boolean"
	Day     Kind = "day"
)

// seriesTypes are the types of gota; it has none for days, which stand as ISO
// 8601 texts and so keep their order.
var seriesTypes = map[Kind]series.Type{Text: series.String, Integer: series.Int, Real: series.Float, Boolean: series.Bool, Day: series.String}

// A Column is the head of a column.
type Column struct {
	Name string `json:"name"`
	Kind Kind   `json:"type"`
}

// A Frame is rows in columns of known kinds. More is true where there were rows
// beyond the limit. The zero Frame has no columns and no rows.
type Frame struct {
	dataframe.DataFrame
	Columns []Column // the heads, in the order of the data frame
	More    bool
}

// A Builder puts a Frame together row by row.
type Builder struct {
	columns []Column
	cells   [][]any // by column
}

// NewBuilder starts a frame of the given columns.
func NewBuilder(columns []Column) *Builder {
	return &Builder{columns, make([][]any, len(columns))}
}

// Add takes a row: one cell a column, nil (not known) or what its Kind says:
// string, int or int64, float64, bool, cohort.Day (or its ISO text). A number that
// is not finite is not known.
func (b *Builder) Add(row []any) error {
	if len(row) != len(b.columns) {
		return fmt.Errorf("a row has %d cells for %d columns", len(row), len(b.columns))
	}
	for j, v := range row {
		b.cells[j] = append(b.cells[j], element(v))
	}
	return nil
}

// AddJSON takes a row as a JSON array, as it comes from another process: null is
// not known, a day is an ISO 8601 text.
func (b *Builder) AddJSON(line []byte) error {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.UseNumber() // whole numbers stay whole
	var row []any
	if err := dec.Decode(&row); err != nil {
		return err
	}
	for j, cell := range row {
		n, ok := cell.(json.Number)
		if !ok || j >= len(b.columns) {
			continue
		}
		var err error
		if b.columns[j].Kind == Integer {
			row[j], err = n.Int64()
		} else {
			row[j], err = n.Float64()
		}
		if err != nil {
			return err
		}
	}
	return b.Add(row)
}

// element is a cell as gota takes it. Gota reads the text "NaN" as missing, but
// takes the text of another element as it stands.
func element(v any) any {
	switch v := v.(type) {
	case int64:
		return int(v)
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	case cohort.Day:
		return v.String()
	case string:
		if v == "NaN" {
			return literal{text: v}
		}
	}
	return v
}

type literal struct {
	series.Element
	text string
}

func (l literal) String() string { return l.text }

// Frame is the frame of the rows so far. No column, or two of one name, is an
// error that says what to do.
func (b *Builder) Frame() (Frame, error) {
	if len(b.columns) == 0 {
		return Frame{}, errors.New("the query gives no column")
	}
	cols := make([]series.Series, len(b.columns))
	for j, c := range b.columns {
		if c.Name == "" || seriesTypes[c.Kind] == "" {
			return Frame{}, fmt.Errorf("column %d has no name or no known kind", j+1)
		}
		if slices.ContainsFunc(b.columns[:j], func(d Column) bool { return d.Name == c.Name }) {
			return Frame{}, fmt.Errorf("two columns are called %q; give one another name with AS", c.Name)
		}
		if cols[j] = series.New(b.cells[j], seriesTypes[c.Kind], c.Name); cols[j].Err != nil {
			return Frame{}, fmt.Errorf("column %q: %w", c.Name, cols[j].Err)
		}
	}
	df := dataframe.New(cols...)
	return Frame{DataFrame: df, Columns: b.columns}, df.Err
}

// packed is a Frame as a cache keeps it.
type packed struct {
	Columns []Column
	Rows    []json.RawMessage
	More    bool
}

// MarshalBinary writes the frame for a cache.
func (f Frame) MarshalBinary() ([]byte, error) {
	p := packed{Columns: f.Columns, More: f.More}
	for i := range f.Nrow() {
		row := make([]any, len(f.Columns))
		for j := range row {
			row[j] = f.Value(i, j)
		}
		line, err := json.Marshal(row)
		if err != nil {
			return nil, err
		}
		p.Rows = append(p.Rows, line)
	}
	return json.Marshal(p)
}

// UnmarshalBinary reads what MarshalBinary wrote.
func (f *Frame) UnmarshalBinary(text []byte) error {
	var p packed
	if err := json.Unmarshal(text, &p); err != nil || len(p.Columns) == 0 {
		*f = Frame{}
		return err
	}
	b := NewBuilder(p.Columns)
	for _, line := range p.Rows {
		if err := b.AddJSON(line); err != nil {
			return err
		}
	}
	var err error
	if *f, err = b.Frame(); err != nil {
		return err
	}
	f.More = p.More
	return nil
}

// Index is the place of a column, -1 where there is none.
func (f Frame) Index(name string) int {
	return slices.IndexFunc(f.Columns, func(c Column) bool { return c.Name == name })
}

// Value is a cell: nil (not known), string, int, float64, bool or cohort.Day,
// as its column's Kind says.
func (f Frame) Value(row, column int) any {
	e := f.Elem(row, column)
	if e.IsNA() {
		return nil
	}
	if f.Columns[column].Kind == Day {
		if d, err := cohort.ParseDay(e.String()); err == nil {
			return d
		}
	}
	return e.Val()
}

// Sorted is the frame in the order of its columns from the first on; what is
// not known goes last. (Arrange of gota v0.12.0 is wrong from three columns on.)
func (f Frame) Sorted() (Frame, error) {
	order := make([]int, f.Nrow())
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		for j := range f.Columns {
			x, y := f.Elem(a, j), f.Elem(b, j)
			switch {
			case x.IsNA() && y.IsNA(), x.Eq(y):
				continue
			case y.IsNA(), !x.IsNA() && x.Less(y):
				return -1
			}
			return 1
		}
		return 0
	})
	f.DataFrame = f.Subset(order)
	return f, f.Err
}

// With is the frame with the columns of another of as many rows behind its own.
func (f Frame) With(g Frame) (Frame, error) {
	f.DataFrame = f.CBind(g.DataFrame)
	f.Columns = slices.Concat(f.Columns, g.Columns)
	return f, f.Err
}
