package review

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// rulesShort is how many rules stand on sheet two.
const rulesShort = 6

// scorecardShort is the scorecard for sheet two: the rules that could do most,
// each with how sure.
func scorecardShort(d rules.Scorecard) []page.Block {
	t := scoreTable(d)
	t.Total = len(t.Rows)
	if len(t.Rows) > rulesShort {
		t.Rows = t.Rows[:rulesShort]
	}
	t.Notes = append(t.Notes, scoreNotes(d)...)
	if len(page.Refusals(t.Rows)) > 0 {
		t.Notes = append(t.Notes, "\""+page.TooFew+"\": the reasons stand in the annex.")
	}
	return []page.Block{t}
}

// scorecardFull is all rules, drawn and as a table, with the call-backs.
func scorecardFull(d rules.Scorecard) []page.Block {
	t := wideScoreTable(d)
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	out := []page.Block{ScorecardFigure(d), t, ledger(d)}
	if desk := deskTable(d); len(desk.Rows) > 0 {
		out = append(out, desk)
	}
	if since := sinceTable(d); len(since.Rows) > 0 {
		out = append(out, since)
	}
	return out
}

// ScorecardFigure draws work against worth.
func ScorecardFigure(d rules.Scorecard) page.Block {
	c := figure.Scorecard{ID: "scorecard-figure", Title: "What each rule would hold, and catch",
		Desc: fmt.Sprintf("First forms of %s mature orders, %s of them remade. The further the square lies to the right of the ring, the better a rule earns its work.",
			page.Thousands(d.FirstForms), page.Thousands(d.Remade))}
	for _, s := range byWorth(d.Rules) {
		c.Rows = append(c.Rows, figure.ScoreRow{Label: title(s), Held: s.Held, Caught: s.RemakesCaught, Behind: orders(s.HeldOrders), BehindCaught: orders(s.Orders), HeldShare: s.HeldShare, Sensitivity: s.Sensitivity})
	}
	return figure.ScorecardChart(c)
}

// byWorth orders rules by what they could avoid; those too few to tell last, of them those
// first that hold most: in a first review no rule can be judged yet, and one that holds
// nothing has nothing to show.
func byWorth(rs []rules.Scored) []rules.Scored {
	out := slices.Clone(rs)
	worth := func(s rules.Scored) float64 {
		for _, e := range []stats.Estimate{s.Corrected, s.Avoidable} {
			if e.Given() {
				return e.Point
			}
		}
		return math.Inf(-1)
	}
	slices.SortStableFunc(out, func(a, b rules.Scored) int {
		return cmp.Or(cmp.Compare(worth(b), worth(a)), cmp.Compare(b.Held, a.Held))
	})
	return out
}

// standing is the rule's title, and since when it is on.
func standing(s rules.Scored, asOf cohort.Day) string {
	switch {
	case s.From.Known() && s.From > asOf:
		return title(s) + " (on from " + s.From.String() + ")"
	case s.InForceOn(asOf):
		return title(s) + " (on since " + s.From.String() + ")"
	}
	return title(s)
}

func title(s rules.Scored) string {
	if s.Title != "" {
		return s.Title
	}
	return s.ID
}

func scoreTable(d rules.Scorecard) page.Table {
	t := page.Table{ID: "scorecard-table", Caption: scoreCaption(d), Columns: []page.Column{
		{Key: "rule", Title: "Rule"},
		{Key: "held", Title: "Forms held", Numeric: true}, {Key: "unknown", Title: "Not judged", Numeric: true},
		{Key: "held_share", Title: "Share held", Unit: "%", Numeric: true},
		{Key: "sensitivity", Title: "Would catch of all remakes", Unit: "%", Numeric: true},
		{Key: "rate_held", Title: "Remade if held", Unit: "%", Numeric: true},
		{Key: "rate_not_held", Title: "Remade if not", Unit: "%", Numeric: true},
		{Key: "avoidable_per_100", Title: "Avoidable", Unit: "per 100", Numeric: true},
	}}
	for _, s := range byWorth(d.Rules) {
		t.Rows = append(t.Rows, []page.Cell{
			{Text: standing(s, d.AsOf), Value: s.ID}, page.CountOf(s.Held, orders(s.HeldOrders)), page.CountOf(s.Unknown, orders(s.UnknownOrders)), page.Percent(s.HeldShare), linked(page.Percent(s.Sensitivity), s.Orders),
			page.Percent(s.RateHeld), page.Percent(s.RateNotHeld), page.Plain(s.Best(), 2),
		})
	}
	return t
}

