package sheets

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"lastroom/analysis/form"
)

// A Cell says which cell of a record holds a column.
type Cell struct {
	At   int       // position in the record, from 0; -1: the column is absent
	Unit form.Unit // from the suffix of the header
}

// A Layout says where a table holds the columns of a sheet.
type Layout struct {
	Sheet   *Sheet
	Cells   []Cell // one a column of the sheet
	Unknown []string
}

// Headers that a file of kept-out rows carries for its reader; they are passed
// over when it is loaded again.
const (
	MendLine   = "kept_out_line"
	MendAt     = "kept_out_at"
	MendReason = "kept_out_reason"
)

// isMending reports whether a header is one of a file of kept-out rows.
func isMending(header string) bool {
	name := Fold(header)
	return name == SheetColumn || name == MendLine || name == MendAt || name == MendReason
}

// Executed is a regular expression of what a text must not begin with in a
// file that a spreadsheet program may open: it would be run as a formula.
const Executed = "'*[=+@\\t\\r-]"

var executed = regexp.MustCompile("^" + Executed)

// Harmless puts an apostrophe before a text that a spreadsheet program would
// run as a formula. A plain number stays. Rows of such a file lose it again
// when they are loaded (see Mending).
func Harmless(text string) string {
	if executed.MatchString(text) && !(len(text) > 1 && strings.Trim(text[1:], "0123456789.") == "" && text[0] == '-') {
		return "'" + text
	}
	return text
}

// Mending reports whether a table is a file of kept-out rows.
func (t *Table) Mending() bool {
	return t.Format == CSV && slices.ContainsFunc(t.Header, func(h string) bool { return Fold(h) == MendReason })
}

// Match finds the columns of a sheet in a header. An id column that is absent,
// or a column that two headers hold, is an error; headers that are no column
// are named in Unknown.
func Match(s *Sheet, header []string) (Layout, error) {
	l := Layout{Sheet: s, Cells: make([]Cell, len(s.Columns))}
	for i := range l.Cells {
		l.Cells[i].At = -1
	}
	for at, h := range header {
		i, unit, ok := s.Find(h)
		switch {
		case !ok && isMending(h) || strings.TrimSpace(h) == "":
		case !ok:
			l.Unknown = append(l.Unknown, h)
		case l.Cells[i].At >= 0:
			return l, fmt.Errorf("columns %q and %q both hold %s", header[l.Cells[i].At], h, s.Columns[i].Name)
		default:
			l.Cells[i] = Cell{at, unit}
		}
	}
	return l, l.complete()
}

// complete checks that the id columns are there.
func (l Layout) complete() error {
	for i, c := range l.Sheet.Columns {
		if l.Cells[i].At < 0 && (c.Kind == ID || l.Sheet.IsKey(c.Name)) {
			return fmt.Errorf("has no column %s, which the sheet %s needs", c.Name, l.Sheet.Name)
		}
	}
	return nil
}

// IsKey reports whether a column is part of the key of the sheet.
func (s *Sheet) IsKey(name string) bool {
	return slices.Contains(s.Key, name)
}

// Find is the column that a header names, with the unit of its suffix.
func (s *Sheet) Find(header string) (at int, unit form.Unit, ok bool) {
	name := Fold(header)
	for i, c := range s.Columns {
		if c.Name == name {
			return i, form.NoUnit, true
		}
	}
	base, unit := cutSuffix(name)
	for i, c := range s.Columns {
		if unit != form.NoUnit && c.Kind == Length && c.Name == base {
			return i, unit, true
		}
	}
	return 0, form.NoUnit, false
}

// cutSuffix parts a folded header into its name and the unit of its suffix.
func cutSuffix(name string) (string, form.Unit) {
	for _, u := range []form.Unit{form.Millimetre, form.Centimetre, form.Inch} {
		if base, ok := strings.CutSuffix(name, "_"+u.String()); ok {
			return base, u
		}
	}
	return name, form.NoUnit
}

// Guess says which sheet a header belongs to: the one with the most columns
// matched, none missing that it needs. It serves files of a name of their own.
func Guess(header []string) (*Sheet, bool) {
	var best *Sheet
	most := 1
	for _, s := range Catalogue {
		l, err := Match(s, header)
		if err != nil {
			continue
		}
		if n := len(header) - len(l.Unknown); n > most {
			best, most = s, n
		}
	}
	return best, best != nil
}
