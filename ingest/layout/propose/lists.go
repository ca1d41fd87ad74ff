package propose

import (
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/sketch"
	"lastroom/ingest/lengths"
	"lastroom/ingest/wording"
)

// A question that a mapping file asks in a comment stands on a page as a list of
// answers. Each is made where the proposal needs the answer: choose gives what a
// person said, else what the proposal thinks, and notes the list for the page.

// notUsed is the answer that a column, a table or a text says nothing.
const notUsed = "not used"

// choose gives the answer to a list. guess is what holds where nobody answered.
func (p *proposer) choose(lists *[]sketch.List, l sketch.List, guess string) string {
	l.Chosen = guess
	told, ok := p.answers[l.Name]
	if ok && slices.ContainsFunc(l.Options, func(o sketch.Option) bool { return o.Value == told }) {
		l.Chosen, l.Open = told, false
	}
	*lists = append(*lists, l)
	return l.Chosen
}

// told is the answer to a list of a table.
func (l *look) told(what string) string { return l.answers[l.id+"|"+what] }

// ofTable is a list about a whole table.
func (p *proposer) ofTable(l *look, what, label, guess string, open bool, options ...sketch.Option) string {
	return p.choose(&l.lists, sketch.List{Name: l.id + "|" + what, Label: label, Open: open, Options: options}, guess)
}

// ofColumn is a list about a column.
func (p *proposer) ofColumn(l *look, c *column, what, label, guess string, open bool, options ...sketch.Option) string {
	return p.choose(&c.lists, sketch.List{Name: l.id + "|" + c.ref() + "|" + what, Label: label, Open: open, Options: options}, guess)
}

// mostTexts is how many texts of a column a page asks about.
const mostTexts = 40

// ofText is a list about a text in a column; nobody is asked about one that
// comes after very many others.
func (p *proposer) ofText(l *look, c *column, what, t, label, guess string, open bool, options []sketch.Option) string {
	if len(c.lists) > mostTexts {
		return guess
	}
	shown := c.written[t]
	if shown == "" {
		shown = t
	}
	return p.choose(&c.lists, sketch.List{Name: l.id + "|" + c.ref() + "|" + what + "|" + t, Label: label, Text: shown, Open: open, Options: options}, guess)
}

// added are the texts that a person typed for a column, besides those that
// stand in it.
func (p *proposer) added(l *look, c *column, what string, options []sketch.Option) map[string]string {
	prefix := l.id + "|" + c.ref() + "|" + what + "|"
	c.lists = append(c.lists, sketch.List{Label: "another word or phrase", Add: prefix, Options: options})
	out := map[string]string{}
	for name, means := range p.answers {
		t, ok := strings.CutPrefix(name, prefix)
		t = wording.Plain(t)
		if ok && t != "" && c.texts[t] == 0 && slices.ContainsFunc(options, func(o sketch.Option) bool { return o.Value == means }) {
			out[t] = means
		}
	}
	return out
}

func option(value, label string) sketch.Option { return sketch.Option{Value: value, Label: label} }

// worded are options that are called what they are.
func worded(words []string, none string) (out []sketch.Option) {
	for _, w := range words {
		out = append(out, option(w, w))
	}
	return append(out, option(notUsed, none))
}

var yesOrNo = []sketch.Option{option("yes", "yes"), option("no", "no"), option(notUsed, "not known")}

// given is an answer as a mapping has it: nothing where it is not used.
func given(answer string) string {
	if answer == notUsed {
		return ""
	}
	return answer
}

// meanings are what a column can be.
var meanings = []sketch.Option{
	{Value: notUsed, Label: "not used"},
	{Value: "orders.order_id", Label: "the order's number", Group: "The order"},
	{Value: "orders.customer_id", Label: "the customer", Group: "The order"},
	{Value: "orders.received_on", Label: "day the order came in", Group: "The order"},
	{Value: "orders.cut_on", Label: "day of cutting", Group: "The order"},
	{Value: "orders.shipped_on", Label: "day of shipping", Group: "The order"},
	{Value: "orders.shaft_height", Label: "height of the shaft", Group: "The order"},
	{Value: "orders.closure", Label: "closure: pull-on, lace-up …", Group: "The order"},
	{Value: "orders.worn_tucked", Label: "trousers worn inside", Group: "The order"},
	{Value: "orders.sock", Label: "sock", Group: "The order"},
	{Value: "orders.orthotic", Label: "orthotic or insole", Group: "The order"},
	{Value: "orders.sex", Label: "sex", Group: "The order"},
	{Value: "orders.earlier_order_id", Label: "number of an earlier order of the person", Group: "The order"},
	{Value: string(roleTaker), Label: "who measured", Group: "The form"},
	{Value: string(roleMarks), Label: "tape marks on the tracing", Group: "The form"},
	{Value: "forms.irregularities", Label: "irregularities of the foot, in words", Group: "The form"},
	{Value: string(roleSpot), Label: "numbers of one place of the tape", Group: "Numbers"},
	{Value: string(roleSide), Label: "which foot the row is of", Group: "Numbers"},
	{Value: string(rolePlace), Label: "which place the row is of", Group: "Numbers"},
	{Value: string(roleHeight), Label: "height at which the row's numbers were taken", Group: "Numbers"},
	{Value: string(roleReading), Label: "the number, one a row", Group: "Numbers"},
	{Value: string(roleRemade), Label: "made again: a mark or a day", Group: "How it turned out"},
	{Value: string(roleFit), Label: "how it fitted, in words", Group: "How it turned out"},
	{Value: "outcomes.reported_on", Label: "day that was told", Group: "How it turned out"},
	{Value: string(roleReason), Label: "what was wrong, in words", Group: "How it turned out"},
	{Value: "outcomes.cause", Label: "whose fault it was", Group: "How it turned out"},
	{Value: "outcomes.cost", Label: "what it cost", Group: "How it turned out"},
}

