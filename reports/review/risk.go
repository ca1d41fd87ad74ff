package review

import (
	"fmt"
	"strings"

	"lastroom/analysis/risk"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// MostRisks is how many orders a page lists.
const MostRisks = 50

// RiskPage is the remake risk of the orders as a document of its own. Its first
// table is the orders, the highest risk first, so many of them; 0: all.
func RiskPage(r risk.Report, most int) *page.Document {
	return &page.Document{
		Title: "Remake risk of orders",
		Lead:  riskLead(r),
		Sections: keep(
			page.Section{ID: "orders", Title: "Orders, the highest risk first", Blocks: []page.Block{riskTable(r, most)}},
			page.Section{ID: "validation", Title: "How far the risks came true", Blocks: riskValidation(r.Validation)},
			page.Section{ID: "model", Title: "What the risk is made of", Blocks: []page.Block{termTable(r.Model)}},
			page.Section{ID: "card", Title: "About this model", Blocks: modelCard(r)},
		),
		Cautions: Cautions,
	}
}

func riskLead(r risk.Report) string {
	switch {
	case r.Model.Why != "":
		return "No risk can be given: " + r.Model.Why + "."
	case !r.Shown:
		return "The model foresees no better than its rivals, so each order is given the usual share, " + page.InWords(r.BaseRate, 100, 1, " %") + "."
	case len(r.Orders) == 0:
		return "There is no open order with a form."
	}
	top := r.Orders[0]
	if len(r.Orders) == 1 {
		return fmt.Sprintf("As of %s, the risk of a remake of order %s within a year of shipping is %s; usual is %s.",
			r.AsOf, top.OrderID, page.InWords(top.Risk, 100, 1, " %"), page.InWords(r.BaseRate, 100, 1, " %"))
	}
	return fmt.Sprintf("%s orders as of %s; the highest risk of a remake within a year of shipping is that of order %s, %s; usual is %s.",
		page.Thousands(len(r.Orders)), r.AsOf, top.OrderID, page.InWords(top.Risk, 100, 1, " %"), page.InWords(r.BaseRate, 100, 1, " %"))
}

// riskTable lists orders with their risk and reasons.
func riskTable(r risk.Report, most int) page.Table {
	t := page.Table{ID: "risks", Caption: "Chance of a remake within a year of shipping, as seen on the day of cutting", Total: len(r.Orders), Columns: []page.Column{
		{Key: "order_id", Title: "Order"}, {Key: "stage", Title: "Stage"}, {Key: "risk", Title: "Risk", Unit: "%", Numeric: true},
		{Key: "reasons", Title: "What raises it (remakes per 100)"}, {Key: "if_mended", Title: "If mended", Unit: "%", Numeric: true},
		{Key: "call_back_worth", Title: "A call-back brings", Numeric: true}}}
	for _, o := range r.Orders {
		worth := page.Plain(o.Worth, 0)
		cut := o.Stage != risk.Uncut // a call-back comes too late
		if !o.Worth.Given() || cut {
			worth = page.Cell{}
		}
		mended := page.Percent(o.IfMended)
		if !o.IfMended.Given() || o.IfMended.Point == o.Risk.Point || cut {
			mended = page.Cell{Value: o.IfMended}
		}
		t.Rows = append(t.Rows, []page.Cell{{Text: o.OrderID, Value: o.OrderID, Ref: page.Ref{Kind: "order", IDs: []string{o.OrderID}}},
			page.Cell{Text: stageWords[o.Stage], Value: string(o.Stage)}, page.Percent(o.Risk), page.Text(reasonsInWords(o.Reasons)), mended, worth})
	}
	if most > 0 {
		t.Rows = t.Rows[:min(most, len(t.Rows))]
	}
	t.Notes = []string{
		"The risk is that of the order as its form was or would be cut; that a customer has kept silent since does not lower it. What raises it goes with remakes; it need not cause them.",
		"If mended: with all faults that the form has mended by a call-back, empty where there is none or where leather was cut already. A call-back brings: what is saved on average less what the call costs, in the shop's money, at the share of call-backs that mend a form; empty where there is nothing to mend, leather was cut already, or a cost is not known.",
	}
	return t
}

// stageWords are how far an order is, for people.
var stageWords = map[risk.Stage]string{risk.Uncut: "not cut yet", risk.CutOut: "leather cut", risk.Shipped: "shipped"}

// RiskOf is the remake risk of one order, why, and what a call-back would do.
func RiskOf(id string, r risk.OrderRisk) []page.Block {
	if !r.Risk.Given() {
		return []page.Block{page.Prose{"No risk of a remake can be given: " + strings.Join(r.Risk.Warnings, "; ") + "."}}
	}
	said := page.Prose{"Chance of a remake within a year of shipping, cut from this form: " + page.InWords(r.Risk, 100, 1, " %") + "."}
	for _, w := range r.Risk.Warnings {
		said = append(said, "This is "+w+".")
	}
	if len(r.Reasons) == 0 {
		return []page.Block{said}
	}
	if r.Stage == risk.CutOut || r.Stage == risk.Shipped {
		said = append(said, "Leather is cut, so that no call-back about the form can mend it.")
	} else {
		if r.IfMended.Given() && r.IfMended.Point != r.Risk.Point {
			said = append(said, "If the form were mended by a call-back: "+page.InWords(r.IfMended, 100, 1, " %")+".")
		}
		if r.Avoids.Given() {
			said = append(said, "One call-back about it avoids on average "+page.InWords(r.Avoids, 100, 1, "")+" remakes in 100 such orders, at the share of call-backs that mend a form.")
		}
		if r.Worth.Given() {
			said = append(said, "That brings "+page.InWords(r.Worth, 1, 0, "")+" in the shop's money a call-back: what it saves less what it costs.")
		}
	}
	t := page.Table{ID: "risk-reasons-" + id, Caption: "What raises it", Total: len(r.Reasons), Columns: []page.Column{
		{Key: "reason", Title: "What"}, {Key: "points", Title: "Remakes more in 100 such orders", Numeric: true}}}
	for _, x := range r.Reasons {
		t.Rows = append(t.Rows, []page.Cell{page.Text(x.Reason), page.Number(x.Points, 1)})
	}
	t.Notes = []string{"Each against the order without it, or with the usual in its place; they do not add up. It goes with remakes among many orders; it need not cause them."}
	return []page.Block{said, t}
}

func reasonsInWords(list []risk.Reason) string {
	var words []string
	for _, r := range list {
		words = append(words, fmt.Sprintf("%s (+%s)", r.Reason, page.Fixed(r.Points, 1)))
	}
	return strings.Join(words, "; ")
}

// riskValidation are the measures on later orders, beside the rivals.
func riskValidation(v risk.Validation) []page.Block {
	blocks := []page.Block{page.Prose(v.Words)}
	t := page.Table{ID: "validation", Caption: "On orders received after the day of each fit", Columns: []page.Column{
		{Key: "forecast", Title: "Forecast by"}, {Key: "auc", Title: "Tells remade from kept (area under the ROC curve; 0.5: not at all)", Numeric: true},
		{Key: "brier", Title: "Mean square of the error (Brier score; less is better)", Numeric: true},
		{Key: "calibration_intercept", Title: "Too low or too high (calibration intercept; right: 0)", Numeric: true},
		{Key: "calibration_slope", Title: "Too extreme or too timid (calibration slope; right: 1)", Numeric: true}}}
	t.Rows = append(t.Rows, []page.Cell{page.Text("the model"), page.Plain(v.AUC, 3), page.Plain(v.Brier, 4), page.Plain(v.Intercept, 2), page.Plain(v.Slope, 2)})
	for _, r := range v.Rivals {
		t.Rows = append(t.Rows, []page.Cell{page.Text(r.Rival), page.Plain(r.AUC, 3), page.Plain(r.Brier, 4), {}, {}})
	}
	t.Total = len(t.Rows)
	t.Notes = page.Refusals(t.Rows)
	blocks = append(blocks, t)
	if len(v.Channels) > 0 {
		blocks = append(blocks, channelTable(v))
	}
	if len(v.Groups) > 0 {
		blocks = append(blocks, calibrationFigure(v), groupTable(v))
	}
	if len(v.Optimism) > 0 {
		blocks = append(blocks, optimismTable(v))
	}
	if len(v.Decisions) > 0 {
		blocks = append(blocks, decisionFigure(v), benefitTable(v))
	}
	return blocks
}

func channelTable(v risk.Validation) page.Table {
	t := page.Table{ID: "channels", Caption: "The same by channel", Columns: []page.Column{
		{Key: "channel", Title: "Channel"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true},
		{Key: "auc", Title: "Area under the ROC curve", Numeric: true}, {Key: "brier", Title: "Brier score", Numeric: true},
		{Key: "calibration_intercept", Title: "Calibration intercept", Numeric: true}, {Key: "calibration_slope", Title: "Calibration slope", Numeric: true}}}
	for _, c := range v.Channels {
		t.Rows = append(t.Rows, []page.Cell{page.Text(c.Channel), page.Count(c.Orders), page.Count(c.Remakes), page.Plain(c.AUC, 3), page.Plain(c.Brier, 4), page.Plain(c.Intercept, 2), page.Plain(c.Slope, 2)})
	}
	t.Total, t.Notes = len(t.Rows), page.Refusals(t.Rows)
	return t
}

func groupTable(v risk.Validation) page.Table {
	t := page.Table{ID: "calibration", Caption: "Foreseen and remade, the later orders in tenths by their risk", Columns: []page.Column{
		{Key: "orders", Title: "Orders", Numeric: true}, {Key: "remade", Title: "Remade", Numeric: true},
		{Key: "forecast", Title: "Foreseen", Unit: "%", Numeric: true}, {Key: "observed", Title: "Remade so far", Unit: "%", Numeric: true}}}
	for _, g := range v.Groups {
		t.Rows = append(t.Rows, []page.Cell{page.Count(g.Orders), page.Count(g.Remakes), page.Share(float64(g.Forecast)), page.Percent(g.Observed)})
	}
	t.Total = len(t.Rows)
	t.Notes = []string{fmt.Sprintf("The Brier score is reliability %.5f - resolution %.5f + uncertainty %.5f + what taking tenths loses %.5f (Murphy).",
		float64(v.Parts.Reliability), float64(v.Parts.Resolution), float64(v.Parts.Uncertainty), float64(v.Parts.Within))}
	return t
}

func optimismTable(v risk.Validation) page.Table {
	t := page.Table{ID: "optimism", Caption: "How much the model's own orders flatter it (bootstrap by customer)", Columns: []page.Column{
		{Key: "measure", Title: "Measure"}, {Key: "apparent", Title: "On its own orders", Numeric: true}, {Key: "optimism", Title: "Flattery", Numeric: true},
		{Key: "corrected", Title: "Corrected", Numeric: true}, {Key: "resamples", Title: "Resamples", Numeric: true}}}
	words := map[string]string{"auc": "area under the ROC curve", "brier": "Brier score", "calibration_slope": "calibration slope"}
	for _, o := range v.Optimism {
		t.Rows = append(t.Rows, []page.Cell{page.Text(words[o.Measure]), page.Number(float64(o.Apparent), 4), page.Number(float64(o.Optimism), 4), page.Number(float64(o.Corrected), 4), page.Count(o.Resamples)})
	}
	t.Total = len(t.Rows)
	return t
}

func calibrationFigure(v risk.Validation) page.Figure {
	f := figure.Calibration{ID: "calibration-figure", Title: "Foreseen and remade", N: v.Orders,
		Desc: "Later orders by the risk that was foreseen before each came in, young ones' risk lowered to what is told by their age. On the dotted line as many were remade as foreseen; above it more."}
	for _, g := range v.Groups {
		f.Groups = append(f.Groups, figure.Foreseen{Forecast: float64(g.Forecast), Observed: g.Observed})
	}
	for _, c := range v.Curve {
		f.Curve = append(f.Curve, figure.Foreseen{Forecast: float64(c.Forecast), Observed: c.Observed})
	}
	return figure.CalibrationChart(f)
}

func decisionFigure(v risk.Validation) page.Figure {
	f := figure.Decisions{ID: "decision-figure", Title: "What holding forms brings, by who decides", N: v.Orders,
		Desc: "Remakes foreseen per 100 orders, less forms held for nothing at the odds of the risk from which a call-back is worth its trouble: what it costs over what a remake costs. The highest curve at that risk decides best; holding none is 0. Curves end where they go far below it."}
	for _, d := range v.Decisions {
		if d.Strategy == risk.HoldNone {
			continue
		}
		c := figure.DecisionCurve{Label: d.Strategy}
		for _, p := range d.Points {
			c.Threshold, c.Benefit = append(c.Threshold, float64(p.Threshold)), append(c.Benefit, p.Benefit)
		}
		f.Curves = append(f.Curves, c)
	}
	return figure.DecisionChart(f)
}

// benefitTable has a row a way to hold forms and a column a few thresholds.
func benefitTable(v risk.Validation) page.Table {
	shown := []float64{0.04, 0.08, 0.12, 0.16, 0.20, 0.30}
	t := page.Table{ID: "net-benefit", Caption: "Net benefit per 100 orders, where a call-back is worth its trouble from a risk of so many % on", Columns: []page.Column{{Key: "holds", Title: "Held by"}}}
	for _, at := range shown {
		t.Columns = append(t.Columns, page.Column{Key: fmt.Sprintf("at_%.0f", 100*at), Title: fmt.Sprintf("%.0f %%", 100*at), Numeric: true})
	}
	for _, d := range v.Decisions {
		row := []page.Cell{page.Text(d.Strategy)}
		for _, at := range shown {
			cell := page.Cell{}
			for _, p := range d.Points {
				if float64(p.Threshold) == at {
					cell = page.Plain(p.Benefit, 2)
				}
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Total = len(t.Rows)
	t.Notes = []string{"Remakes foreseen, less forms held for nothing at the threshold's odds: at 8 %, eleven and a half of these weigh as much as one remake foreseen. More is better; holding none is 0. Forms are taken as they were cut. The desk holds what nothing can be cut from, what its rules say, and doubts of which a call-back can be expected to avoid as much as the threshold asks."}
	return t
}

func termTable(m risk.ModelLine) page.Table {
	t := page.Table{ID: "terms", Caption: "What the model goes by", Total: len(m.Terms), Columns: []page.Column{
		{Key: "term", Title: "Term"}, {Key: "coefficient", Title: "Coefficient (logit)", Numeric: true}, {Key: "points", Title: "Remakes more in 100 orders of the usual risk", Numeric: true}}}
	for _, x := range m.Terms {
		points := page.Number(x.Points, 1)
		if x.Term == "intercept" {
			points = page.Cell{}
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(x.Term), page.Number(x.Coefficient, 3), points})
	}
	t.Notes = []string{"Effects are drawn towards nothing (ridge), the more the fewer orders speak for them. They go with remakes; single ones are not what a fault does, for which see lastroom faults."}
	return t
}

// modelCard says what the model is, what it rests on, how far it may be trusted and
// when not to use it.
func modelCard(r risk.Report) []page.Block {
	m := r.Model
	kept := "not kept: it is of a past day, or the folder beside the book may not be written"
	if m.Version > 0 {
		kept = fmt.Sprintf("version %d, kept beside the book", m.Version)
	}
	rests := "no order yet"
	if m.AsOf.Known() {
		rests = fmt.Sprintf("%s orders shipped by %s, %s remakes; young orders count for as much of their year as is told", page.Thousands(m.Orders), m.AsOf, page.Thousands(m.Remakes))
	}
	facts := [][2]string{
		{"Foresees", "the chance that an order is remade within a year of shipping, before it is returned for the money, as seen on the day of cutting"},
		{"Goes by", "the faults noted on the form, counted or read off its numbers, what is unknown as unknown; how odd the numbers are; the boot; channel, sex, sock, orthotic; the measurer, drawn towards the others; whether earlier pairs of the customer were remade; the course of the years and the season"},
		{"Rests on", rests},
		{"Made by", fmt.Sprintf("logistic regression with a ridge penalty (%s) chosen by tenfold cross-validation of customers; %s terms left in effect; %s", penaltyWords(m.Penalty), value(m.Effective, 1), measurersApart(m.Spread))},
		{"Kept as", kept},
		{"Fitted anew", fmt.Sprintf("when a tenth more remakes are known, when it is %d days old, or when the rules change; older versions stay", risk.Older)},
		{"Checked by", "orders received after the day of each of several fits on the past; bootstrap by customer for what its own orders flatter it by"},
		{"Holds", "coefficients, counts and the measurers' keys; no customer, no body measurement"},
		{"Not for", "blaming a measurer or a customer; judging what one fault does; boots, channels or forms of kinds the shop had not had; anything about health: a statistic is no diagnosis"},
		{"Limits", "what call-backs mended is part of the past that it learnt from; customers who never answer count as kept; a figure for one order is the share among many like it"},
	}
	t := page.Table{ID: "model-card", Caption: "Model card", Total: len(facts), Columns: []page.Column{{Key: "what", Title: "What"}, {Key: "is", Title: "Is"}}}
	for _, f := range facts {
		t.Rows = append(t.Rows, []page.Cell{page.Text(f[0]), page.Text(f[1])})
	}
	return []page.Block{t}
}

func value(v stats.Value, decimals int) string {
	if !v.Given() {
		return "no"
	}
	return page.Fixed(float64(v), decimals)
}

func measurersApart(v stats.Value) string {
	if !(v > 0.005) {
		return "measurers are not told apart"
	}
	return "measurers' own log odds spread by " + value(v, 2)
}

func penaltyWords(v stats.Value) string { return "penalty " + value(v, 0) }

// ModelCardPage is the model's card with its validation, without any order.
func ModelCardPage(r risk.Report) *page.Document {
	return &page.Document{Title: "Model card: remake risk", Lead: cardLead(r), Sections: keep(
		page.Section{ID: "card", Title: "About this model", Blocks: modelCard(r)},
		page.Section{ID: "validation", Title: "How far the risks came true", Blocks: riskValidation(r.Validation)},
		page.Section{ID: "model", Title: "What the risk is made of", Blocks: []page.Block{termTable(r.Model)}},
	), Cautions: Cautions}
}

func cardLead(r risk.Report) string {
	switch {
	case r.Model.Why != "":
		return "There is no model: " + r.Model.Why + "."
	case !r.Shown:
		return "The model foresees no better than its rivals; the desk shows the usual share instead."
	}
	return fmt.Sprintf("No rival foresees better than the model on %s later orders; the desk shows its risks.", page.Thousands(r.Validation.Orders))
}

// riskCourse says month by month how past risks have come true so far.
func riskCourse(x risk.Course) []page.Block {
	if x.Words == "" {
		return nil
	}
	blocks := []page.Block{page.Prose{x.Words}}
	if len(x.Months) == 0 {
		return blocks
	}
	t := page.Table{ID: "risk-course", Caption: "Risks told before an order came in, and what has become of it", Total: len(x.Months), Columns: []page.Column{
		{Key: "month", Title: "Shipped in"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "foreseen_so_far", Title: "Remakes foreseen by now", Numeric: true},
		{Key: "low", Title: "95 in 100 counts from", Numeric: true}, {Key: "high", Title: "to", Numeric: true}, {Key: "remade_so_far", Title: "Remade so far", Numeric: true}, {Key: "said", Title: "That is"}}}
	for _, m := range x.Months {
		t.Rows = append(t.Rows, []page.Cell{page.Text(m.Month.String()), page.CountOf(m.Orders, orders(m.OrderIDs)), page.Number(float64(m.Foreseen), 1), page.Count(m.Low), page.Count(m.High), page.CountOf(m.Remade, orders(m.RemadeIDs)), page.Text(m.Said())})
	}
	t.Notes = []string{
		"Foreseen by now: each order's risk times the share of remakes that is reported by its age, so that young months are compared at equal age. Each risk is that of a model fitted before the order came in.",
		"Over all of them: calibration intercept " + page.Plain(x.Intercept, 2).Text + " (right: 0), slope " + page.Plain(x.Slope, 2).Text + " (right: 1). Drift is said where the 99 % interval of the intercept leaves out 0.",
	}
	return append(blocks, t)
}
