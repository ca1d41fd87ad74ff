package sheets

import (
	"crypto/sha256"
	"encoding/hex"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

// A Mapping describes a shop's own layout: one wide row a form, say, with a
// column for each number. Its file is YAML:
//
//	from: fitting book          # the file, without its extension, or the tab
//	unit: in                    # of lengths that name none
//	days: DD.MM.YYYY            # how days are written; without it ISO 8601
//	orders:                     # a column of the sheet: the shop's column
//	  order_id: Order no
//	  shaft_height: Boot height
//	  channel: {column: Taken by, words: {us: shop, agent: dealer}}
//	forms:
//	  form_id: Form no
//	  order_id: Order no
//	  cut_from: {always: yes}
//	measurements:
//	  form_id: Form no
//	  numbers:
//	    - {column: L ball, side: left, point: ball}
//	    - {column: L 7", side: left, point: leg, height: 7 in}
//
// A number whose cell is empty was not taken. A row of outcomes without a
// result, or of call-backs without a day, is no row.
type Mapping struct {
	SHA256 string
	Text   []byte // of the file
	From   []string
	Unit   form.Unit
	Days   string // as 'DD.MM.YYYY'; empty: ISO 8601
	Sheets []MappedSheet
}

// A MappedSheet says where a wide table holds the rows of one sheet.
type MappedSheet struct {
	Sheet   *Sheet
	Columns map[string]From // by the sheet's column
	Numbers []Number        // of measurements
}

// A From is where a value comes from: a column of the shop's table, with other
// words for some, or always the same.
type From struct {
	Header string
	Always string
	Words  map[string]string // the shop's word in lower case → the sheet's
	Unit   form.Unit         // of a length, from the suffix of the sheet's column
}

// A Number is a column that holds one number of a form.
type Number struct {
	Header                        string
	Side, Clothing, Point, Height string
	Unit                          form.Unit
	at                            node
}

// ReadMapping reads a mapping file. An error names the line and the column.
func ReadMapping(path string) (*Mapping, error) {
	f, err := readYAML(path)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(f.text)
	m := &Mapping{SHA256: hex.EncodeToString(sum[:]), Text: f.text}
	for _, p := range f.root.table {
		if err := m.entry(f, p); err != nil {
			return nil, err
		}
	}
	if len(m.Sheets) == 0 {
		return nil, fileError(path, 0, "describes no sheet; it needs at least one of orders, forms, measurements, outcomes")
	}
	return m, m.checkHeights(f)
}

// checkHeights sees that every height of a leg girth is a length.
func (m *Mapping) checkHeights(f *yamlFile) error {
	for _, s := range m.Sheets {
		for _, n := range s.Numbers {
			if n.Height == "" {
				continue
			}
			if _, err := lengths.Parse(n.Height, m.HeightUnit(n), lengths.Options{DecimalComma: true}); err != nil {
				return f.wrong(n.at, "the height %q %s", n.Height, err)
			}
		}
	}
	return nil
}

// HeightUnit is the unit of a number's height: NoUnit where its text names one,
// else the mapping's.
func (m *Mapping) HeightUnit(n Number) form.Unit {
	if lengths.WrittenIn(n.Height, form.NoUnit) != form.NoUnit {
		return form.NoUnit
	}
	return m.Unit
}

func (m *Mapping) entry(f *yamlFile, p pair) (err error) {
	switch p.key {
	case "from":
		m.From, err = f.texts(p.value)
	case "unit":
		m.Unit, err = f.unit(p.value)
	case "days":
		m.Days = strings.ToUpper(p.value.text)
		if StrptimeOf(m.Days) == "" {
			err = f.wrong(p.value, "%q is no way to write days; use DD, MM and YYYY once each, as DD.MM.YYYY", p.value.text)
		}
	default:
		s, ok := SheetNamed(p.key)
		if !ok {
			return f.wrong(p.at, "%q is neither from, unit, days nor a sheet", p.key)
		}
		var ms MappedSheet
		if ms, err = mappedSheet(f, s, p); err == nil {
			m.Sheets = append(m.Sheets, ms)
		}
	}
	return err
}

func mappedSheet(f *yamlFile, s *Sheet, p pair) (MappedSheet, error) {
	ms := MappedSheet{Sheet: s, Columns: map[string]From{}}
	if !p.value.isTable {
		return ms, f.wrong(p.value, "the sheet %s needs a table of its columns", s.Name)
	}
	for _, c := range p.value.table {
		if c.key == "numbers" && s.Name == "measurements" {
			numbers, err := f.numbers(c.value)
			if err != nil {
				return ms, err
			}
			ms.Numbers = numbers
			continue
		}
		at, unit, ok := s.find(c.key)
		if !ok {
			return ms, f.wrong(c.at, "%q is no column of the sheet %s; it has %s", c.key, s.Name, columnNames(s))
		}
		from, err := f.from(c.value)
		if err != nil {
			return ms, err
		}
		from.Unit = unit
		ms.Columns[s.Columns[at].Name] = from
	}
	return ms, ms.complete(f, p)
}

// complete checks that a sheet has its keys, and measurements their numbers.
func (ms MappedSheet) complete(f *yamlFile, p pair) error {
	for _, c := range ms.Sheet.Columns {
		if _, ok := ms.Columns[c.Name]; !ok && (c.Kind == ID || ms.Sheet.isKey(c.Name)) {
			return f.wrong(p.at, "the sheet %s needs its column %s", ms.Sheet.Name, c.Name)
		}
	}
	if ms.Sheet.Name == "measurements" && len(ms.Numbers) == 0 {
		return f.wrong(p.at, "the sheet measurements needs its numbers: a list of {column, side, point}")
	}
	return nil
}

func columnNames(s *Sheet) string {
	var names []string
	for _, c := range s.Columns {
		if !c.IsUnit() {
			names = append(names, c.Name)
		}
	}
	return strings.Join(names, ", ")
}

// Headers are the shop's columns that the mapping names, each once, in order.
func (m *Mapping) Headers() (names []string) {
	add := func(h string) {
		if h != "" && !slices.Contains(names, h) {
			names = append(names, h)
		}
	}
	for _, s := range m.Sheets {
		for _, c := range s.Sheet.Columns {
			add(s.Columns[c.Name].Header)
		}
		for _, n := range s.Numbers {
			add(n.Header)
		}
	}
	return names
}

// Takes reports whether the mapping describes the table: by its name, or
// because it has every column the mapping names.
func (m *Mapping) Takes(t *Table) bool {
	name := strings.TrimSuffix(t.Name, filepath.Ext(t.Name))
	for _, from := range m.From {
		if Fold(from) == Fold(name) || t.Tab != "" && Fold(from) == Fold(t.Tab) {
			return true
		}
	}
	return len(m.Missing(t)) == 0
}

// Missing are the columns the mapping names that the table has not.
func (m *Mapping) Missing(t *Table) (names []string) {
	for _, h := range m.Headers() {
		if HeaderAt(t.Header, h) < 0 {
			names = append(names, h)
		}
	}
	return names
}

// HeaderAt is where a header stands in a table, spelt as forgivingly as any;
// -1: nowhere.
func HeaderAt(header []string, name string) int {
	for i, h := range header {
		if Fold(h) == Fold(name) {
			return i
		}
	}
	return -1
}

// IsDay reports whether a column of the shop's holds days.
func (m *Mapping) IsDay(header string) bool {
	for _, s := range m.Sheets {
		for _, c := range s.Sheet.Columns {
			if c.Kind == Day && Fold(s.Columns[c.Name].Header) == Fold(header) {
				return true
			}
		}
	}
	return false
}

// StrptimeOf turns DD.MM.YYYY into %d.%m.%Y; "" when it is no way to write
// days.
func StrptimeOf(days string) string {
	out := days
	for from, to := range map[string]string{"YYYY": "%Y", "MM": "%m", "DD": "%d"} {
		if strings.Count(out, from) != 1 {
			return ""
		}
		out = strings.Replace(out, from, to, 1)
	}
	if strings.Trim(out, "%Ymd./- ") != "" {
		return ""
	}
	return out
}