// roleName is the name of the list that says what a column is.
func (l *look) roleName(c *column) string { return l.id + "|" + c.ref() + "|is" }

// tell takes what a person said the columns are.
func (l *look) tell() {
	for _, c := range l.columns {
		is, ok := l.answers[l.roleName(c)]
		if !ok || !slices.ContainsFunc(meanings, func(o sketch.Option) bool { return o.Value == is }) {
			continue
		}
		if c.told = true; c.role == role(given(is)) {
			continue
		}
		c.role, c.why = role(given(is)), "as you say"
	}
	for _, c := range l.columns {
		if c.role != roleSpot {
			continue
		}
		told := func(what string, into *string) {
			if v, ok := l.answers[l.id+"|"+c.ref()+"|"+what]; ok {
				*into = given(v)
			}
		}
		told("foot", &c.spot.Side)
		told("clothing", &c.spot.Clothing)
		if place, ok := l.answers[l.id+"|"+c.ref()+"|place"]; ok {
			c.spot.Point, c.spot.Height = given(place), ""
			if height, leg := strings.CutPrefix(place, "leg "); leg {
				c.spot.Point, c.spot.Height = "leg", height
			}
		}
	}
}

// legHeights are the heights that a list offers besides those of the headers.
var legHeights = []string{"6 in", "7 in", "8 in", "9 in", "10 in", "11 in", "12 in", "13 in", "14 in", "15 in", "16 in", "17 in", "18 in",
	"15 cm", "18 cm", "20 cm", "23 cm", "25 cm", "28 cm", "30 cm", "33 cm", "35 cm", "38 cm", "40 cm", "43 cm", "45 cm"}

// columnLists notes what a column is, and of a number its place, for the page.
func (p *proposer) columnLists(l *look, c *column) {
	is := string(c.role)
	if is == "" {
		is = notUsed
	}
	label := "it is"
	if c.why != "" && c.role != "" {
		label += " (" + c.why + ")"
	}
	p.choose(&c.lists, sketch.List{Name: l.roleName(c), Label: label, Options: meanings}, is)
	if c.role != roleSpot {
		return
	}
	places := []sketch.Option{}
	heights := legHeights
	if h := c.spot.Height; h != "" && !slices.Contains(heights, h) {
		heights = append([]string{h}, heights...)
	}
	for _, point := range form.Texts(form.Points) {
		if point != form.Leg.String() {
			places = append(places, option(point, point))
		}
	}
	for _, h := range heights {
		places = append(places, sketch.Option{Value: "leg " + h, Label: "leg at " + h, Group: "Leg, above the floor"})
	}
	place := c.spot.Point
	if c.spot.Height != "" {
		place = "leg " + c.spot.Height
	}
	byRow := l.one(roleSide) != nil
	if l.one(roleHeight) != nil && c.spot.Point == "" {
		place = notUsed
	}
	places = append(places, option(notUsed, "as its row says"))
	p.ofColumn(l, c, "place", "place of the tape", place, place == "", places...)
	side := c.spot.Side
	switch {
	case side == "" && byRow:
		side = notUsed
	case side == "":
		side = l.footOf(c)
	}
	p.ofColumn(l, c, "foot", "foot", side, side == "", option("left", "left"), option("right", "right"), option(notUsed, "as its row says"))
	clothing := c.spot.Clothing
	if clothing == "" {
		clothing = form.Bare.String()
		if l.tucked() {
			clothing = form.Tucked.String()
		}
	}
	p.ofColumn(l, c, "clothing", "taken", clothing, false, option(form.Bare.String(), "on the bare leg"), option(form.Tucked.String(), "over the trousers"))
}

// unitList asks for the unit of a column's numbers that name none.
func (p *proposer) unitList(l *look, c *column, guess form.Unit) form.Unit {
	of := notUsed
	if guess != form.NoUnit {
		of = guess.String()
	}
	options := append([]sketch.Option{option(notUsed, "that of the table")}, worded(form.Texts(form.Units), "")[:len(form.Units)]...)
	u, _ := lengths.ParseUnit(given(p.ofColumn(l, c, "unit", "unit, where a cell names none", of, false, options...)))
	return u
}
