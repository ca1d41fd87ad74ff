package brief

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// mostFindings is how many findings stand as cards on the first sheet; the others
// follow in a sentence, and as cards on a sheet of their own.
const mostFindings = 3

// sureQ is the share of chance findings up to which one is called sure (judgement).
const sureQ = 0.01

// A Found is what was found, and what it rests on.
type Found struct {
	Month  cohort.Month
	Trend  monitoring.Trend
	Faults remakes.FaultTable
	Rules  rules.Scorecard
}

// A candidate is a finding with what is expected to be saved by acting on it.
type candidate struct {
	finding page.Finding
	short   string // for a list
	worth   float64
}

// candidates are all that was found, first a change of the months, then faults and
// rules by the remakes that acting on them can be expected to spare: the low end of
// the interval counts first, a tenth of the figure itself orders those that are
// equally certain. Good news stands among them as bad news does.
func (f Found) candidates() []candidate {
	var cs []candidate
	if one, ok := f.change(); ok {
		cs = append(cs, candidate{one, one.Headline, math.Inf(1)})
	}
	for _, fault := range f.Faults.Faults {
		if one, short, ok := f.fault(fault); ok {
			worth := faultWorth(fault)
			if fault.ZoneCheck.Verdict == remakes.CarelessForm {
				worth = -1 // it stands for the form's maker, not for itself
			}
			cs = append(cs, candidate{one, short, worth})
		}
	}
	for _, s := range f.Rules.Rules {
		if one, ok := promise(s); ok {
			cs = append(cs, candidate{one, one.Headline, promiseWorth(s, f.Rules.FirstForms)})
		}
	}
	slices.SortStableFunc(cs, func(a, b candidate) int {
		switch {
		case a.worth > b.worth:
			return -1
		case a.worth < b.worth:
			return 1
		}
		return 0
	})
	return cs
}

// FindingBlocks are the first findings as cards, then the others by name, then what
// may be chance: nothing that was found is left out.
func FindingBlocks(f Found) []page.Block {
	cs := f.candidates()
	var out []page.Block
	for _, c := range cs[:min(len(cs), mostFindings)] {
		out = append(out, c.finding)
	}
	if len(cs) == 0 {
		out = append(out, nothingFound(f.Faults))
	}
	var words page.Prose
	if len(cs) > 1 {
		words = append(words, "The order: a change of the months first, then by the remakes that acting on it would spare, the careful figure counting most.")
	}
	if len(cs) > mostFindings {
		var names []string
		for _, c := range cs[mostFindings:] {
			names = append(names, c.short)
		}
		words = append(words, "Also found, in the same order: "+strings.Join(names, "; ")+".")
	}
	var hints []string
	for _, fault := range f.Faults.Faults {
		if e := fault.AdjustedRD; !fault.Finding && e.Given() && e.Bounded() && e.Low > 0 {
			hints = append(hints, fmt.Sprintf("%s (about %s in 100)", fault.Title, inHundred(e.Point)))
		}
	}
	if len(hints) > 0 {
		words = append(words, "Perhaps chance, to be watched: "+strings.Join(hints, "; ")+".")
	}
	if len(words) > 0 {
		out = append(out, words)
	}
	return out
}

// RestOfFindings are the cards of those that FindingBlocks only names.
func RestOfFindings(f Found) []page.Block {
	var out []page.Block
	for i, c := range f.candidates() {
		if i >= mostFindings {
			out = append(out, c.finding)
		}
	}
	return out
}

// faultWorth is how many of the remakes are expected to go with the fault.
func faultWorth(f remakes.FaultFinding) float64 {
	e := f.Attributable
	if !e.Given() {
		e = f.RiskDifference
		e.Point *= float64(f.With)
		e.Low *= float64(f.With)
	}
	w := math.Max(e.Low, 0)
	if !e.Bounded() {
		w = 0
	}
	return w + 0.1*math.Max(e.Point, 0)
}

// promiseWorth is what the rule is expected to avoid among the first forms.
func promiseWorth(s rules.Scored, forms int) float64 {
	e := s.Best()
	if !e.Given() {
		return 0
	}
	w := 0.1 * math.Max(e.Point, 0)
	if e.Bounded() {
		w += math.Max(e.Low, 0)
	}
	return w * float64(forms) / 100
}

