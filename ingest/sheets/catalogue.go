package sheets

import (
	"slices"

	"lastroom/analysis/form"
)

// A Kind says what the text of a column means.
type Kind uint8

// The kinds of column.
const (
	Text   Kind = iota // any text; empty is not known
	ID                 // a key, never empty
	Day                // an ISO 8601 day
	YesNo              // yes, no or unknown
	Whole              // a whole number
	Money              // a plain number
	Length             // a length in the column's unit
	Word               // one of the column's words
	Open               // one of the words, or the shop's own
)

// A Column of a sheet. Its name is the column of the book's table too, except
// for lengths: they become <name>_mm, with the text kept in <name>_written.
type Column struct {
	Name  string
	Kind  Kind
	Words []string // of Word and Open
	Must  bool     // may not be empty
}

// A Sheet is one table of records.
type Sheet struct {
	Name    string
	Columns []Column
	Key     []string // a row's key, or the key of the set it belongs to
	Set     bool     // rows are replaced as a set with one key
	Needed  bool     // a book can't be without it
	// Refs name the sheet whose key a column repeats: form_id → forms.
	Refs map[string]string
}

// Column finds a column of the sheet by its name.
func (s *Sheet) Column(name string) (Column, bool) {
	for _, c := range s.Columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column{}, false
}

// The words of columns that several sheets have.
var (
	sides    = form.Texts(form.Sides)
	points   = form.Texts(form.Points)
	units    = form.Texts(form.Units)
	channels = form.Texts(form.Channels)
)

// marks are the columns of what is noted on a form; the first of all, that the
// wearer measured alone, stands further up.
func marks() (c []Column) {
	for _, m := range form.Marks {
		if m.Column != "self_measured" {
			c = append(c, Column{Name: m.Column, Kind: YesNo})
		}
	}
	return c
}

// Catalogue is all sheets, in the order in which they are loaded.
var Catalogue = []*Sheet{
	{
		Name: "orders", Key: []string{"order_id"}, Needed: true,
		Columns: []Column{
			{Name: "order_id", Kind: ID}, {Name: "customer_id", Kind: Text},
			{Name: "received_on", Kind: Day}, {Name: "cut_on", Kind: Day}, {Name: "shipped_on", Kind: Day},
			{Name: "shaft_height", Kind: Length},
			{Name: "closure", Kind: Open, Words: form.Closures},
			{Name: "worn_tucked", Kind: YesNo},
			{Name: "sock", Kind: Word, Words: form.Socks},
			{Name: "orthotic", Kind: YesNo},
			{Name: "channel", Kind: Open, Words: channels},
			{Name: "sex", Kind: Word, Words: form.Sexes},
			{Name: "earlier_order_id", Kind: Text}, {Name: "remake_of_order_id", Kind: Text},
		},
	},
	{
		Name: "forms", Key: []string{"form_id"}, Needed: true, Refs: map[string]string{"order_id": "orders"},
		Columns: slices.Concat([]Column{
			{Name: "form_id", Kind: ID}, {Name: "order_id", Kind: ID}, {Name: "form_no", Kind: Whole},
			{Name: "received_on", Kind: Day}, {Name: "cut_from", Kind: YesNo},
			{Name: "measurer_id", Kind: Text}, {Name: "self_measured", Kind: YesNo},
		}, marks(),
			[]Column{{Name: "irregularities", Kind: Text}, {Name: "instructions", Kind: Text}}),
	},
	{
		Name: "measurements", Key: []string{"form_id"}, Set: true, Needed: true, Refs: map[string]string{"form_id": "forms"},
		Columns: []Column{
			{Name: "form_id", Kind: ID},
			{Name: "side", Kind: Word, Words: sides, Must: true},
			{Name: "clothing", Kind: Word, Words: form.Texts(form.Clothings)},
			{Name: "point", Kind: Word, Words: points, Must: true},
			{Name: "height", Kind: Length}, {Name: "value", Kind: Length, Must: true},
			{Name: "height_unit", Kind: Word, Words: units}, {Name: "unit", Kind: Word, Words: units},
		},
	},
	{
		Name: "outcomes", Key: []string{"order_id"}, Set: true, Needed: true, Refs: map[string]string{"order_id": "orders"},
		Columns: []Column{
			{Name: "order_id", Kind: ID}, {Name: "outcome_id", Kind: Text}, {Name: "reported_on", Kind: Day},
			{Name: "result", Kind: Word, Words: form.Results, Must: true},
			{Name: "zone", Kind: Word, Words: form.Texts(form.Zones)},
			{Name: "direction", Kind: Word, Words: form.Directions},
			{Name: "side", Kind: Word, Words: form.ComplaintSides},
			{Name: "cause", Kind: Word, Words: form.Causes},
			{Name: "cost", Kind: Money},
		},
	},
	{
		Name: "callbacks", Key: []string{"form_id"}, Set: true, Refs: map[string]string{"form_id": "forms"},
		Columns: []Column{
			{Name: "form_id", Kind: ID}, {Name: "called_on", Kind: Day}, {Name: "fault", Kind: Text},
			{Name: "resolved", Kind: YesNo}, {Name: "resolved_on", Kind: Day},
		},
	},
	{
		Name: "measurers", Key: []string{"measurer_id"},
		Columns: []Column{
			{Name: "measurer_id", Kind: ID},
			{Name: "kind", Kind: Open, Words: channels},
			{Name: "trained_on", Kind: Day}, {Name: "region", Kind: Text},
		},
	},
	{
		Name: "repeats", Key: []string{"session_id"}, Set: true,
		Columns: []Column{
			{Name: "session_id", Kind: ID}, {Name: "subject_id", Kind: Text, Must: true}, {Name: "measurer_id", Kind: Text},
			{Name: "trial", Kind: Whole}, {Name: "reference", Kind: YesNo},
			{Name: "side", Kind: Word, Words: sides, Must: true},
			{Name: "point", Kind: Word, Words: points, Must: true},
			{Name: "height", Kind: Length}, {Name: "value", Kind: Length, Must: true},
			{Name: "height_unit", Kind: Word, Words: units}, {Name: "unit", Kind: Word, Words: units},
			{Name: "measured_on", Kind: Day},
		},
	},
	{
		Name: "costs", Key: []string{"item"},
		Columns: []Column{
			{Name: "item", Kind: Word, Words: form.CostItems, Must: true},
			{Name: "value", Kind: Money, Must: true},
		},
	},
}

// SheetNamed finds a sheet by its name, spelt as forgivingly as a header.
func SheetNamed(name string) (*Sheet, bool) {
	name = Fold(name)
	for _, s := range Catalogue {
		if s.Name == name {
			return s, true
		}
	}
	return nil, false
}

// IsUnit reports whether the column only names the unit of another.
func (c Column) IsUnit() bool { return c.Name == "unit" || c.Name == "height_unit" }

// Written is the book's column that keeps the text of a length.
func (c Column) Written() string {
	if c.Name == "shaft_height" {
		return "shaft_written"
	}
	return c.Name + "_written"
}
