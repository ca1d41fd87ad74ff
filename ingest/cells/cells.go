// Package cells says what one cell of an order sheet means in the order book, for
// a load of millions of rows ([lastroom/ingest/load]) and for one form that is typed
// in ([lastroom/ingest/typed]) alike:
//
//  1. [Read] reads the text of a cell, with that of its unit → [Cell]
//  2. [Columns] and [Cell.Values] say what it fills of the book's table
//  3. [RowRules] say, in SQL, what can be wrong with a row that no cell of it shows
package cells

import (
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/engine"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// A Cell is a text, the text of its unit, and what they mean or why not.
type Cell struct {
	Text, Unit string
	Value      sheets.Value
	Why        string    // why it can't be read; empty where it can
	Length     form.Unit // the unit it was written in
}

// Read reads a text of a column with the text of its unit: "mm", "cm" or "in", that
// of the header, that of the unit cell, or both parted by '|'; a comma first where a
// comma may be a decimal mark.
func Read(c sheets.Column, text, unit string) Cell {
	cell := Cell{Text: text, Unit: unit}
	units := strings.TrimPrefix(unit, ",")
	opt := lengths.Options{DecimalComma: units != unit}
	var err error
	if c.Kind == sheets.Length {
		cell.Length, err = parseUnits(units)
	}
	if err == nil {
		cell.Value, err = c.Parse(text, cell.Length, opt)
	}
	if err == nil && c.Kind == sheets.Length {
		cell.Length = lengths.WrittenIn(text, cell.Length)
	}
	if err != nil {
		cell.Why = err.Error()
	}
	return cell
}

// parseUnits reads the text of a unit, without the comma.
func parseUnits(text string) (form.Unit, error) {
	suffix, own, both := strings.Cut(text, "|")
	if !both {
		own = suffix
	}
	u, ok := lengths.ParseUnit(own)
	if !ok {
		return u, fmt.Errorf("has the unit %q, which is none of mm, cm, in", own)
	}
	if h, _ := lengths.ParseUnit(suffix); both && u != form.NoUnit && h != u {
		return u, fmt.Errorf("is in %s by its header, but its unit is given as %s", h, u)
	} else if both {
		u = h
	}
	return u, nil
}

// Columns are the columns of the book's table that a sheet's column fills.
func Columns(c sheets.Column) []string {
	if c.Kind != sheets.Length {
		return []string{c.Name}
	}
	names := []string{c.Name + "_mm", c.Written()}
	if c.Name == "value" {
		names = append(names, "unit")
	}
	return names
}

// Values are what the cell puts in the book's columns of c.
func (cell Cell) Values(c sheets.Column) []any {
	switch {
	case !cell.Value.Known:
		if c.Name == "clothing" {
			return []any{"bare"} // a number without clothing is of the bare leg
		}
		return make([]any, len(Columns(c)))
	case c.Kind == sheets.Day:
		return []any{cell.Value.Day}
	case c.Kind == sheets.YesNo:
		return []any{cell.Value.Yes}
	case c.Kind == sheets.Whole, c.Kind == sheets.Money:
		return []any{cell.Value.Number}
	case c.Kind == sheets.Length && c.Name == "value":
		return []any{cell.Value.Number, cell.Text, cell.Length.String()}
	case c.Kind == sheets.Length:
		return []any{cell.Value.Number, cell.Text}
	}
	return []any{cell.Value.Text}
}

// Separators inside the text of why a row is kept out: between its problems,
// and between the column and the reason of one.
const (
	NextProblem = "\x1e"
	ThenReason  = "\x1f"
)

// A Problem is something that can be wrong with a row: when, and the text of
// which cell and why, both in SQL; {point} and {clothing} stand for what these cells
// mean, s for the row as it is written.
type Problem struct{ When, Text string }

// RowRules are the problems, by the sheet, of a row that no single cell shows.
var RowRules = map[string][]Problem{
	"measurements": append(tapeRules(), Rule("clothing", "the foot is measured bare; tucked numbers are of the leg",
		"{clothing} = 'tucked' AND {point} IN ('length', 'breadth', 'ball', 'instep', 'heel')")),
	"repeats": tapeRules(),
}

func tapeRules() []Problem {
	return []Problem{
		Rule("height", "is empty, but a leg girth needs the height of the tape above the floor", "{point} = 'leg' AND s.height IS NULL"),
		Rule("height", "is given, but only the point leg has a height", "s.height IS NOT NULL AND {point} <> 'leg' AND trim(s.height) <> ''"),
	}
}

// Rule is the problem of a cell with a fixed reason.
func Rule(column, reason, when string) Problem {
	return Problem{when, engine.Quote(column + ThenReason + reason)}
}
