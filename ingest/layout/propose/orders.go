package propose

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// may reports whether a column may be written for a sheet's column; where its
// cells turned out to be unreadable it is asked about instead.
func (p *proposer) may(sheet, name string, c *column) bool {
	if c == nil {
		return false
	}
	if p.drop[sheet+"."+name+"|"+sheets.Fold(c.path)] {
		p.ask("%s looks like %s, but many of its cells can't be read so: %s. What is it?", c.ref(), name, strings.Join(some(c.few(), 4), "; "))
		return false
	}
	return true
}

func some(texts []string, n int) []string {
	if len(texts) > n {
		return append(texts[:n:n], "…")
	}
	return texts
}

// words writes a table of words.
func words(pairs map[string]string) string {
	var keys, out []string
	for k := range pairs {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		out = append(out, text(k)+": "+text(pairs[k]))
	}
	return "{" + strings.Join(out, ", ") + "}"
}

func (p *proposer) ordersSheet(l *look) {
	p.line("orders:")
	p.prefix = "    "
	plainColumn := func(name string) {
		if c := l.one(role("orders." + name)); p.may("orders", name, c) {
			p.line("%s: %s", name, text(c.ref()))
		}
	}
	plainColumn("customer_id")
	for _, name := range []string{"received_on", "cut_on", "shipped_on"} {
		c := l.one(role("orders." + name))
		if !p.may("orders", name, c) {
			continue
		}
		none := map[string]string{}
		for _, t := range c.few() {
			if noShipping.MatchString(t) {
				none[t] = ""
			}
		}
		if len(none) > 0 {
			p.line("%s: {column: %s, words: %s}", name, text(c.ref()), words(none))
		} else {
			p.line("%s: %s", name, text(c.ref()))
		}
	}
	if c := l.one("orders.shaft_height"); p.may("orders", "shaft_height", c) {
		if u := headerUnit(c.name); u != form.NoUnit {
			p.line("shaft_height_%s: %s", u, text(c.ref()))
		} else {
			p.line("shaft_height: %s", text(c.ref()))
		}
	}
	p.fewWords(l, "closure", func(t string) (string, bool) {
		switch {
		case pullOn.MatchString(t):
			return "pull-on", true
		case laceUp.MatchString(t):
			return "lace-up", true
		}
		return "", false
	})
	p.fewWords(l, "sock", func(t string) (string, bool) { w, ok := sockWords[t]; return w, ok })
	for _, name := range []string{"orthotic", "worn_tucked"} {
		c := l.one(role("orders." + name))
		if !p.may("orders", name, c) {
			continue
		}
		yes, no, other := 0, 0, []string{}
		for t, n := range c.texts {
			switch wording.YesNo[t] {
			case "yes":
				yes += n
			case "no":
				no += n
			default:
				other = append(other, t)
			}
		}
		p.line("%s: %s", name, text(c.ref()))
		if no == 0 && yes > 0 {
			p.ask("%s: does an empty cell mean no? Then write %s: {column: %s, empty: no}.", c.ref(), name, text(c.ref()))
		}
		if len(other) > 0 {
			p.ask("%s: what do these mean: %s?", c.ref(), strings.Join(some(other, 5), "; "))
		}
	}
	if l.one("orders.worn_tucked") == nil {
		for other, name := range p.names {
			p.line("worn_tucked: {listed_in: %s}", name)
			p.ask("Is an order that is not in %s worn outside the trousers? Then write worn_tucked: {listed_in: %s, otherwise: no}.", other.grid.Where(), name)
		}
	}
	p.channel(l)
	plainColumn("sex")
	plainColumn("earlier_order_id")
	if s := l.suffix(); s != "" {
		p.line("remake_of_order_id: {column: %s, without: %s}", text(l.key.ref()), text(s))
	}
	p.prefix = "  "
	p.forms(l)
}

// fewWords writes a column of few words, as far as they are known.
func (p *proposer) fewWords(l *look, name string, known func(string) (string, bool)) {
	c := l.one(role("orders." + name))
	if c == nil || len(c.texts) > 20 {
		return
	}
	pairs, lack := map[string]string{}, []string{}
	for _, t := range c.few() {
		if w, ok := known(p.means(c, t)); ok {
			pairs[t] = w
		} else {
			lack = append(lack, t)
		}
	}
	if len(pairs) > 0 && p.may("orders", name, c) {
		for _, t := range lack {
			pairs[t] = ""
		}
		p.line("%s: {column: %s, words: %s}", name, text(c.ref()), words(pairs))
	}
	if len(lack) > 0 {
		col, _ := sheets.Catalogue[0].Column(name)
		for _, t := range lack {
			pairs[t] = "…"
		}
		if len(pairs) == len(lack) {
			p.line("# %s: {column: %s, words: %s}", name, text(c.ref()), words(pairs))
		}
		p.ask("%s: which of %s is meant by %s?", c.ref(), strings.Join(col.Words, ", "), strings.Join(some(lack, 6), "; "))
	}
}

