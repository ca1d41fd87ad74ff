package propose

import (
	"fmt"
	"maps"
	"slices"
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

func some(texts []string, n int) []string {
	if len(texts) > n {
		return append(texts[:n:n], "…")
	}
	return texts
}

// words writes a table of words.
func words(pairs map[string]string) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(pairs)) {
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
			others = append(others, t)
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
		p.line("result: {column: %s, words: %s, filled: remade}   # any other mark", text(made.ref()), words(p.madeAgain(l, made)))
	case fit != nil:
		p.howItFitted(l, fit)
		if reason == nil {
			reason = fit
		}
	default:
		s := l.suffix()
		p.line("order_id: {column: %s, without: %s}", text(l.key.ref()), text(s))
		p.line("result: {always: remade}   # the order was booked again with %s", s)
		day = l.one("orders.received_on")
		if l.told("tail") == "" {
			p.ask("Does %s behind a number mean that the order was made again, told on the day the row came in? It is read so.", s)
		}
	}
	if p.may("outcomes", "reported_on", day) {
		p.line("reported_on: %s", text(day.ref()))
	}
	if c := l.one("outcomes.cost"); p.may("outcomes", "cost", c) {
		p.line("cost: %s", text(c.ref()))
	}
	if reason != nil {
		p.reason(l, reason)
	}
	if c := l.one("outcomes.cause"); c != nil {
		p.cause(l, c)
	}
}

// results are what can become of a pair.
func results() []sketch.Option {
	col, _ := outcomesSheet().Column("result")
	labels := map[string]string{"remade": "made again", "adjusted": "only adjusted", "returned": "sent back", "kept": "kept as it is"}
	var out []sketch.Option
	for _, w := range col.Words {
		label := labels[w]
		if label == "" {
			label = w
		}
		out = append(out, option(w, label))
	}
	return append(out, option(notUsed, "nothing was told"))
}

// madeAgain are the marks that say something else than that a pair was made
// again.
func (p *proposer) madeAgain(l *look, c *column) map[string]string {
	none := map[string]string{"n": "", "no": "", "nein": ""}
	for _, t := range c.few() {
		is := "remade"
		if wording.YesNo[t] == "no" {
			is = notUsed
		}
		if is = p.ofText(l, c, "result", t, "means", is, false, results()); is != "remade" {
			none[t] = given(is)
		} else {
			delete(none, t)
		}
	}
	return none
}

// howItFitted writes a column in which people say in their own words what became
// of the boots.
func (p *proposer) howItFitted(l *look, c *column) {
	pairs, hits, lack := map[string]string{}, map[string]string{}, []string{}
	for _, t := range c.few() {
		hit := false
		for says, means := range fitWords {
			if _, ok := wording.Cut(t, says); ok {
				hits[says], hit = means, true
			}
		}
		if !hit {
			lack = append(lack, t)
		}
	}
	options := results()
	for _, says := range slices.Sorted(maps.Keys(hits)) {
		if is := given(p.ofText(l, c, "result", says, "means", hits[says], false, options)); is != "" {
			pairs[says] = is
		}
	}
	var open []string
	for _, t := range lack {
		switch is := p.ofText(l, c, "result", t, "means", "", true, options); is {
		case "":
			open = append(open, t)
		default:
			pairs[t] = given(is)
		}
	}
	maps.Copy(pairs, p.added(l, c, "result", options))
	p.line("result: {column: %s, phrases: %s}", text(c.ref()), words(pairs))
	if len(open) > 0 {
		p.ask("%s: what became of the boots where it says: %s? Add it to the phrases, or the rows are refused.", c.ref(), strings.Join(some(open, 5), "; "))
	}
}

// reasons are what a phrase of a reason can say.
func reasons() (out []sketch.Option) {
	for _, column := range []struct{ name, group string }{{"cause", "Whose fault"}, {"zone", "Where"}, {"direction", "How"}, {"side", "Which foot"}} {
		col, _ := outcomesSheet().Column(column.name)
		for _, w := range col.Words {
			if wording.FitColumn[w] == column.name {
				out = append(out, sketch.Option{Value: w, Label: w, Group: column.group})
			}
		}
	}
	return append(out, option(notUsed, "nothing of these"))
}

// reason writes a column that says in words what was wrong.
func (p *proposer) reason(l *look, c *column) {
	brackets, unread := map[string]bool{}, []string{}
	for _, t := range c.few() {
		if i, j := strings.LastIndexByte(t, '('), strings.LastIndexByte(t, ')'); i >= 0 && j > i {
			brackets[t[i+1:j]] = true
		} else if _, known := wording.ReadFit(t, nil); !known {
			unread = append(unread, t)
		}
	}
	own, open := map[string]string{}, []string{}
	options := reasons()
	for _, t := range slices.Sorted(maps.Keys(brackets)) {
		if _, known := wording.ReadFit(t, nil); known {
			continue
		}
		guess := wording.Cause(t)
		switch is := p.ofText(l, c, "reason", t, "in brackets says", guess, true, options); {
		case is == "":
			open = append(open, t)
		case given(is) != "":
			own[t] = is
		}
	}
	if c.role == roleReason { // of how it fitted most say nothing of the kind
		for _, t := range some(unread, 12) {
			if is := p.ofText(l, c, "reason", t, "says", notUsed, false, options); t != "…" && given(is) != "" {
				own[t] = is
			}
		}
	}
	maps.Copy(own, p.added(l, c, "reason", options))
	if len(own) > 0 {
		p.line("reason: {column: %s, phrases: %s}", text(c.ref()), words(own))
	} else {
		p.line("reason: %s", text(c.ref()))
	}
	if !p.paged && len(own) > 0 {
		p.ask("%s: are these rightly put down to whose fault it was: %s?", c.ref(), words(own))
	}
	if len(open) > 0 {
		p.ask("%s: do these say whose fault it was: %s? Then write reason: {column: %s, phrases: {%s: pattern, …}}.", c.ref(), strings.Join(some(open, 6), "; "), text(c.ref()), text(open[0]))
	}
}

// cause writes a column that says whose fault it was.
func (p *proposer) cause(l *look, c *column) {
	col, _ := outcomesSheet().Column("cause")
	pairs := map[string]string{}
	options := worded(col.Words, "nothing")
	for _, t := range c.few() {
		guess := wording.Cause(p.means(c, t))
		pairs[t] = given(p.ofText(l, c, "cause", t, "means", guess, true, options))
	}
	for _, t := range slices.Sorted(maps.Keys(c.blanks)) {
		if is := given(p.ofText(l, c, "cause", t, "means", notUsed, false, options)); is != "" {
			pairs[t] = is
		}
	}
	p.line("cause: {column: %s, words: %s}", text(c.ref()), words(pairs))
	if !p.paged {
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
