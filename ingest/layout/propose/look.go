package propose

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// A look is what can be seen of a table that nobody described.
type look struct {
	file    layout.File
	grid    *grid.Grid
	head    layout.Head
	levels  int
	above   bool // a row stands right above the header
	columns []*column
	rows    [][]string // the first rows under the header
	kinds   [][]grid.Kind
	numbers []int32        // of the rows
	hidden  []int32        // those among them
	key     *column        // the order's number
	exact   string         // names this table alone
	id      string         // names the tables of its layout, for answers
	answers sketch.Answers // what a person chose
	lists   []sketch.List  // about the table
	top     []sketch.Row
	takers  map[string]string // who measured → shop, dealer, home
}

// A column of a look.
type column struct {
	at         int
	name, path string
	again      int // which of several columns of its name, from 1; 0: the only one
	role       role
	why        string
	spot       wording.Place
	texts      map[string]int // different texts and how often
	some       int            // cells that hold anything
	days       int            // of them, that are a day
	dayCells   int
	numeric    int // that are a number
	length     int // that are a length in some unit
	firstOver  int // days in figures with the first number over 12
	secondOver int
	both       int // days in figures that fit either order
	units      map[form.Unit]int
	commas     int // numbers with a decimal comma
	points     int
	values     []float64
	written    map[string]string // the different texts as written first
	blanks     map[string]bool   // marks for nothing that stand in it
	told       bool              // a person said what it is
	lists      []sketch.List
}

// How many rows of a table are looked at, and at most how many cells: so many rows of
// 120 columns. A small file can repeat a wide row a hundred thousand times.
const (
	looked      = 5000
	lookedCells = 600_000
)

// headerAmong is among how many rows the header is looked for.
const headerAmong = 40

// shownRows is how many rows of a table a page shows as they stand.
const shownRows = 12

// read looks at a table. Without columns there is none in it that could be told.
func (l *look) read(ctx context.Context) error {
	cells := 0
	err := l.grid.Rows(ctx, func(r grid.Row) bool {
		texts, kinds := make([]string, len(r.Cells)), make([]grid.Kind, len(r.Cells))
		for i, c := range r.Cells {
			texts[i], kinds[i] = strings.TrimSpace(strings.ReplaceAll(c.Text, "\u00a0", " ")), c.Kind
		}
		l.rows, l.kinds, l.numbers = append(l.rows, texts), append(l.kinds, kinds), append(l.numbers, r.No)
		if r.Hidden {
			l.hidden = append(l.hidden, r.No)
		}
		cells += len(r.Cells)
		return len(l.rows) < looked && cells < lookedCells
	})
	if err != nil {
		return err
	}
	for i, row := range l.rows[:min(len(l.rows), shownRows)] {
		l.top = append(l.top, sketch.Row{No: int(l.numbers[i]), Cells: row})
	}
	at, score := -1, 0
	for i := range min(len(l.rows), headerAmong) {
		if s := l.headerScore(i); s > score {
			at, score = i, s
		}
	}
	if row := slices.IndexFunc(l.numbers, func(no int32) bool { return fmt.Sprint(no) == l.answers[l.exact+"|header"] }); row >= 0 {
		at = row
	}
	if at < 0 {
		return nil
	}
	if at < len(l.top) {
		l.top[at].Header = true
	}
	l.levels = 1
	if l.above = at > 0 && l.numbers[at-1] == l.numbers[at]-1; l.above {
		groups := 0
		for _, text := range l.rows[at-1] {
			if s, rest := wording.ReadPlace(text); text != "" && rest == "" && (s.Side != "" || s.Clothing != "") {
				groups++
			}
		}
		if groups >= 2 {
			l.levels = 2
		}
		switch l.answers[l.exact+"|levels"] {
		case "1":
			l.levels = 1
		case "2":
			l.levels = 2
		}
	}
	l.head = layout.HeadOf(l.rows[at+1-l.levels:at+1], l.numbers[at])
	l.rows, l.kinds, l.numbers = l.rows[at+1:], l.kinds[at+1:], l.numbers[at+1:]
	l.readColumns()
	return nil
}

// headerScore is how much a row looks like a header: words that head columns of
// workshops count most, numbers and days against it, unless they can be
// heights.
func (l *look) headerScore(i int) (score int) {
	known, names, other := 0, 0, 0
	for k, text := range l.rows[i] {
		if text == "" {
			continue
		}
		_, isRole := roleOf(text)
		s, rest := wording.ReadPlace(text)
		switch {
		case isRole:
			known++
		case rest == "" && (s.Point != "" || s.Side != ""):
			known++
		case l.kinds[i][k] == grid.Day:
			other++
		case bareHeight(text):
			names++
		case strings.Trim(text, "0123456789.,/ ") == "":
			other++
		default:
			names++
		}
	}
	if known+names < 2 || known == 0 || other > known {
		return 0
	}
	return 5*known + min(names, 3) - 3*other
}

// bareHeight reports whether a header can be the height of a tape.
func bareHeight(text string) bool {
	n := 0
	if _, err := fmt.Sscanf(text, "%d", &n); err != nil || strings.Trim(text, "0123456789") != "" {
		return false
	}
	return n >= 4 && n <= 60 || n >= 100 && n <= 600
}

