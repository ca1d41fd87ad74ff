package propose

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/wording"
)

// unwritten is what tells the unit of lengths that name none.
type unwritten struct {
	cells   map[form.Unit]int // units that stand in other cells of these columns
	headers map[form.Unit]int // units that stand in their headers
	girths  []float64         // the numbers themselves
}

// unwrittenUnit gathers it. Girths of the foot are preferred to other numbers, whose
// range is wider.
func unwrittenUnit(g []*look) unwritten {
	u := unwritten{cells: map[form.Unit]int{}, headers: map[form.Unit]int{}}
	var others []float64
	for _, l := range g {
		for _, c := range l.columns {
			shaft := c.role == "orders.shaft_height" || c.role == roleHeight
			if c.role != roleSpot && c.role != roleReading && !shaft {
				continue
			}
			for unit, n := range c.units {
				u.cells[unit] += n
			}
			if unit := headerUnit(c.name); unit != form.NoUnit {
				u.headers[unit]++
			}
			switch point := c.spot.Point; {
			case shaft:
			case c.role == roleSpot && c.spot.Height == "" && point != "length" && point != "breadth" && point != "":
				u.girths = append(u.girths, c.values...)
			default:
				others = append(others, c.values...)
			}
		}
	}
	if len(u.girths) == 0 {
		u.girths = others
	}
	return u
}

// girthUnit is the unit in which most numbers can be girths of feet and legs, and how
// many; unsure where many can't, or can in another unit too that no table before
// settled.
func (p *proposer) girthUnit(numbers []float64) (best form.Unit, fit int, unsure bool) {
	// Girths of feet and legs lie between 150 and 560 mm (ANSUR II, 2012: ball,
	// heel-ankle and calf circumferences), which keeps the three units apart.
	fits := map[form.Unit]int{}
	for _, v := range numbers {
		for _, u := range form.Units {
			if mm := v * u.MM(); mm >= 150 && mm <= 560 {
				fits[u]++
			}
		}
	}
	best = mostOf(fits)
	enough := 0.8 * float64(len(numbers))
	unsure = float64(fits[best]) < enough
	for _, u := range form.Units { // few numbers may be girths in two units
		if u == best || float64(fits[u]) < enough {
			continue
		}
		switch p.lastUnit {
		case best:
		case u:
			best = u
		default:
			unsure = true
		}
	}
	return best, fits[best], unsure
}

// unit says the unit of lengths that name none, by the headers and by what a
// human foot is.
func (p *proposer) unit(g []*look) form.Unit {
	u := unwrittenUnit(g)
	if len(u.girths)+len(u.cells)+len(u.headers) == 0 {
		return form.NoUnit
	}
	guess, fit, unsure := mostOf(u.cells), 0, false
	if len(u.girths) > 0 {
		guess, fit, unsure = p.girthUnit(u.girths)
	}
	is := notUsed
	if guess != form.NoUnit {
		is = guess.String()
	}
	is = p.ofTable(g[0], "unit", "unit of numbers that name none", is, unsure, worded(form.Texts(form.Units), "not known")...)
	if g[0].told("unit") == is {
		unit, _ := lengths.ParseUnit(given(is))
		if unit != form.NoUnit {
			p.line("unit: %s", unit)
		}
		return unit
	}
	if len(u.girths) == 0 {
		if guess != form.NoUnit {
			p.line("unit: %s", guess)
		}
		return guess
	}
	if unsure {
		p.ask("%s: in which unit are the numbers? Write unit: in, cm or mm.", g[0].grid.Where())
		if guess == form.NoUnit {
			guess = form.Inch
		}
	}
	p.seen(g[0], "unit: "+guess.String(), "%d of %d numbers without a unit can be girths of feet or legs in it", fit, len(u.girths))
	return guess
}

func mostOf(counts map[form.Unit]int) (best form.Unit) {
	for _, u := range form.Units {
		if counts[u] > 0 && counts[u] > counts[best] {
			best = u
		}
	}
	return best
}