// fault is a fault's finding, if it is one, as a card and in a line: with like orders
// compared where that could be made, otherwise as counted and said so.
func (f Found) fault(d remakes.FaultFinding) (card page.Finding, short string, ok bool) {
	e, q, how := d.AdjustedRD, d.AdjustedQ, "Like pairs are compared: the other faults and the kind of boot are taken into account."
	if !e.Given() {
		e, q, how = d.RiskDifference, d.QValue, "All pairs with it are compared with all without: tall boots miss more and are harder to fit, so part of this may be theirs."
	}
	if d.AdjustedRD.Given() && !d.Finding || !e.Given() || !e.Bounded() || !(e.Low > 0) || !q.Given() || float64(q) > remakes.FindingLevel {
		return card, "", false
	}
	rule, status := f.ruleOf(d)
	sureness := sureness(float64(q))
	card = page.Finding{
		ID:       "finding-" + d.Fault,
		Headline: fmt.Sprintf("%s: about %s more remakes in 100 such pairs", form.Capitalised(d.Title), inHundred(e.Point)),
		Detail:   []string{status},
		Certainty: fmt.Sprintf("%s. %s. %s of %s were cut with it; %s.",
			form.Capitalised(sureness), between(e), page.Thousands(d.With), page.Counted(d.With+d.Without, "pair", "pairs"), remadeOf(d)) + " " + how,
		Action: f.action(rule),
		Orders: page.Ref{Kind: "orders", IDs: d.Orders},
	}
	if d.ZoneCheck.Verdict == remakes.CarelessForm {
		card.Detail = append(card.Detail, "Complaints are as common where this fault can't touch: it likely stands for careless forms, not for the cause.")
		card.Action = "Look at how such forms come about; mending this alone is not likely to help."
	}
	card.Warnings = slices.Clone(d.Warnings[:min(len(d.Warnings), 2)])
	word, _, _ := strings.Cut(sureness, " (")
	short = fmt.Sprintf("%s (about %s in 100, %s; %s; %s)", d.Title, inHundred(e.Point), form.Uncapitalised(between(e)), word, form.Uncapitalised(strings.TrimSuffix(status, ".")))
	return card, short, true
}

func remadeOf(d remakes.FaultFinding) string {
	return fmt.Sprintf("%s of them came back, of the others %s", page.Thousands(d.RemadeWith), page.Thousands(d.RemadeWithout))
}

// sureness puts a share of chance findings (a q value) in three words, with the
// figure behind them.
func sureness(q float64) string {
	word := "a hint"
	switch {
	case q <= sureQ:
		word = "sure"
	case q <= remakes.FindingLevel:
		word = "fairly sure"
	}
	n := math.Ceil(100*q - 1e-9)
	if n < 1 {
		return word + " (of 100 findings like this fewer than 1 is chance)"
	}
	return fmt.Sprintf("%s (of 100 findings like this about %.0f %s chance)", word, n, page.IsAre(int(n)))
}

// between is an interval of a difference as a person says it.
func between(e stats.Estimate) string {
	return fmt.Sprintf("Between %s and %s more in 100", inHundred(e.Low), inHundred(e.High))
}

func inHundred(x float64) string {
	if math.Abs(100*x) >= 0.95 {
		return page.Fixed(100*x, 0)
	}
	return page.Fixed(100*x, 1)
}

// ruleOf is the rule that holds forms with just this fault, nil for none, and
// whether it is on.
func (f Found) ruleOf(d remakes.FaultFinding) (*rules.Scored, string) {
	for i := range f.Rules.Rules {
		r := &f.Rules.Rules[i]
		if strings.ReplaceAll(r.When, "_", "-") != d.Fault {
			continue
		}
		switch {
		case r.InForce && r.SlippedThrough > 0:
			return r, fmt.Sprintf("Its rule is on since %s; %s that it holds %s cut all the same since then.", DayName(r.Since.From), page.Counted(r.SlippedThrough, "form", "forms"), wasWere(r.SlippedThrough))
		case r.InForce:
			return r, fmt.Sprintf("Its rule is on since %s; no form that it holds was cut since then.", DayName(r.Since.From))
		case r.Since != nil:
			return r, fmt.Sprintf("Its rule was on from %s and is off now.", DayName(r.Since.From))
		}
		return r, "Its rule is off."
	}
	return nil, "There is no rule for it."
}

// action is what a finding about a rule's one fault comes to.
func (f Found) action(r *rules.Scored) string {
	const ask = "Ask again before cutting a form that has it"
	if r == nil {
		return "Try a rule for it on the page of rules: it says what asking again would spare."
	}
	a, net := r.Best(), r.Net
	sign := f.Rules.Costs.Currency
	switch {
	case r.InForce && r.SlippedThrough > 0:
		return "Find out why held forms are cut all the same, before anything else is changed."
	case r.InForce:
		return "Keep the rule on."
	case !a.Given():
		return "Keep noting it: what a rule would spare can't be told yet."
	case !(a.Low > 0):
		return "No rule yet: asking again about such forms may as well spare nothing. Look again in half a year."
	case f.Rules.Costs.Remake == nil || f.Rules.Costs.Callback == nil:
		if !r.NumberNeeded.Given() {
			return ask + ", if that is worth the calls; what a remake and a call cost is not in the book."
		}
		return fmt.Sprintf("%s, if about %s for each remake spared are worth it; what a remake and a call cost is not in the book.", ask, page.Counted(int(math.Ceil(r.NumberNeeded.Point)), "call", "calls"))
	case !net.Given():
		return ask + "."
	case net.Low > 0:
		return fmt.Sprintf("%s: 100 new forms would save %s (between %s and %s), the calls paid.", ask, amount(sign, net.Point), amount(sign, net.Low), amount(sign, net.High))
	case net.High < 0:
		return fmt.Sprintf("No rule: asking again costs more than it saves, %s in 100 new forms.", amount(sign, -net.Point))
	}
	return fmt.Sprintf("Whether asking again pays is open: 100 new forms would bring between %s and %s, the calls paid.", amount(sign, net.Low), amount(sign, net.High))
}

