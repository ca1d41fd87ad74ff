package propose

import (
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/sketch"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

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
