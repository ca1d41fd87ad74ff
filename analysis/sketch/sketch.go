// Package sketch is what can be seen in spreadsheets that nobody described, and
// the lists from which a person says what is meant: plain types, filled by
// whoever reads the spreadsheets and shown by a page.
package sketch

// Answers are what a person chose from lists, by the List's name. Where there
// is none, the reader of the spreadsheets decides for itself.
type Answers map[string]string

// A Sketch is what some spreadsheets seem to hold.
type Sketch struct {
	Tables  []Table
	Notes   []string // files and tabs that were not looked at, and why
	Mapping string   // what the answers come to; "" where there is nothing to load
}

// Open counts the lists that only a person can answer and nobody did.
func (s *Sketch) Open() (n int) {
	open := func(lists []List) {
		for _, l := range lists {
			if l.Open {
				n++
			}
		}
	}
	for _, t := range s.Tables {
		open(t.Lists)
		for _, c := range t.Columns {
			open(c.Lists)
		}
	}
	return n
}

// A Table is a table of a spreadsheet, or several of one layout.
type Table struct {
	Where   string // files and tabs
	Says    string // what it is read as
	Used    bool
	Lists   []List
	Top     []Row // its first rows as they stand
	Columns []Column
}

// Open reports whether a list of the table, or of its columns, waits for an
// answer.
func (t Table) Open() bool { return (&Sketch{Tables: []Table{t}}).Open() > 0 }

// A Row is a row of a spreadsheet.
type Row struct {
	No     int
	Cells  []string
	Header bool
}

// A Column is a column of a table.
type Column struct {
	Letter, Header string
	Used           bool
	Readings       []Reading
	Cells, Refused int    // cells that hold anything, and those that can't be read
	Lists          []List // what it is, and what its words mean
}

// A Reading is a cell as it is written and what it is read as; Refused says why
// it can't be read.
type Reading struct{ Written, Read, Refused string }

// A List is something that a person chooses.
type List struct {
	Name    string // by which its answer is known
	Label   string
	Text    string // a text of the shop's that the list gives a meaning to; "" for none
	Chosen  string // the value of an option
	Open    bool   // nobody answered, and it can't be told
	Options []Option
	// Add is the beginning of the names of lists that a person may add by typing a
	// text; "" where none may be added.
	Add string
}

// An Option is one of the answers of a List. Group is a heading for some of
// them.
type Option struct{ Value, Label, Group string }

// Until is what holds as long as nobody answers.
func (l List) Until() string {
	for _, o := range l.Options {
		if o.Value == l.Chosen {
			return o.Label
		}
	}
	return ""
}

// A group is some options of a list under a heading, "" for none.
type group struct {
	Name    string
	Options []Option
}

// Groups puts options that follow each other under their heading.
func (l List) Groups() (out []group) {
	for _, o := range l.Options {
		if len(out) == 0 || out[len(out)-1].Name != o.Group {
			out = append(out, group{Name: o.Group})
		}
		out[len(out)-1].Options = append(out[len(out)-1].Options, o)
	}
	return out
}
