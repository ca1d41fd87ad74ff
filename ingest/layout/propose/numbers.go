package propose

import (
	"fmt"
	"slices"

	"lastroom/analysis/form"
)

func (p *proposer) measurements(l *look) {
	if reading := l.one(roleReading); reading != nil && len(l.with(roleSpot)) == 0 {
		p.placeOfRow(l)
		p.line("value: %s", text(reading.ref()))
		if l.one(roleSide) == nil {
			p.ask("%s: which column says the foot?", l.grid.Where())
		}
		p.prefix = "  "
		return
	}
	numbers := p.numbers(l)
	if len(numbers) == 0 {
		return
	}
	p.placeOfRow(l)
	p.line("numbers:")
	p.prefix = "      "
	for _, line := range numbers {
		p.line("%s", line)
	}
	p.prefix = "  "
	if l.twice() && l.told("twice") == "" {
		p.ask("%s: the names of the places stand twice. Is the first of each the left foot and the second the right? They are read so.", l.grid.Where())
	}
}

// placeOfRow begins the numbers with what a row says of where all of its own were taken.
func (p *proposer) placeOfRow(l *look) {
	p.line("measurements:")
	p.prefix = "    "
	tucked := form.Bare.String()
	if l.tucked() {
		tucked = form.Tucked.String()
	}
	if p.ofTable(l, "clothing", "its numbers were taken", tucked, false, option(form.Bare.String(), "on the bare leg, but for columns that say else"), option(form.Tucked.String(), "over the trousers")) == form.Tucked.String() {
		p.line("clothing: {always: tucked}")
	}
	if c := l.one(roleSide); c != nil {
		p.line("side: %s", text(c.ref()))
	}
	if c := l.one(rolePlace); c != nil {
		p.line("place: %s", text(c.ref()))
	}
	if c := l.one(roleHeight); c != nil {
		p.line("height: %s", text(c.ref()))
		if l.one(rolePlace) == nil {
			p.line("point: {always: leg}")
		}
	}
}

// numbers are the columns that hold the numbers of one place, a line each; what is
// not clear of one is asked, and it is left out.
func (p *proposer) numbers(l *look) (lines []string) {
	places := map[string]*column{}
	side := l.one(roleSide) != nil
	for _, c := range l.with(roleSpot) {
		s := c.spot
		if s.Side == "" && !side { // the same names twice: the first are one foot
			if s.Side = l.footOf(c); s.Side == "" {
				p.ask("%s: which foot is it? Left out until then.", c.ref())
				continue
			}
		}
		if s.Point == "" && l.one(roleHeight) == nil && l.one(rolePlace) == nil {
			p.ask("%s: which place of the tape is it? Left out until then.", c.ref())
			continue
		}
		key := fmt.Sprint(s.Side, s.Clothing, s.Point, s.Height)
		if other := places[key]; other != nil {
			p.ask("%s and %s seem to hold the same number; which is meant? %s is left out.", other.ref(), c.ref(), c.ref())
			continue
		}
		places[key] = c
		line := "- {column: " + text(c.ref())
		if s.Side != "" {
			line += ", side: " + s.Side
		}
		if s.Clothing != "" && s.Clothing != "bare" {
			line += ", clothing: " + s.Clothing
		}
		if s.Point != "" {
			line += ", point: " + s.Point
		}
		if s.Height != "" {
			line += ", height: " + text(s.Height)
		}
		lines = append(lines, line+"}")
	}
	return lines
}

// twice reports whether the names of the places stand twice, and nothing says
// the foot.
func (l *look) twice() bool {
	return l.one(roleSide) == nil && slices.ContainsFunc(l.with(roleSpot), func(c *column) bool { return c.spot.Side == "" && c.again == 2 })
}

// footOf is the foot of a column whose name stands twice: the first is the left
// one, unless a person says else.
func (l *look) footOf(c *column) string {
	if c.again == 0 || c.again > 2 {
		return ""
	}
	if second := c.again == 2; second != (l.told("twice") == "right") {
		return form.Right.String()
	}
	return form.Left.String()
}