func (l *look) readColumns() {
	seen := map[string]int{}
	for i, name := range l.head.Names {
		if name == "" {
			continue
		}
		seen[sheets.Fold(name)]++
		c := &column{at: i, name: name, path: l.head.Paths[i], again: seen[sheets.Fold(name)], texts: map[string]int{}, units: map[form.Unit]int{}, written: map[string]string{}, blanks: map[string]bool{}}
		l.columns = append(l.columns, c)
	}
	key := -1
	for _, c := range l.columns {
		if r, ok := roleOf(c.name); ok && r == "orders.order_id" && key < 0 {
			key = c.at
		}
	}
	for _, c := range l.columns {
		if seen[sheets.Fold(c.name)] == 1 {
			c.again = 0
		}
		for k, row := range l.rows {
			if key >= 0 && key < len(row) && totalWords.MatchString(wording.Plain(row[key])) {
				continue
			}
			switch {
			case c.at >= len(row) || row[c.at] == "" || sheets.Fold(row[c.at]) == sheets.Fold(c.name):
			case wording.Blank[wording.Plain(row[c.at])]:
				c.blanks[wording.Plain(row[c.at])] = true
			default:
				c.see(row[c.at], l.kinds[k][c.at])
			}
		}
		c.guess()
	}
}

// see counts what a cell can be.
func (c *column) see(text string, kind grid.Kind) {
	c.some++
	if len(c.texts) < 2000 {
		plain := wording.Plain(text)
		if c.texts[plain]++; c.texts[plain] == 1 {
			c.written[plain] = strings.Join(strings.Fields(text), " ")
		}
	}
	switch {
	case kind == grid.Day:
		c.days, c.dayCells = c.days+1, c.dayCells+1
		return
	case kind == grid.Number && sheets.BareDay(text) != text:
		c.days++
	}
	_, day := wording.ReadDay(text, wording.DayFirst)
	_, month := wording.ReadDay(text, wording.MonthFirst)
	if day == nil || month == nil {
		c.days++
		if day != nil {
			c.secondOver++
		} else if month != nil {
			c.firstOver++
		} else if d1, _ := wording.ReadDay(text, wording.DayFirst); true {
			if d2, _ := wording.ReadDay(text, wording.MonthFirst); !d1.Equal(d2) {
				c.both++
			}
		}
		return
	}
	own := lengths.WrittenIn(text, form.NoUnit)
	unit := own
	if own == form.NoUnit {
		unit = form.Inch // which takes fractions too
	}
	if mm, err := lengths.Parse(text, unit, lengths.Options{DecimalComma: true}); err == nil {
		c.length++
		c.units[own]++
		if own == form.NoUnit {
			c.numeric++
			c.values = append(c.values, mm/25.4)
		}
		if strings.Contains(text, ",") {
			c.commas++
		} else if strings.Contains(text, ".") && kind == grid.Plain {
			c.points++
		}
	}
}

// merge adds to what was seen of a column what was seen of the same one
// elsewhere.
func (c *column) merge(d *column) {
	for t, n := range d.texts {
		c.texts[t] += n
		if c.written[t] == "" {
			c.written[t] = d.written[t]
		}
	}
	for t := range d.blanks {
		c.blanks[t] = true
	}
	for u, n := range d.units {
		c.units[u] += n
	}
	c.some, c.days, c.dayCells, c.numeric, c.length = c.some+d.some, c.days+d.days, c.dayCells+d.dayCells, c.numeric+d.numeric, c.length+d.length
	c.firstOver, c.secondOver, c.both = c.firstOver+d.firstOver, c.secondOver+d.secondOver, c.both+d.both
	c.commas, c.points, c.values = c.commas+d.commas, c.points+d.points, append(c.values, d.values...)
	if c.role == "" {
		c.role, c.spot, c.why = d.role, d.spot, d.why
	}
}

// guess says what the column seems to be by its header.
func (c *column) guess() {
	s, rest := wording.ReadPlace(c.path)
	if s.Point == "" || rest != "" {
		s, rest = wording.ReadPlace(c.name)
	}
	if s.Point == "" && bareHeight(c.name) {
		s.Point, s.Height, rest = "leg", c.name, ""
		if g, _ := wording.ReadPlace(strings.TrimSuffix(c.path, c.name)); g.Side != "" {
			s.Side = g.Side
		}
	}
	named, isRole := roleOf(c.name)
	switch {
	case s.Point != "" && rest == "" && (!isRole || s.Side != "" || s.Height != ""):
		c.role, c.spot, c.why = roleSpot, s, "the header names a place of the tape"
	case isRole:
		c.role, c.why = named, "by its header"
	case s.Side != "" && rest == "" && c.length > 0:
		c.role, c.spot, c.why = roleSpot, s, "the header names a foot, and the cells are lengths"
	}
}

// share is how much of the cells that hold anything a count is.
func (c *column) share(n int) float64 {
	if c.some == 0 {
		return 0
	}
	return float64(n) / float64(c.some)
}

// few are the different texts, the most frequent first.
func (c *column) few() (out []string) {
	for t := range c.texts {
		out = append(out, t)
	}
	sort.Slice(out, func(i, j int) bool {
		if c.texts[out[i]] != c.texts[out[j]] {
			return c.texts[out[i]] > c.texts[out[j]]
		}
		return out[i] < out[j]
	})
	return out
}

// with are the columns of a role.
func (l *look) with(r role) (out []*column) {
	for _, c := range l.columns {
		if c.role == r {
			out = append(out, c)
		}
	}
	return out
}

// one is the only column of a role, the one with most in it where there are
// several; nil for none.
func (l *look) one(r role) *column {
	var best *column
	for _, c := range l.with(r) {
		if best == nil || c.told && !best.told || c.told == best.told && c.some > best.some {
			best = c
		}
	}
	return best
}