// takers parts the words of who measured into the wearer, dealers and others.
func (p *proposer) takers(c *column) (own, dealers, us, others []string) {
	for _, t := range c.few() {
		switch says := p.means(c, t); {
		case homeWords.MatchString(says):
			own = append(own, t)
		case dealerWords.MatchString(says):
			dealers = append(dealers, t)
		case shopWords.MatchString(says):
			us = append(us, t)
		default:
			others = append(others, t)
		}
	}
	return own, dealers, us, others
}

func (p *proposer) channel(l *look) {
	c := l.one(roleTaker)
	if c == nil || len(c.texts) > 60 || !p.may("orders", "channel", c) {
		return
	}
	own, dealers, us, others := p.takers(c)
	pairs := map[string]string{}
	for _, t := range own {
		pairs[t] = "home"
	}
	for _, t := range dealers {
		pairs[t] = "dealer"
	}
	for _, t := range us {
		pairs[t] = "shop"
	}
	for _, t := range others {
		pairs[t] = ""
	}
	p.line("channel: {column: %s, words: %s}", text(c.ref()), words(pairs))
	if len(others) > 0 {
		p.ask("%s: are these of the shop, a dealer, or the wearer at home: %s? Write shop, dealer or home for each.", c.ref(), strings.Join(some(others, 8), "; "))
	}
}

func (p *proposer) forms(l *look) {
	p.line("forms:   # one form an order")
	p.prefix = "    "
	p.line("form_no: {always: 1}")
	if c := l.one("orders.received_on"); p.may("orders", "received_on", c) {
		p.line("received_on: %s", text(c.ref()))
	}
	p.line("cut_from: {always: \"yes\"}")
	if c := l.one(roleTaker); c != nil && len(c.texts) <= 60 {
		own, _, _, _ := p.takers(c)
		if len(own) > 0 {
			none, yes := map[string]string{}, map[string]string{}
			for _, t := range own {
				none[t], yes[t] = "", "yes"
			}
			p.line("measurer_id: {column: %s, words: %s}", text(c.ref()), words(none))
			p.line("self_measured: {column: %s, words: %s, filled: \"no\"}", text(c.ref()), words(yes))
		} else {
			p.line("measurer_id: %s", text(c.ref()))
		}
	}
	if c := l.one(roleMarks); c != nil && len(c.texts) > 0 {
		left, right, lack := map[string]string{}, map[string]string{}, []string{}
		for _, t := range c.few() {
			switch {
			case missingLeft.MatchString(t):
				left[t], right[t] = "no", "yes"
			case missingRight.MatchString(t):
				left[t], right[t] = "yes", "no"
			case missingBoth.MatchString(t), marksNot.MatchString(t):
				left[t], right[t] = "no", "no"
			case marksFine.MatchString(t):
				left[t], right[t] = "yes", "yes"
			default:
				left[t], right[t] = "", ""
				lack = append(lack, t)
			}
		}
		p.line("marks_left: {column: %s, words: %s}", text(c.ref()), words(left))
		p.line("marks_right: {column: %s, words: %s}", text(c.ref()), words(right))
		if len(lack) > 0 {
			p.ask("%s: what do these say of the tape marks: %s?", c.ref(), strings.Join(some(lack, 5), "; "))
		}
	}
	if c := l.one("forms.irregularities"); c != nil {
		p.line("irregularities: %s", text(c.ref()))
	}
	p.prefix = "  "
}

