package layout

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
	"lastroom/ingest/yaml"
)

// Read reads a mapping file. An error names the line and the column.
func Read(path string) (*Mapping, error) {
	f, err := yaml.Read(path)
	if err != nil {
		return nil, err
	}
	return parse(f)
}

// Parse reads the text of a mapping file of that name.
func Parse(name string, text []byte) (*Mapping, error) {
	f, err := yaml.Parse(name, text)
	if err != nil {
		return nil, err
	}
	return parse(f)
}

func parse(f *yaml.File) (*Mapping, error) {
	sum := sha256.Sum256(f.Text)
	m := &Mapping{SHA256: hex.EncodeToString(sum[:]), Text: f.Text}
	r := reader{f}
	base := &table{Levels: 1, Blank: map[string]bool{}, Words: map[string]string{}}
	var list *yaml.Node
	entries := append(r.settings(base), entry{"tables", func(n yaml.Node) error { list = &n; return nil }})
	if err := r.table(base, f.Root, entries); err != nil {
		return nil, err
	}
	if list == nil {
		m.Tables = []*table{base}
	} else {
		if len(base.Sheets) > 0 {
			return nil, f.Wrong(f.Root, "with tables, each sheet stands under its table")
		}
		if !list.IsList {
			return nil, f.Wrong(*list, "tables must be a list")
		}
		for _, n := range list.List {
			t := *base
			t.Words, t.Blank = maps.Clone(base.Words), maps.Clone(base.Blank)
			t.at = place(n)
			if err := r.table(&t, n, r.settings(&t)); err != nil {
				return nil, err
			}
			m.Tables = append(m.Tables, &t)
		}
	}
	for _, t := range m.Tables {
		if err := r.complete(m, t); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// place is a node's place in the file, without what stands there.
func place(n yaml.Node) yaml.Node { return yaml.Node{Line: n.Line, Column: n.Column} }

// A reader reads the parts of a mapping file.
type reader struct{ *yaml.File }

// An entry of a table of the file: its name, and what reads its value.
type entry struct {
	name string
	read func(yaml.Node) error
}

// entries reads the entries of a table by their names; other, if any, reads those
// of other names.
func (r reader) entries(n yaml.Node, known []entry, other func(yaml.Pair) error) error {
	for _, p := range n.Table {
		var err error
		at := slices.IndexFunc(known, func(e entry) bool { return e.name == p.Key })
		switch {
		case at >= 0:
			err = known[at].read(p.Value)
		case other != nil:
			err = other(p)
		default:
			err = r.Wrong(p.At, "%q is none of %s", p.Key, names(known))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func names(entries []entry) string {
	var out []string
	for _, e := range entries {
		out = append(out, e.name)
	}
	return strings.Join(out, ", ")
}

// into reads a value with read and keeps it.
func into[T any](to *T, read func(yaml.Node) (T, error)) func(yaml.Node) error {
	return func(n yaml.Node) (err error) {
		*to, err = read(n)
		return err
	}
}

// settings are the entries of a table that are no sheet.
func (r reader) settings(t *table) []entry {
	return []entry{
		{"file", into(&t.Files, r.Texts)},
		{"tab", into(&t.Tabs, r.Texts)},
		{"from", into(&t.From, r.Texts)},
		{"name", into(&t.Name, r.One)},
		{"header", into(&t.Header, r.One)},
		{"levels", into(&t.Levels, r.count("levels is how many rows the header has, from 1 to 4", 4))},
		{"order", into(&t.Order, r.source)},
		{"skip", into(&t.Skip, r.conditions)},
		{"until", into(&t.Until, r.conditions)},
		{"fill_down", into(&t.FillDown, r.Texts)},
		{"hidden_rows", into(&t.HiddenRows, r.choice("read", "skip"))},
		{"hidden_tabs", into(&t.HiddenTabs, r.choice("read", "skip"))},
		{"overlap", into(&t.Overlap, r.choice("last file", "refuse"))},
		{"unit", into(&t.Unit, r.unit)},
		{"days", into(&t.Days, r.dayOrder)},
		{"decimal", func(n yaml.Node) (err error) {
			t.decimalSaid = true
			t.Decimal, err = r.decimal(n)
			return err
		}},
		{"blank", func(n yaml.Node) error {
			words, err := r.Texts(n)
			for _, w := range words {
				t.Blank[wording.Plain(w)] = true
			}
			return err
		}},
		{"words", func(n yaml.Node) error {
			words, err := r.words(n)
			maps.Copy(t.Words, words)
			return err
		}},
	}
}

// table reads the settings and sheets of a table.
func (r reader) table(t *table, n yaml.Node, settings []entry) error {
	return r.entries(n, settings, func(p yaml.Pair) error {
		s, ok := sheets.SheetNamed(p.Key)
		if !ok {
			return r.Wrong(p.At, "%q is neither a sheet nor one of %s", p.Key, names(settings))
		}
		sheet, err := r.sheet(s, p.Value)
		t.Sheets = append(t.Sheets, sheet)
		return err
	})
}

func (r reader) count(what string, most int) func(yaml.Node) (int, error) {
	return func(n yaml.Node) (int, error) {
		x, err := strconv.Atoi(n.Text)
		if err != nil || x < 1 || x > most {
			return 0, r.Wrong(n, "%s", what)
		}
		return x, nil
	}
}

func (r reader) choice(yes, no string) func(yaml.Node) (bool, error) {
	return func(n yaml.Node) (bool, error) {
		word, err := r.oneOf([]string{yes, no}, nil)(n)
		return word == yes, err
	}
}

// oneOf reads one of a few words, or another word for one of them.
func (r reader) oneOf(words []string, others map[string]string) func(yaml.Node) (string, error) {
	return func(n yaml.Node) (string, error) {
		t := wording.Plain(n.Text)
		if slices.Contains(words, t) {
			return t, nil
		}
		if w, ok := others[t]; ok {
			return w, nil
		}
		return "", r.Wrong(n, "%q is none of %s", n.Text, strings.Join(words, ", "))
	}
}

func (r reader) dayOrder(n yaml.Node) (wording.Order, error) {
	order, ok := wording.ParseOrder(n.Text)
	if !ok {
		return order, r.Wrong(n, "%q is no way to write days; write day first, month first, or as in DD.MM.YYYY", n.Text)
	}
	return order, nil
}

func (r reader) decimal(n yaml.Node) (wording.Decimal, error) {
	signs := []string{"point", "comma", "either"} // in the order of the constants
	word, err := r.oneOf(signs, nil)(n)
	return wording.Decimal(max(0, slices.Index(signs, word))), err
}

func (r reader) unit(n yaml.Node) (form.Unit, error) {
	u, ok := lengths.ParseUnit(n.Text)
	if !n.IsText || !ok || u == form.NoUnit {
		return u, r.Wrong(n, "%q is none of mm, cm, in", n.Text)
	}
	return u, nil
}

func (r reader) conditions(n yaml.Node) (out []condition, err error) {
	list := n.List
	if n.IsTable {
		list = []yaml.Node{n}
	}
	for _, item := range list {
		var c condition
		if err := r.entries(item, []entry{{"column", into(&c.Column, r.One)}, {"is", into(&c.Is, r.Texts)}, {"not", into(&c.Not, r.Texts)}}, nil); err != nil {
			return nil, err
		}
		if c.Column == "" || (c.Is == nil) == (c.Not == nil) {
			return nil, r.Wrong(item, "a condition needs a column, and either is or not")
		}
		out = append(out, c)
	}
	if out == nil {
		return nil, r.Wrong(n, "needs a condition {column, is} or a list of them")
	}
	return out, nil
}

// marks are short names for several columns of forms that one cell fills.
var marks = map[string][]string{
	"marks":       {"ball_mark_left", "ball_mark_right", "instep_mark_left", "instep_mark_right"},
	"marks_left":  {"ball_mark_left", "instep_mark_left"},
	"marks_right": {"ball_mark_right", "instep_mark_right"},
}

func (r reader) sheet(s *sheets.Sheet, n yaml.Node) (*sheet, error) {
	out := &sheet{Sheet: s, Columns: map[string]source{}}
	if !n.IsTable {
		return nil, r.Wrong(n, "the sheet %s needs a table of its columns", s.Name)
	}
	for _, c := range n.Table {
		if c.Key == "numbers" && s.Name == "measurements" {
			numbers, err := r.numbers(c.Value)
			if err != nil {
				return nil, err
			}
			out.Numbers = numbers
			continue
		}
		from, err := r.source(c.Value)
		if err != nil {
			return nil, err
		}
		switch at, unit, ok := s.Find(c.Key); {
		case ok:
			if from.Unit == form.NoUnit {
				from.Unit = unit
			}
			out.Columns[s.Columns[at].Name] = from
		case s.Name == "measurements" && c.Key == "place":
			out.Place = from
		case s.Name == "outcomes" && c.Key == "reason":
			out.Reason = from
		case s.Name == "forms" && marks[c.Key] != nil:
			for _, name := range marks[c.Key] {
				out.Columns[name] = from
			}
		default:
			return nil, r.Wrong(c.At, "%q is no column of the sheet %s; it has %s", c.Key, s.Name, columnNames(s))
		}
	}
	return out, nil
}

func columnNames(s *sheets.Sheet) string {
	var names []string
	for _, c := range s.Columns {
		if !c.IsUnit() {
			names = append(names, c.Name)
		}
	}
	switch s.Name {
	case "forms":
		names = append(names, "and for several at once marks, marks_left, marks_right")
	case "measurements":
		names = append(names, "place (a cell that says point or height), numbers")
	case "outcomes":
		names = append(names, "reason (a text that says zone, direction, side)")
	}
	return strings.Join(names, ", ")
}

// source reads a column's name, or {column …}, {always}, {listed_in}.
func (r reader) source(n yaml.Node) (s source, err error) {
	s.at = place(n)
	if n.IsText {
		s.Column, err = r.One(n)
		return s, err
	}
	if !n.IsTable {
		return s, r.Wrong(n, "needs the name of a column, {column, words …}, {always} or {listed_in}")
	}
	err = r.entries(n, []entry{
		{"column", into(&s.Column, r.One)},
		{"always", into(&s.Always, r.One)},
		{"words", into(&s.Words, r.words)},
		{"filled", func(n yaml.Node) error { s.Filled, s.hasFilled = n.Text, true; return nil }},
		{"empty", into(&s.Empty, r.One)},
		{"phrases", into(&s.Phrases, r.phrases)},
		{"without", into(&s.Without, r.One)},
		{"unit", into(&s.Unit, r.unit)},
		{"listed_in", into(&s.ListedIn, r.One)},
		{"otherwise", into(&s.Otherwise, r.One)},
	}, nil)
	if err != nil {
		return s, err
	}
	given := 0
	for _, from := range []string{s.Column, s.Always, s.ListedIn} {
		if from != "" {
			given++
		}
	}
	if given != 1 {
		return s, r.Wrong(n, "needs either column or always or listed_in")
	}
	return s, nil
}

func (r reader) words(n yaml.Node) (map[string]string, error) {
	if !n.IsTable {
		return nil, r.Wrong(n, "words must be a table of the shop's word and the sheet's")
	}
	out := map[string]string{}
	for _, p := range n.Table {
		if !p.Value.IsText {
			return nil, r.Wrong(p.Value, "a word must be a plain text")
		}
		out[wording.Plain(p.Key)] = p.Value.Text
	}
	return out, nil
}

func (r reader) phrases(n yaml.Node) (out []wording.Phrase, err error) {
	words, err := r.words(n)
	if _, empty := words[""]; empty { // it would stand in every text
		return nil, r.Wrong(n, "a phrase must say something; for cells without a text write empty:")
	}
	for says, means := range words {
		out = append(out, wording.Phrase{Says: says, Means: means})
	}
	wording.SortPhrases(out)
	return out, err
}

func (r reader) numbers(n yaml.Node) (out []number, err error) {
	if !n.IsList {
		return nil, r.Wrong(n, "numbers must be a list of {column or columns, side, point}")
	}
	for _, item := range n.List {
		one := number{at: place(item)}
		err := r.entries(item, []entry{
			{"column", into(&one.Column, r.One)},
			{"columns", into(&one.pattern, r.pattern)},
			{"nth", into(&one.Nth, r.count("nth is 1 for the first column of a name, 2 for the second", grid.MaxColumns))},
			{"side", into(&one.Side, r.oneOf(form.Texts(form.Sides), wording.Sides))},
			{"clothing", into(&one.Clothing, r.oneOf(form.Texts(form.Clothings), nil))},
			{"point", into(&one.Point, r.oneOf(form.Texts(form.Points), wording.Points))},
			{"height", into(&one.Height, r.One)},
			{"unit", into(&one.Unit, r.unit)},
		}, nil)
		if err != nil {
			return nil, err
		}
		if (one.Column == "") == (one.pattern == nil) {
			return nil, r.Wrong(item, "a number needs either column, a header, or columns, a pattern such as {point} {side}")
		}
		out = append(out, one)
	}
	return out, nil
}