// headerUnit is the unit that stands in a header's brackets.
func headerUnit(name string) form.Unit {
	i, j := strings.LastIndexByte(name, '('), strings.LastIndexByte(name, ')')
	if i >= 0 && j > i {
		if u, ok := lengths.ParseUnit(name[i+1 : j]); ok {
			return u
		}
	}
	return form.NoUnit
}

// dayColumns are the roles of columns of days.
var dayColumns = []role{"orders.received_on", "orders.cut_on", "orders.shipped_on", "outcomes.reported_on", roleRemade}

// eitherDay tells a text of the column that is one day or another.
func (c *column) eitherDay() (example string) {
	for _, t := range c.few() {
		a, err := wording.ReadDay(t, wording.DayFirst)
		b, err2 := wording.ReadDay(t, wording.MonthFirst)
		if err == nil && err2 == nil && !a.Equal(b) {
			example = fmt.Sprintf("%s is %s or %s", t, a.Format("2 January 2006"), b.Format("2 January 2006"))
		}
	}
	return example
}

// days says the order of day and month, with its evidence.
func (p *proposer) days(g []*look) {
	first, second, both := 0, 0, 0
	example := ""
	for _, l := range g {
		for _, c := range l.columns {
			if !slices.Contains(dayColumns, c.role) {
				continue
			}
			first, second, both = first+c.firstOver, second+c.secondOver, both+c.both
			if c.both > 0 && example == "" {
				example = c.eitherDay()
			}
		}
	}
	guess, why := "", ""
	switch {
	case first > second:
		guess, why = wording.DayFirst.String(), fmt.Sprintf(" (%s a first number over 12, %d a second one)", form.CountOf(first, "day has", "days have"), second)
	case second > 0:
		guess, why = wording.MonthFirst.String(), fmt.Sprintf(" (%s a second number over 12, %d a first one)", form.CountOf(second, "day has", "days have"), first)
	case both > 0:
		why = " (" + example + ")"
	default:
		return
	}
	open := guess == "" || first > 0 && second > 0
	if order := p.ofTable(g[0], "days", "days in figures are"+why, guess, open, option("day first", "day first"), option("month first", "month first")); g[0].told("days") == order && order != "" {
		p.line("days: %s", order)
		return
	}
	switch {
	case first > 0 && second == 0:
		p.seen(g[0], "days: day first", "%s a first number over 12", form.CountOf(first, "day has", "days have"))
	case second > 0 && first == 0:
		p.seen(g[0], "days: month first", "%s a second number over 12", form.CountOf(second, "day has", "days have"))
	case first > 0 && second > 0:
		more, order := first, wording.DayFirst
		if second > first {
			more, order = second, wording.MonthFirst
		}
		p.seen(g[0], "days: "+order.String(), "%d of %d days show it", more, first+second)
		p.ask("%s: %d days are day first and %d month first. Those that go against the line above are refused.", g[0].grid.Where(), first, second)
	case both > 0:
		p.line("# days: month first")
		p.ask("%s: day or month first? %s. Without an answer these days are refused.", g[0].grid.Where(), example)
	}
}

// decimal says what commas in numbers are.
func (p *proposer) decimal(g []*look) {
	commas, points := 0, 0
	for _, l := range g {
		for _, c := range l.columns {
			if c.role == roleSpot || c.role == roleReading {
				commas, points = commas+c.commas, points+c.points
			}
		}
	}
	if commas == 0 {
		return
	}
	guess := "either"
	if points == 0 {
		guess = "comma"
	}
	sign := p.ofTable(g[0], "decimal", fmt.Sprintf("decimal sign of numbers in words (%d with a comma, %d with a point)", commas, points), guess, false,
		option("comma", "comma: 22,9"), option("point", "point: 22.9"), option("either", "both are in use"))
	if g[0].told("decimal") == sign {
		p.line("decimal: %s", sign)
		return
	}
	switch {
	case commas > 0 && points == 0:
		p.seen(g[0], "decimal: comma", "%s a comma, none a point", form.CountOf(commas, "number has", "numbers have"))
	case commas > 0:
		p.seen(g[0], "decimal: either", "%s a comma, %d a point", form.CountOf(commas, "number has", "numbers have"), points)
	}
}
