package review

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/reports/page"
)

const (
	// mostFindings is how many findings a review puts first.
	mostFindings = 3
	// mostWarnings stand with a finding there; the annex has all.
	mostWarnings = 2
)

// A candidate is a finding with what is expected to be saved by acting on it.
type candidate struct {
	finding page.Finding
	worth   float64
}

// Findings are at most three, chosen by the remakes that are expected to be
// saved and by how certain that is (the low end of the interval counts first),
// never by p. A month or a series outside its limits comes first.
func (r *Review) Findings() []page.Block {
	var cs []candidate
	if f, ok := monthFinding(r); ok {
		cs = append(cs, candidate{f, math.Inf(1)})
	}
	for _, f := range r.Faults.Faults {
		if f.ZoneCheck.Verdict == remakes.CarelessForm {
			continue // it stands for the form's maker, not for itself
		}
		if one, ok := FaultAsFinding(f); ok {
			cs = append(cs, candidate{one, worth(f)})
		}
	}
	for _, s := range r.Rules.Rules {
		if one, ok := promiseFinding(s); ok {
			cs = append(cs, candidate{one, promiseWorth(s, r.Rules.FirstForms)})
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
	var out []page.Block
	for _, c := range cs[:min(len(cs), mostFindings)] {
		c.finding.Warnings = c.finding.Warnings[:min(len(c.finding.Warnings), mostWarnings)]
		out = append(out, c.finding)
	}
	if len(out) == 0 {
		return []page.Block{nothingFound(r.Faults)}
	}
	return out
}

// worth is how many of the remakes are expected to go with the fault: the low
// end where it is above nothing, with a small share of the point to order
// those that are equally certain.
func worth(f remakes.FaultFinding) float64 {
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

// FaultAsFinding is a fault's finding for a reader, if it is one: adjusted where
// that could be made, otherwise as counted with its q value and said as such.
func FaultAsFinding(f remakes.FaultFinding) (page.Finding, bool) {
	adjusted := f.AdjustedRD.Given()
	crude := !adjusted && f.RiskDifference.Given() && f.RiskDifference.Low > 0 && f.QValue.Given() && float64(f.QValue) <= remakes.FindingLevel
	if !(adjusted && f.Finding) && !crude {
		return page.Finding{}, false
	}
	out := page.Finding{
		ID: "finding-" + f.Fault, Headline: f.Words.Headline, Certainty: f.Words.Certainty, Action: f.Words.Action,
		Warnings: f.Warnings, Orders: page.Ref{Kind: "orders", IDs: f.Orders},
	}
	if out.Headline == "" {
		out.Headline = capital(f.Title) + " goes with remakes"
	}
	if out.Certainty == "" {
		out.Certainty = sure(f)
	}
	if out.Action == "" {
		out.Action = "See in the scorecard of rules whether it pays to hold forms that have it."
	}
	if f.Words.Change != "" {
		out.Certainty += " What would change the mind: " + lower(f.Words.Change)
	}
	return out, true
}

func lower(s string) string {
	r := []rune(s)
	if len(r) > 1 && r[0] >= 'A' && r[0] <= 'Z' && (r[1] < 'A' || r[1] > 'Z') {
		r[0] += 'a' - 'A'
	}
	return string(r)
}

func sure(f remakes.FaultFinding) string {
	s := fmt.Sprintf("%s of %s remade with it, %s of %s without. ",
		page.Thousands(f.RemadeWith), page.Thousands(f.With), page.Thousands(f.RemadeWithout), page.Thousands(f.Without))
	if f.AdjustedRD.Given() {
		return s + "Adjusted: " + page.InWords(f.AdjustedRD, 100, 1, " more per 100 orders") + "."
	}
	return s + "As counted, not adjusted: " + page.InWords(f.RiskDifference, 100, 1, " more per 100 orders") + "."
}

// monthFinding is there when remakes are up on a chart: a change that still
// lasts, or the month under review by itself.
func monthFinding(r *Review) (page.Finding, bool) {
	mo := find(r.Monthly, r.Month)
	n := len(r.Trend.Signals)
	if n > 0 {
		if s := r.Trend.Signals[n-1]; s.Direction == "worse" && !s.Until.Known() {
			f := page.Finding{
				ID: "finding-trend", Headline: fmt.Sprintf("More remakes than usual since about %s", monthName(s.From.Month())),
				Certainty: r.Trend.Statement + " " + r.Trend.Words[1],
				Action:    "Ask what changed about then: who measures, the form, the leather, the lasts. Read the remade orders since.",
			}
			for _, m := range r.Monthly.Months {
				if m.Month >= s.From.Month() && m.Month <= r.Month {
					f.Orders.Kind, f.Orders.IDs = "orders", append(f.Orders.IDs, m.Orders...)
				}
			}
			return f, true
		}
	}
	if mo == nil || mo.Signal != "above" && (mo.Mature || mo.Equal.Verdict != "more") {
		return page.Finding{}, false
	}
	return page.Finding{
		ID: "finding-month", Headline: "More remakes than usual among the boots of " + monthName(r.Month),
		Certainty: fmt.Sprintf("%s. While nothing changes, this or any other chart signals in %.0f of 100 years.", mo.Equal.Sentence, 100*r.Trend.FalseAlarms),
		Action:    "Read the month's remade orders one by one before changing anything: one month supports watching, not judging.",
		Orders:    page.Ref{Kind: "orders", IDs: mo.Orders},
	}, true
}

// promiseFinding reports on a rule that is in force, once its interval says
// something: it kept at least part of its promise, or it did not keep all.
func promiseFinding(s rules.Scored) (page.Finding, bool) {
	k := s.KeptPromise
	if s.Since == nil || !k.Given() || !k.Bounded() || k.Low <= 0 && k.High >= 1 {
		return page.Finding{}, false
	}
	f := page.Finding{
		ID:        "finding-rule-" + s.ID,
		Headline:  fmt.Sprintf("%s, in force since %s: about %s %% of what it promised came true", title(s), s.Since.From, page.Fixed(100*k.Point, 0)),
		Certainty: page.InWords(k, 100, 0, " % of the promise") + ".",
		Action:    "Keep the rule, and look again when more orders are mature.",
		Orders:    page.Ref{Kind: "orders", IDs: s.Orders},
	}
	if k.Low <= 0 {
		f.Headline = fmt.Sprintf("%s, in force since %s: it has not brought what it promised", title(s), s.Since.From)
		f.Action = "Look at what became of the forms it held: were they mended, or cut all the same?"
	}
	if s.Since.Words != "" {
		f.Detail = append(f.Detail, s.Since.Words)
	}
	if len(s.Since.Traps) > 0 {
		f.Warnings = append(f.Warnings, s.Since.Traps[0])
	}
	return f, true
}

// promiseWorth is what the rule is expected to avoid among the first forms,
// the low end first, as for faults.
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

// nothingFound is an answer too: it says how far the data reach.
func nothingFound(d remakes.FaultTable) page.Finding {
	return page.Finding{
		ID:       "finding-none",
		Headline: "No fault goes with remakes clearly enough to act on",
		Certainty: fmt.Sprintf("%s mature orders, %s remade. A fault on a tenth of the forms that doubles the risk is seen in about one of five looks at 300 orders, in three of five at 1,200.",
			page.Thousands(d.MatureOrders), page.Thousands(d.Remade)),
		Action: "Keep noting faults on every form, not only behind remakes, and ask customers how the boots fit: both bring the day of an answer nearer.",
	}
}