// change is there when the months moved, for the worse or the better: a change that
// still lasts, or the month under review by itself.
func (f Found) change() (page.Finding, bool) {
	alarms := fmt.Sprintf("Fairly sure: while nothing changes, such news comes in %.0f of 100 years.", math.Ceil(100*f.Trend.FalseAlarms))
	if n := len(f.Trend.Signals); n > 0 && !f.Trend.Signals[n-1].Until.Known() {
		s := f.Trend.Signals[n-1]
		c := page.Finding{ID: "finding-trend", Headline: "More pairs come back since about " + MonthName(s.From.Month()), Certainty: alarms,
			Action: "Ask what changed about then: who measures, the form, the leather, the lasts. Read the remade orders since."}
		if s.Direction == "better" {
			c.Headline = "Fewer pairs come back since about " + MonthName(s.From.Month())
			c.Action = "Ask what changed about then, and keep it. Make sure that complaints are still written in."
		}
		for _, m := range f.Trend.Monthly.Months {
			if m.Month >= s.From.Month() && m.Month <= f.Month {
				c.Orders.Kind, c.Orders.IDs = "orders", append(c.Orders.IDs, m.Orders...)
			}
		}
		return c, true
	}
	mo := MonthOf(f.Trend.Monthly, f.Month)
	if mo == nil {
		return page.Finding{}, false
	}
	young := !mo.Mature
	c := page.Finding{ID: "finding-month", Certainty: monthSentence(f.Trend.Monthly, f.Month) + " " + alarms, Orders: page.Ref{Kind: "orders", IDs: mo.Orders}}
	switch {
	case mo.Signal == "above", young && mo.Equal.Verdict == "more":
		c.Headline = "More remakes than usual among the pairs of " + MonthName(f.Month)
		c.Action = "Read the month's remade orders one by one before changing anything: one month supports watching, not judging."
	case mo.Signal == "below", young && mo.Equal.Verdict == "fewer":
		c.Headline = "Fewer remakes than usual among the pairs of " + MonthName(f.Month)
		c.Action = "Ask what went well. Make sure that complaints are still written in: one month supports watching, not judging."
	default:
		return page.Finding{}, false
	}
	return c, true
}

// promise reports on a rule that is or was on, once its interval says something: it
// kept at least part of its promise, or it did not keep all.
func promise(s rules.Scored) (page.Finding, bool) {
	k := s.KeptPromise
	if s.Since == nil || !k.Given() || !k.Bounded() || k.Low <= 0 && k.High >= 1 {
		return page.Finding{}, false
	}
	f := page.Finding{
		ID:        "finding-rule-" + s.ID,
		Headline:  fmt.Sprintf("The rule %q, on since %s, kept about %s in 100 of its promise", titleOf(s), DayName(s.Since.From), page.Fixed(100*k.Point, 0)),
		Certainty: fmt.Sprintf("Between %s and %s in 100 of what was promised came true.", page.Fixed(100*k.Low, 0), page.Fixed(100*k.High, 0)),
		Action:    "Keep the rule, and look again when more pairs are out long enough to tell.",
		Orders:    page.Ref{Kind: "orders", IDs: s.Orders},
	}
	if k.Low <= 0 {
		f.Headline = fmt.Sprintf("The rule %q, on since %s, has not brought what it promised", titleOf(s), DayName(s.Since.From))
		f.Action = "Look at what became of the forms it held: were they mended, or cut all the same?"
	}
	if s.SlippedThrough > 0 {
		f.Detail = []string{fmt.Sprintf("%s that it holds %s cut all the same since it is on.", page.Counted(s.SlippedThrough, "form", "forms"), wasWere(s.SlippedThrough))}
	}
	if len(s.Since.Traps) > 0 {
		f.Warnings = append(f.Warnings, s.Since.Traps[0])
	}
	return f, true
}

func titleOf(s rules.Scored) string {
	if s.Title != "" {
		return s.Title
	}
	return s.ID
}

// nothingFound is an answer too: it says how far the data reach.
func nothingFound(d remakes.FaultTable) page.Finding {
	return page.Finding{
		ID:       "finding-none",
		Headline: "No fault goes with remakes clearly enough to act on",
		Certainty: fmt.Sprintf("%s out long enough to tell, %s made again. With 300 such pairs a fault on a tenth of the forms that doubles the remakes is seen in one of five looks, with 1,200 in three of five.",
			page.Counted(d.MatureOrders, "pair", "pairs"), page.Thousands(d.Remade)),
		Action: "Keep noting faults on every form, not only behind remakes, and ask customers how the boots fit: both bring the day of an answer nearer.",
	}
}
