package propose

import (
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
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
		for _, t := range c.noDays() {
			is := "refused"
			if noShipping.MatchString(t) {
				is = notUsed
			}
			if p.ofText(l, c, "day", t, "means", is, false, []sketch.Option{option(notUsed, "no day: it did not happen"), option("refused", "its row is kept out, and told")}) == notUsed {
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
		if u := p.unitList(l, c, headerUnit(c.name)); u != form.NoUnit {
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
		if c := l.one(role("orders." + name)); p.may("orders", name, c) {
			p.yesNo(l, name, c)
		}
	}
	if l.one("orders.worn_tucked") == nil {
		for other, name := range p.names {
			if p.ofTable(l, "not tucked", "an order that is not in "+other.grid.Where(), notUsed, true, option("no", "is worn with the trousers outside"), option(notUsed, "may be worn either way")) == "no" {
				p.line("worn_tucked: {listed_in: %s, otherwise: \"no\"}", name)
				continue
			}
			p.line("worn_tucked: {listed_in: %s}", name)
			if l.told("not tucked") == "" {
				p.ask("Is an order that is not in %s worn outside the trousers? Then write worn_tucked: {listed_in: %s, otherwise: no}.", other.grid.Where(), name)
			}
		}
	}
	p.channel(l)
	p.fewWords(l, "sex", func(t string) (string, bool) { w, ok := sexWords[t]; return w, ok })
	plainColumn("earlier_order_id")
	if s := p.again(l); s != "" {
		p.line("remake_of_order_id: {column: %s, without: %s}", text(l.key.ref()), text(s))
	}
	p.prefix = "  "
	p.forms(l)
}

// again is what stands behind a number when its order was made again.
func (p *proposer) again(l *look) string {
	tail := l.tail()
	if tail == "" || p.ofTable(l, "tail", tail+" behind an order's number", "remake", true, option("remake", "means it was made again, told on the day the row came in"), option(notUsed, "is part of the number")) == notUsed {
		return ""
	}
	return tail
}

// noDays are the texts of a column of days that are none.
func (c *column) noDays() (out []string) {
	for _, t := range c.few() {
		_, day := wording.ReadDay(t, wording.DayFirst)
		_, month := wording.ReadDay(t, wording.MonthFirst)
		if day != nil && month != nil && strings.Trim(t, "0123456789") != "" && len(out) < 8 {
			out = append(out, t)
		}
	}
	return out
}

// yesNo writes a column that is ticked.
func (p *proposer) yesNo(l *look, name string, c *column) {
	yes, no, other, own := 0, 0, []string{}, map[string]string{}
	for _, t := range c.few() {
		is := wording.YesNo[t]
		switch {
		case is == "yes":
			yes += c.texts[t]
		case is == "no":
			no += c.texts[t]
		case len(c.texts) > mostTexts:
			other = append(other, t)
		default:
			if is = p.ofText(l, c, name, t, "means", "", true, yesOrNo); is == "" {
				other = append(other, t)
			}
		}
		if wording.YesNo[t] == "" && is != "" {
			own[t] = given(is)
		}
	}
	asked := no == 0 && yes > 0
	empty := p.ofColumn(l, c, name+" empty", "an empty cell means", notUsed, asked, option(notUsed, "not known"), option("no", "no"), option("yes", "yes"))
	line := "{column: " + text(c.ref())
	if len(own) > 0 {
		line += ", words: " + words(own)
	}
	if e := given(empty); e != "" {
		line += ", empty: " + text(e)
	}
	if line == "{column: "+text(c.ref()) {
		p.line("%s: %s", name, text(c.ref()))
	} else {
		p.line("%s: %s}", name, line)
	}
	if _, told := p.answers[l.id+"|"+c.ref()+"|"+name+" empty"]; asked && !told {
		p.ask("%s: does an empty cell mean no? Then write %s: {column: %s, empty: no}.", c.ref(), name, text(c.ref()))
	}
	if len(other) > 0 {
		p.ask("%s: what do these mean: %s?", c.ref(), strings.Join(some(other, 5), "; "))
	}
}

// fewWords writes a column of few words, as far as they are known.
func (p *proposer) fewWords(l *look, name string, known func(string) (string, bool)) {
	c := l.one(role("orders." + name))
	if c == nil || len(c.texts) > 20 {
		return
	}
	col, _ := sheets.Catalogue[0].Column(name)
	pairs, lack := map[string]string{}, []string{}
	for _, t := range c.few() {
		w, ok := known(p.means(c, t))
		if !ok {
			w = notUsed
		}
		open := !ok && p.answers[l.id+"|"+c.ref()+"|"+name+"|"+t] == ""
		switch w = given(p.ofText(l, c, name, t, "means", w, open, worded(col.Words, "not known"))); {
		case w == "" && open:
			lack = append(lack, t)
		default:
			pairs[t] = w
		}
	}
	if len(pairs) > 0 && p.may("orders", name, c) {
		for _, t := range lack {
			pairs[t] = ""
		}
		p.line("%s: {column: %s, words: %s}", name, text(c.ref()), words(pairs))
	}
	if len(lack) > 0 {
		for _, t := range lack {
			pairs[t] = "…"
		}
		if len(pairs) == len(lack) {
			p.line("# %s: {column: %s, words: %s}", name, text(c.ref()), words(pairs))
		}
		p.ask("%s: which of %s is meant by %s?", c.ref(), strings.Join(col.Words, ", "), strings.Join(some(lack, 6), "; "))
	}
}

// whoMeasured says of each word of a column whether it is the shop, a dealer or
// the wearer; "" where it is not known.
func (p *proposer) whoMeasured(l *look, c *column) map[string]string {
	if l.takers != nil { // asked already
		return l.takers
	}
	l.takers = map[string]string{}
	options := []sketch.Option{option("shop", "the shop"), option("dealer", "a dealer"), option("home", "the wearer alone"), option(notUsed, "not known")}
	for _, t := range c.few() {
		says, is := p.means(c, t), ""
		switch {
		case homeWords.MatchString(says):
			is = "home"
		case dealerWords.MatchString(says):
			is = "dealer"
		case shopWords.MatchString(says):
			is = "shop"
		}
		l.takers[t] = p.ofText(l, c, "who", t, "is", is, is == "", options)
	}
	return l.takers
}

func (p *proposer) channel(l *look) {
	c := l.one(roleTaker)
	if c == nil || len(c.texts) > 60 || !p.may("orders", "channel", c) {
		return
	}
	pairs, others := map[string]string{}, []string{}
	for t, is := range p.whoMeasured(l, c) {
		pairs[t] = given(is)
	}
	for _, t := range c.few() {
		if l.takers[t] == "" {
			others = append(others, c.written[t])
		}
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
		none, yes := map[string]string{}, map[string]string{}
		for t, is := range p.whoMeasured(l, c) {
			if is == "home" {
				none[t], yes[t] = "", "yes"
			}
		}
		if len(none) > 0 {
			p.line("measurer_id: {column: %s, words: %s}", text(c.ref()), words(none))
			p.line("self_measured: {column: %s, words: %s, filled: \"no\"}", text(c.ref()), words(yes))
		} else {
			p.line("measurer_id: %s", text(c.ref()))
		}
	}
	if c := l.one(roleMarks); c != nil && len(c.texts) > 0 {
		p.marks(l, c)
	}
	if c := l.one("forms.irregularities"); c != nil {
		none := map[string]string{}
		for _, t := range c.few() {
			if p.ofText(l, c, "irregular", t, "is", "kept", false, []sketch.Option{option("kept", "noted with the form"), option(notUsed, "nothing about the foot")}) == notUsed {
				none[t] = ""
			}
		}
		if len(none) > 0 {
			p.line("irregularities: {column: %s, words: %s}", text(c.ref()), words(none))
		} else {
			p.line("irregularities: %s", text(c.ref()))
		}
	}
	p.prefix = "  "
}

// marks writes a column that says which tape marks are on the tracing.
func (p *proposer) marks(l *look, c *column) {
	left, right, lack := map[string]string{}, map[string]string{}, []string{}
	options := []sketch.Option{option("all", "all marks are there"), option("none", "marks of both feet are missing"), option("left", "those of the left foot are missing"),
		option("right", "those of the right foot are missing"), option(notUsed, "not known")}
	for _, t := range c.few() {
		is := ""
		switch {
		case missingLeft.MatchString(t):
			is = "left"
		case missingRight.MatchString(t):
			is = "right"
		case missingBoth.MatchString(t), marksNot.MatchString(t):
			is = "none"
		case marksFine.MatchString(t):
			is = "all"
		}
		left[t], right[t] = "", ""
		switch p.ofText(l, c, "marks", t, "means", is, is == "", options) {
		case "all":
			left[t], right[t] = "yes", "yes"
		case "none":
			left[t], right[t] = "no", "no"
		case "left":
			left[t], right[t] = "no", "yes"
		case "right":
			left[t], right[t] = "yes", "no"
		case "":
			lack = append(lack, t)
		}
	}
	p.line("marks_left: {column: %s, words: %s}", text(c.ref()), words(left))
	p.line("marks_right: {column: %s, words: %s}", text(c.ref()), words(right))
	if len(lack) > 0 {
		p.ask("%s: what do these say of the tape marks: %s?", c.ref(), strings.Join(some(lack, 5), "; "))
	}
}