func (p *proposer) measurements(l *look, unit form.Unit) {
	p.line("measurements:")
	p.prefix = "    "
	defer func() { p.prefix = "  " }()
	if l.tucked() {
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
	if c := l.one(roleReading); c != nil && len(l.with(roleSpot)) == 0 {
		p.line("value: %s", text(c.ref()))
		if l.one(roleSide) == nil {
			p.ask("%s: which column says the foot?", l.grid.Where())
		}
		return
	}
	p.line("numbers:")
	p.prefix = "      "
	places := map[string]*column{}
	side := l.one(roleSide) != nil
	for _, c := range l.with(roleSpot) {
		s := c.spot
		if s.Side == "" && !side { // the same names twice: the first are one foot
			if c.again == 0 || c.again > 2 {
				p.ask("%s: which foot is it? Left out until then.", c.ref())
				continue
			}
			s.Side = [...]string{"left", "right"}[c.again-1]
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
		p.line("%s}", line)
	}
	again := slices.ContainsFunc(l.with(roleSpot), func(c *column) bool { return c.spot.Side == "" && c.again == 2 })
	if again && !side {
		p.ask("%s: the names of the places stand twice. Is the first of each the left foot and the second the right? They are read so.", l.grid.Where())
	}
}

func (p *proposer) outcomes(l *look) {
	p.line("outcomes:")
	p.prefix = "    "
	defer func() { p.prefix = "  " }()
	day := l.one("outcomes.reported_on")
	reason := l.one(roleReason)
	switch made, fit := l.one(roleRemade), l.one(roleFit); {
	case l.isReports():
		p.line("result: {always: remade}   # by the name of the table")
	case made != nil && made.share(made.days) > 0.5:
		p.line("result: {column: %s, filled: remade}   # a day there is a remake", text(made.ref()))
		day = made
	case made != nil:
		none := map[string]string{}
		for _, t := range made.few() {
			if wording.YesNo[t] == "no" {
				none[t] = ""
			}
		}
		for _, t := range []string{"n", "no", "nein"} {
			none[t] = ""
		}
		p.line("result: {column: %s, words: %s, filled: remade}   # any other mark", text(made.ref()), words(none))
	case fit != nil:
		pairs := map[string]string{}
		lack := []string{}
		for _, t := range fit.few() {
			hit := false
			for says, means := range fitWords {
				if _, ok := wording.Cut(t, says); ok {
					pairs[says], hit = means, true
				}
			}
			if !hit {
				lack = append(lack, t)
			}
		}
		p.line("result: {column: %s, phrases: %s}", text(fit.ref()), words(pairs))
		if len(lack) > 0 {
			p.ask("%s: what became of the boots where it says: %s? Add it to the phrases, or the rows are refused.", fit.ref(), strings.Join(some(lack, 5), "; "))
		}
		if reason == nil {
			reason = fit
		}
	default:
		s := l.suffix()
		p.line("order_id: {column: %s, without: %s}", text(l.key.ref()), text(s))
		p.line("result: {always: remade}   # the order was booked again with %s", s)
		day = l.one("orders.received_on")
		p.ask("Does %s behind a number mean that the order was made again, told on the day the row came in? It is read so.", s)
	}
	if p.may("outcomes", "reported_on", day) {
		p.line("reported_on: %s", text(day.ref()))
	}
	if c := l.one("outcomes.cost"); p.may("outcomes", "cost", c) {
		p.line("cost: %s", text(c.ref()))
	}
	if reason != nil {
		brackets := map[string]bool{}
		for _, t := range reason.few() {
			if i, j := strings.LastIndexByte(t, '('), strings.LastIndexByte(t, ')'); i >= 0 && j > i {
				brackets[t[i+1:j]] = true
			}
		}
		var list []string
		for t := range brackets {
			if _, known := wording.ReadFit(t, nil); !known {
				list = append(list, t)
			}
		}
		sort.Strings(list)
		if own := causes(list); len(own) > 0 {
			p.line("reason: {column: %s, phrases: %s}", text(reason.ref()), words(own))
			p.ask("%s: are these rightly put down to whose fault it was: %s?", reason.ref(), words(own))
			list = slices.DeleteFunc(list, func(t string) bool { return own[t] != "" })
		} else {
			p.line("reason: %s", text(reason.ref()))
		}
		if len(list) > 0 {
			p.ask("%s: do these say whose fault it was: %s? Then write reason: {column: %s, phrases: {%s: pattern, …}}.", reason.ref(), strings.Join(some(list, 6), "; "), text(reason.ref()), text(list[0]))
		}
	}
	if c := l.one("outcomes.cause"); c != nil {
		col, _ := outcomesSheet().Column("cause")
		pairs := map[string]string{}
		for _, t := range c.few() {
			pairs[t] = wording.Cause(p.means(c, t))
		}
		p.line("cause: {column: %s, words: %s}", text(c.ref()), words(pairs))
		p.ask("%s: is each of its words put down to the right cause? There are %s.", c.ref(), strings.Join(col.Words, ", "))
	}
}

func outcomesSheet() *sheets.Sheet {
	s, _ := sheets.SheetNamed("outcomes")
	return s
}

// unused asks about columns that are not understood.
func (p *proposer) unused(l *look) {
	for _, c := range l.columns {
		if c.role == "" && c.some > 0 && c != l.key {
			p.ask("%s is not used. It holds: %s.", c.ref(), strings.ReplaceAll(strings.Join(some(c.few(), 3), "; "), "\n", " "))
		}
	}
}

func causes(texts []string) map[string]string {
	out := map[string]string{}
	for _, t := range texts {
		if c := wording.Cause(t); c != "" {
			out[t] = c
		}
	}
	return out
}