func scoreCaption(d rules.Scorecard) string {
	return fmt.Sprintf("Intake rules on the first forms of %s (%s remade) over %s",
		page.Counted(d.FirstForms, "mature order", "mature orders"), page.Thousands(d.Remade), page.Counted(d.Months, "month", "months"))
}

func scoreNotes(d rules.Scorecard) []string {
	n := []string{fmt.Sprintf("Avoidable: remakes per 100 first forms if call-backs mend %s %% of the forms held (%s): how much lower the risk of the held forms would be with what the call-back mends mended, the other faults and the kind of boot as they are. Remade if held or not: orders cut from their first form. Would catch: of the remakes there would have been had all first forms been cut as they came, so that the shop's call-backs take nothing away. A form that a rule can't judge goes through.", page.Fixed(100*d.Success, 0), d.SuccessFrom)}
	return append(n, d.Warnings...)
}

// wideScoreTable has every column that the findings have; CSV readers take it.
func wideScoreTable(d rules.Scorecard) page.Table {
	t := page.Table{ID: "scorecard-full-table", Caption: scoreCaption(d) + ": work, worth and money", Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "held_a_month", Title: "Held a month", Numeric: true},
		{Key: "would_catch", Title: "Remakes it would catch", Numeric: true},
		{Key: "remakes_caught", Title: "held and remade, as counted", Numeric: true},
		{Key: "rate_called_back", Title: "Remade if called back", Unit: "%", Numeric: true},
		{Key: "callbacks_per_remake_caught", Title: "Calls per remake caught", Numeric: true},
		{Key: "number_needed", Title: "Calls per remake avoided", Numeric: true},
		{Key: "avoidable_per_100", Title: "Avoidable", Unit: "per 100", Numeric: true},
		{Key: "avoidable_corrected_per_100", Title: "corrected", Unit: "per 100", Numeric: true},
		{Key: "crude_avoidable_per_100", Title: "crude", Unit: "per 100", Numeric: true},
		{Key: "net_per_100", Title: "Net", Unit: "per 100", Numeric: true},
	}}
	for _, s := range byWorth(d.Rules) {
		t.Rows = append(t.Rows, []page.Cell{
			{Text: standing(s, d.AsOf), Value: s.ID}, page.Plain(s.HeldAMonth, 1), page.Plain(s.WouldCatch, 0), caughtOf(s),
			page.Percent(s.CalledBack), page.Plain(s.CallsPerCatch, 1), page.Plain(s.NumberNeeded, 1),
			page.Plain(s.Avoidable, 2), page.Plain(s.Corrected, 2), page.Plain(s.CrudeAvoidable, 2), page.Plain(s.Net, 0),
		})
	}
	return t
}

// caughtOf is "22 of 83" for people, 22 for programs.
func caughtOf(s rules.Scored) page.Cell {
	c := page.CountOf(s.RemakesCaught, orders(s.Orders))
	c.Text += " of " + page.Thousands(s.Remakes)
	return c
}

// ledger is what became of the call-backs.
func ledger(d rules.Scorecard) page.Table {
	l := d.Ledger
	t := page.Table{ID: "call-backs", Caption: "Call-backs on mature orders", Columns: []page.Column{
		{Key: "group", Title: "Orders"}, {Key: "orders", Title: "n", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true}, {Key: "rate", Title: "Share", Unit: "%", Numeric: true},
	}}
	for _, g := range []struct {
		name string
		span rules.Span
	}{{"called back, cut from a later form", l.Mended}, {"called back, cut from the first form all the same", l.CutAnyway}, {"never called back", l.NotCalled}} {
		t.Rows = append(t.Rows, []page.Cell{page.Text(g.name), page.CountOf(g.span.Orders, orders(g.span.OrderIDs)), page.CountOf(g.span.Remade, orders(g.span.RemadeIDs)), page.Percent(g.span.Rate)})
	}
	t.Notes = append(t.Notes, fmt.Sprintf("%s call-backs on %s orders; resolved: %s.", page.Thousands(l.Calls), page.Thousands(l.Orders), page.InWords(l.Success, 100, 0, " %")),
		"Who was called back was chosen, not drawn by lot: these shares compare unlike orders.")
	return t
}

