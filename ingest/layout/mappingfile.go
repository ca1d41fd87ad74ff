package layout

import (
	"fmt"
	"maps"
	"regexp"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
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

func parse(f *yaml.File) (*Mapping, error) {
	m := &Mapping{SHA256: hash(f.Text), Text: f.Text}
	r := reader{f}
	base := &Table{Levels: 1, Blank: map[string]bool{}, Words: map[string]string{}}
	var list *yaml.Node
	for _, p := range f.Root.Table {
		if p.Key == "tables" {
			list = &p.Value
			continue
		}
		if err := r.entry(base, p); err != nil {
			return nil, err
		}
	}
	if list == nil {
		m.Tables = []*Table{base}
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
			t.where = place{n.Line, n.Column}
			for _, p := range n.Table {
				if err := r.entry(&t, p); err != nil {
					return nil, err
				}
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

// A reader reads the parts of a mapping file.
type reader struct{ *yaml.File }

func (r reader) entry(t *Table, p yaml.Pair) (err error) {
	v := p.Value
	switch p.Key {
	case "from":
		t.From, err = r.Texts(v)
	case "file":
		t.Files, err = r.Texts(v)
	case "tab":
		t.Tabs, err = r.Texts(v)
	case "name":
		t.Name, err = r.One(v)
	case "header":
		t.Header, err = r.One(v)
	case "levels":
		if t.Levels, err = strconv.Atoi(v.Text); err != nil || t.Levels < 1 || t.Levels > 4 {
			err = r.Wrong(v, "levels is how many rows the header has, from 1 to 4")
		}
	case "order":
		t.Order, err = r.source(v)
	case "skip":
		t.Skip, err = r.conditions(v)
	case "until":
		t.Until, err = r.conditions(v)
	case "fill_down":
		t.FillDown, err = r.Texts(v)
	case "hidden_rows":
		t.HiddenRows, err = r.choice(v, "read", "skip")
	case "hidden_tabs":
		t.HiddenTabs, err = r.choice(v, "read", "skip")
	case "overlap":
		t.Overlap, err = r.choice(v, "last file", "refuse")
	case "unit":
		t.Unit, err = r.unit(v)
	case "days":
		var ok bool
		if t.Days, ok = parseOrder(v.Text); !ok {
			err = r.Wrong(v, "%q is no way to write days; write day first, month first, or as in DD.MM.YYYY", v.Text)
		}
	case "decimal":
		t.decimalSaid = true
		switch plain(v.Text) {
		case "point":
			t.Decimal = Point
		case "comma":
			t.Decimal = Comma
		case "either":
			t.Decimal = Either
		default:
			err = r.Wrong(v, "%q is none of point, comma, either", v.Text)
		}
	case "blank":
		var words []string
		words, err = r.Texts(v)
		for _, w := range words {
			t.Blank[plain(w)] = true
		}
	case "words":
		var words map[string]string
		words, err = r.words(v)
		maps.Copy(t.Words, words)
	default:
		s, ok := sheets.SheetNamed(p.Key)
		if !ok {
			return r.Wrong(p.At, "%q is neither a sheet nor one of file, tab, from, name, tables, header, levels, order, skip, until, fill_down, hidden_rows, hidden_tabs, overlap, unit, days, decimal, blank, words", p.Key)
		}
		var sheet *Sheet
		if sheet, err = r.sheet(t, s, p); err == nil {
			t.Sheets = append(t.Sheets, sheet)
		}
	}
	return err
}

func (r reader) choice(n yaml.Node, yes, no string) (bool, error) {
	switch plain(n.Text) {
	case yes:
		return true, nil
	case no:
		return false, nil
	}
	return false, r.Wrong(n, "%q is neither %q nor %q", n.Text, yes, no)
}

func (r reader) conditions(n yaml.Node) (out []Condition, err error) {
	list := n.List
	if n.IsTable {
		list = []yaml.Node{n}
	}
	for _, item := range list {
		c := Condition{where: place{item.Line, item.Column}}
		for _, p := range item.Table {
			switch p.Key {
			case "column":
				c.Column, err = r.One(p.Value)
			case "is":
				c.Is, err = r.Texts(p.Value)
			case "not":
				c.Not, err = r.Texts(p.Value)
			default:
				err = r.Wrong(p.At, "%q is none of column, is, not", p.Key)
			}
			if err != nil {
				return nil, err
			}
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

func (r reader) sheet(t *Table, s *sheets.Sheet, p yaml.Pair) (*Sheet, error) {
	out := &Sheet{Sheet: s, Columns: map[string]Source{}}
	if !p.Value.IsTable {
		return nil, r.Wrong(p.Value, "the sheet %s needs a table of its columns", s.Name)
	}
	for _, c := range p.Value.Table {
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

// complete gives keys that are not mapped the order's number, and checks that
// each sheet has what its rows need.
func (r reader) complete(m *Mapping, t *Table) error {
	at := yaml.Node{Line: max(1, t.where.line), Column: max(1, t.where.column)}
	if len(t.Sheets) == 0 {
		return r.Wrong(at, "describes no sheet; it needs at least one of orders, forms, measurements, outcomes")
	}
	for _, s := range t.Sheets {
		for _, c := range s.Sheet.Columns {
			_, ok := s.Columns[c.Name]
			if ok || c.Kind != sheets.ID && !s.IsKey(c.Name) {
				continue
			}
			if !t.Order.given() || c.Name != "order_id" && c.Name != "form_id" {
				return r.Wrong(at, "the sheet %s needs its column %s", s.Name, c.Name)
			}
			s.Columns[c.Name] = t.Order
		}
		if s.Name == "measurements" {
			if err := r.completeNumbers(at, t, s); err != nil {
				return err
			}
		}
		if s.Name == "outcomes" && !s.Columns["result"].given() {
			return r.Wrong(at, "the sheet outcomes needs its column result; where a row is always a remake, write result: {always: remade}")
		}
		for _, from := range s.Columns {
			if from.ListedIn != "" && m.named(from.ListedIn) == nil {
				return r.Wrong(yaml.Node{Line: from.where.line, Column: from.where.column}, "there is no table with the name %q", from.ListedIn)
			}
		}
	}
	if !t.Order.given() {
		t.Order = t.Sheets[0].Columns["order_id"]
		if !t.Order.given() {
			t.Order = t.Sheets[0].Columns["form_id"]
		}
	}
	return nil
}

func (m *Mapping) named(name string) *Table {
	for _, t := range m.Tables {
		if t.Name == name {
			return t
		}
	}
	return nil
}

func (r reader) completeNumbers(at yaml.Node, t *Table, s *Sheet) error {
	if len(s.Numbers) == 0 {
		if !s.Columns["value"].given() {
			return r.Wrong(at, "the sheet measurements needs its numbers, a list of {column or columns, side, point}, or the column value of a table with a row a number")
		}
		s.Numbers = []Number{{}}
	}
	for _, n := range s.Numbers {
		here := at
		if n.where.line > 0 {
			here = yaml.Node{Line: n.where.line, Column: n.where.column}
		}
		inPattern := func(name string) bool { return n.pattern != nil && n.pattern.SubexpIndex(name) >= 0 }
		if n.Side == "" && !inPattern("side") && !s.Columns["side"].given() {
			return r.Wrong(here, "a number needs its side: here, in the pattern as {side}, or as a column of the sheet")
		}
		if n.Point == "" && !inPattern("point") && !inPattern("height") && !s.Columns["point"].given() && !s.Place.given() {
			return r.Wrong(here, "a number needs its point: here, in the pattern as {point} or {height}, or as a column of the sheet")
		}
		if n.Point == "leg" && n.Height == "" && !inPattern("height") && !s.Columns["height"].given() && !s.Place.given() {
			return r.Wrong(here, "a leg girth needs its height, and no other point has one")
		}
		if n.Point != "" && n.Point != "leg" && n.Height != "" {
			return r.Wrong(here, "a leg girth needs its height, and no other point has one")
		}
		if n.Height != "" {
			if _, err := lengths.Parse(n.Height, ownUnit(n.Height, t.Unit), lengths.Options{DecimalComma: true}); err != nil {
				return r.Wrong(here, "the height %q %s", n.Height, err)
			}
		}
	}
	return nil
}

// ownUnit is NoUnit for a text that names its unit, else the unit given.
func ownUnit(text string, unit form.Unit) form.Unit {
	if lengths.WrittenIn(text, form.NoUnit) != form.NoUnit {
		return form.NoUnit
	}
	return unit
}

// source reads a column's name, or {column …}, {always}, {listed_in}.
func (r reader) source(n yaml.Node) (s Source, err error) {
	s.where = place{n.Line, n.Column}
	if n.IsText {
		s.Column, err = r.One(n)
		return s, err
	}
	if !n.IsTable {
		return s, r.Wrong(n, "needs the name of a column, {column, words …}, {always} or {listed_in}")
	}
	for _, p := range n.Table {
		switch p.Key {
		case "column":
			s.Column, err = r.One(p.Value)
		case "always":
			s.Always, err = r.One(p.Value)
		case "words":
			s.Words, err = r.words(p.Value)
		case "filled":
			s.Filled, s.hasFilled = p.Value.Text, true
		case "empty":
			s.Empty, err = r.One(p.Value)
		case "phrases":
			s.Phrases, err = r.phrases(p.Value)
		case "without":
			s.Without, err = r.One(p.Value)
		case "listed_in":
			s.ListedIn, err = r.One(p.Value)
		case "otherwise":
			s.Otherwise, err = r.One(p.Value)
		case "unit":
			s.Unit, err = r.unit(p.Value)
		default:
			err = r.Wrong(p.At, "%q is none of column, always, words, filled, empty, phrases, without, unit, listed_in, otherwise", p.Key)
		}
		if err != nil {
			return s, err
		}
	}
	n1 := 0
	for _, is := range []bool{s.Column != "", s.Always != "", s.ListedIn != ""} {
		if is {
			n1++
		}
	}
	if n1 != 1 {
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
		out[plain(p.Key)] = p.Value.Text
	}
	return out, nil
}

func (r reader) phrases(n yaml.Node) (out []phrase, err error) {
	words, err := r.words(n)
	for says, means := range words {
		out = append(out, phrase{says, means})
	}
	sortPhrases(out)
	return out, err
}

func (r reader) numbers(n yaml.Node) (out []Number, err error) {
	if !n.IsList {
		return nil, r.Wrong(n, "numbers must be a list of {column or columns, side, point}")
	}
	for _, item := range n.List {
		number, err := r.number(item)
		if err != nil {
			return nil, err
		}
		out = append(out, number)
	}
	return out, nil
}

func (r reader) number(n yaml.Node) (out Number, err error) {
	out.where = place{n.Line, n.Column}
	for _, p := range n.Table {
		switch p.Key {
		case "column":
			out.Column, err = r.One(p.Value)
		case "columns":
			out.pattern, out.path, err = r.pattern(p.Value)
		case "nth":
			if out.Nth, err = strconv.Atoi(p.Value.Text); err != nil || out.Nth < 1 {
				err = r.Wrong(p.Value, "nth is 1 for the first column of a name, 2 for the second")
			}
		case "side":
			out.Side, err = r.oneOf(p.Value, form.Texts(form.Sides), sideWords)
		case "clothing":
			out.Clothing, err = r.oneOf(p.Value, form.Texts([]form.Clothing{form.Bare, form.Tucked}), nil)
		case "point":
			out.Point, err = r.oneOf(p.Value, form.Texts(form.Points), pointWords)
		case "height":
			out.Height, err = r.One(p.Value)
		case "unit":
			out.Unit, err = r.unit(p.Value)
		default:
			err = r.Wrong(p.At, "%q is none of column, columns, nth, side, clothing, point, height, unit", p.Key)
		}
		if err != nil {
			return out, err
		}
	}
	if (out.Column == "") == (out.pattern == nil) {
		return out, r.Wrong(n, "a number needs either column, a header, or columns, a pattern such as {point} {side}")
	}
	return out, nil
}

func (r reader) oneOf(n yaml.Node, words []string, others map[string]string) (string, error) {
	t := plain(n.Text)
	for _, w := range words {
		if w == t {
			return w, nil
		}
	}
	if w, ok := others[t]; ok {
		return w, nil
	}
	return "", r.Wrong(n, "%q is none of %s", n.Text, strings.Join(words, ", "))
}

func (r reader) unit(n yaml.Node) (form.Unit, error) {
	u, ok := lengths.ParseUnit(n.Text)
	if !n.IsText || !ok || u == form.NoUnit {
		return u, r.Wrong(n, "%q is none of mm, cm, in", n.Text)
	}
	return u, nil
}

const heightText = `\d+(?:[.,]\d+)?(?: \d+/\d+)?\s*(?:inches|inch|in\.?|cm|mm|"|″|”|'')?`

var placeholder = regexp.MustCompile(`\{[a-z]+\}`)

// pattern reads a pattern of headers: {point}, {side} and {height} stand for
// any word for them, other text for itself.
func (r reader) pattern(n yaml.Node) (*regexp.Regexp, bool, error) {
	text, err := r.One(n)
	if err != nil {
		return nil, false, err
	}
	var b strings.Builder
	b.WriteString("^")
	last := 0
	for _, at := range placeholder.FindAllStringIndex(text, -1) {
		literal(&b, text[last:at[0]])
		switch name := text[at[0]+1 : at[1]-1]; name {
		case "side":
			fmt.Fprintf(&b, "(?P<side>%s)", anyOf(sideWords))
		case "point":
			fmt.Fprintf(&b, "(?P<point>%s)", anyOf(pointWords))
		case "height":
			fmt.Fprintf(&b, "(?P<height>%s)", heightText)
		default:
			return nil, false, r.Wrong(n, "{%s} is none of {point}, {side}, {height}", name)
		}
		last = at[1]
	}
	literal(&b, text[last:])
	b.WriteString("$")
	if last == 0 {
		return nil, false, r.Wrong(n, "a pattern of columns holds {point}, {side} or {height}; for one column write column")
	}
	re, err := regexp.Compile(b.String())
	if err != nil {
		return nil, false, r.Wrong(n, "can't be read as a pattern")
	}
	return re, strings.Contains(text, " / "), nil
}

// literal adds text of a pattern, in which any run of blanks fits any other or
// none.
func literal(b *strings.Builder, text string) {
	text = strings.ToLower(text)
	for i, part := range strings.Fields(" " + text + " ") {
		if i > 0 || strings.HasPrefix(text, " ") {
			b.WriteString(`\s*`)
		}
		b.WriteString(regexp.QuoteMeta(part))
	}
	if strings.HasSuffix(text, " ") || text == " " {
		b.WriteString(`\s*`)
	}
}

// anyOf is an alternative of all words of a dictionary, longest first.
func anyOf(words map[string]string) string {
	var list []phrase
	for w := range words {
		list = append(list, phrase{says: w})
	}
	sortPhrases(list)
	var out []string
	for _, p := range list {
		out = append(out, regexp.QuoteMeta(p.says))
	}
	return strings.Join(out, "|")
}