// deskTable is the form desk judged as the rules are.
func deskTable(d rules.Scorecard) page.Table {
	t := page.Table{ID: "desk", Caption: "The form desk, on the same first forms", Columns: []page.Column{
		{Key: "desk", Title: "Held"}, {Key: "held_a_month", Title: "Held a month", Numeric: true}, {Key: "held_share", Title: "Share held", Unit: "%", Numeric: true},
		{Key: "sensitivity", Title: "Would catch of all remakes", Unit: "%", Numeric: true},
		{Key: "number_needed", Title: "Calls per remake avoided", Numeric: true},
		{Key: "avoidable_per_100", Title: "Avoidable", Unit: "per 100", Numeric: true}, {Key: "net_per_100", Title: "Net", Unit: "per 100", Numeric: true},
	}}
	said := false
	for _, s := range d.Desk {
		name := page.Cell{Text: title(s.Scored), Value: s.ID}
		if s.Default != "" {
			name.Text += " (" + s.Default + ")"
			said = true
		}
		t.Rows = append(t.Rows, []page.Cell{name, linked(page.Plain(s.HeldAMonth, 1), s.HeldOrders), page.Percent(s.HeldShare), linked(page.Percent(s.Sensitivity), s.Orders),
			page.Plain(s.NumberNeeded, 1), page.Plain(s.Best(), 2), page.Plain(s.Net, 0)})
	}
	if len(t.Rows) == 0 {
		return t
	}
	if in := d.Desk[0].InForce; in != "" {
		t.Notes = append(t.Notes, "The desk's verdicts are those in force: what leather can't be cut from, what is asked for the wearer's sake and the rules in force hold a form in any case; "+in+".")
	}
	t.Notes = append(t.Notes, "The desk judges here with the rules in force today, from the facts of each form and its alarm by published values: without the shop's own way of measuring, the customer's earlier pairs and cautions about swelling, which the book does not keep. What a call-back can be expected to avoid is the fall of the form's own risk with all its faults mended, times the share of call-backs that mend; less the optimism of picking forms by the model that judges them.")
	if !said {
		t.Notes = append(t.Notes, "From where on a call-back pays can't be told: what a remake and a call-back cost is not given.")
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	return t
}

// keptCell is how much of its promise a rule kept, in words where that is too wide to
// tell.
func keptCell(s rules.Scored) page.Cell {
	c := page.Scaled(s.KeptPromise, 100, 0)
	if s.KeptPromise.Given() && !s.PromiseTold() {
		c.Text = "too wide to tell"
	}
	return c
}

func sinceTable(d rules.Scorecard) page.Table {
	t := page.Table{ID: "since", Caption: "Rules in force: did they work?", Columns: []page.Column{
		{Key: "rule", Title: "Rule"}, {Key: "from", Title: "Since"},
		{Key: "before", Title: "Remade before", Unit: "%", Numeric: true}, {Key: "after", Title: "Remade since", Unit: "%", Numeric: true},
		{Key: "step_per_100", Title: "Change at the start, trend carried", Unit: "per 100", Numeric: true},
		{Key: "against_controls_per_100", Title: "Less what other forms did", Unit: "per 100", Numeric: true}, {Key: "verdict", Title: "Both together"},
		{Key: "promised_per_100", Title: "Promised", Unit: "per 100", Numeric: true}, {Key: "kept_promise", Title: "Kept", Unit: "%", Numeric: true},
	}}
	var traps []string
	for _, s := range d.Rules {
		if s.Since == nil {
			continue
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: title(s), Value: s.ID, AsIs: rules.OwnTitle(title(s))}, page.Date(s.Since.From), linked(page.Percent(s.Since.Before.Rate), s.Since.Before.RemadeIDs), linked(page.Percent(s.Since.After.Rate), s.Since.After.RemadeIDs),
			page.Plain(s.Since.Step, 1), page.Plain(s.Since.Controlled, 1), page.Text(string(s.Since.Verdict)), page.Plain(s.Since.Promised, 2), keptCell(s)})
		if s.Since.Words != "" {
			t.Notes = append(t.Notes, title(s)+": "+form.Uncapitalised(s.Since.Words))
		}
		traps = appendNew(traps, s.Since.Traps...)
	}
	t.Notes = append(t.Notes, traps...)
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	return t
}
