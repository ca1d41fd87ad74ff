package review

import (
	"fmt"
	"math"
	"strings"

	"lastroom/analysis/body"
	"lastroom/analysis/body/human"
	"lastroom/analysis/care"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// Explained is one form with everything that the desk's answer rests on.
type Explained struct {
	Decision    desk.Decision
	Check       *body.Check
	Form        form.Form
	Facts       [][2]string // of form and order, for people
	Past        []PastForm  // forms of earlier orders, newest first
	Settings    [][2]string // the shop's settings in force
	Model       *body.Model
	Calibration *body.Calibration // nil without a book
}

// A PastForm is the form that an earlier order of the same customer was cut
// from.
type PastForm struct {
	Form     form.Form
	Order    string
	Received cohort.Day
}

// ExplainPage says why the desk decided as it did: verdict and reasons, what is
// missing, the doubts, the numbers on the human range, the leg profile, earlier
// forms, and what all that rests on.
func ExplainPage(x Explained) *page.Document {
	d := &page.Document{Title: "Form " + x.Decision.FormID + ": " + string(x.Decision.Verdict), Lead: verdictWords(x.Decision)}
	d.Sections = []page.Section{{ID: "why", Title: "Why", Blocks: why(x)}}
	if r := x.Decision.Risk; r != nil {
		d.Sections = append(d.Sections, page.Section{ID: "risk", Title: "Remake risk", Blocks: RiskOf(x.Decision.FormID, *r)})
	}
	d.Sections = append(d.Sections, page.Section{ID: "numbers", Title: "The numbers on the human range", Blocks: []page.Block{FormFigure(x)}})
	if legs := LegFigure(x); legs != nil {
		d.Sections = append(d.Sections, page.Section{ID: "leg", Title: "The leg by height", Blocks: []page.Block{*legs}})
	}
	d.Sections = append(d.Sections, page.Section{ID: "history", Title: "Earlier orders", Blocks: history(x)},
		page.Section{ID: "rests", Title: "What this rests on", Blocks: restsOn(x)})
	d.Cautions = appendNew(append([]string{}, x.Decision.Cautions...), care.General...)
	return d
}

func verdictWords(d desk.Decision) string {
	switch d.Verdict {
	case desk.Cut:
		if len(d.LetThrough) > 0 {
			return "It may be cut from: what is in doubt is not worth a call-back."
		}
		return "Nothing holds this form: it may be cut from."
	case desk.Ask:
		return "Ask before cutting; no tape is needed for it."
	}
	return "Numbers have to be taken before leather is cut."
}

// why are the reasons of the verdict, what to take again, and the doubts.
func why(x Explained) []page.Block {
	f := x.Decision
	var out []page.Block
	reasons := page.Prose{"Every number that the ordered boot needs is there, and together they make a human foot and leg."}
	if len(f.LetThrough) > 0 {
		reasons = append(reasons, "In doubt all the same: "+strings.Join(f.LetThrough, "; ")+".")
	}
	if !x.Check.Judged {
		reasons = page.Prose{"No number of this form could be judged."}
	}
	if len(f.Reasons) > 0 {
		reasons = nil
		for _, r := range f.Reasons {
			reasons = append(reasons, form.Sentence(r))
		}
	}
	if why := f.Weighed(); why != "" {
		reasons = append(reasons, form.Sentence(why))
	}
	out = append(out, reasons)
	if len(f.Cautions) > 0 {
		out = append(out, page.Prose(f.Cautions))
	}
	if n := f.NothingOff; n != nil && f.Alarm {
		out = append(out, page.Prose{fmt.Sprintf("Share of “nothing is wrong” among all explanations: %s %%.", page.Fixed(100**n, 1))})
	}
	if len(f.Missing) > 0 {
		out = append(out, page.Prose{"Missing for the ordered boot: " + places(f.Missing) + "."})
	}
	if len(f.TakeAgain) > 0 {
		out = append(out, page.Prose{"To be taken: " + places(f.TakeAgain) + "."})
	}
	if len(f.Doubts) > 0 {
		out = append(out, doubts(f, 0))
	}
	if len(x.Facts) > 0 {
		out = append(out, factTable("facts", "The form and its order", x.Facts))
	}
	return out
}

func factTable(id, caption string, facts [][2]string) page.Table {
	t := page.Table{ID: id, Caption: caption, Columns: []page.Column{{Key: "what", Title: "What"}, {Key: "value", Title: "Value"}}}
	for _, f := range facts {
		t.Rows = append(t.Rows, []page.Cell{page.Text(f[0]), page.Text(f[1])})
	}
	return t
}

// doubted says which readings a doubt of the decision touches.
func (x Explained) doubted(n form.Number) bool {
	for _, d := range x.Decision.Doubts {
		if d.Place == n.Place && d.Gain >= 0.05 {
			return true
		}
	}
	return false
}

// FormFigure shows the form's foot numbers on the human range, each with where
// the others put it.
func FormFigure(x Explained) page.Figure {
	v := figure.FormNumbers{ID: "form-numbers", Title: "The numbers of form " + x.Decision.FormID,
		Desc: "Each number of the foot as written, with the interval that all the other numbers leave likely (95 %) and the range of people (1st to 99th percentile, 2012 survey of US Army personnel, both sexes together where the sex is not given)."}
	for _, r := range x.Check.Readings {
		if r.Point == form.Leg {
			continue
		}
		n := figure.FormNumber{Label: r.Name(), Written: asWritten(r.Number), MM: r.ValueMM, Likely: r.Unit.Text(human.Rounded(r.Expected, r.Unit.Step())),
			Expected: r.Expected, Low: r.Low, High: r.High, P1: math.NaN(), P99: math.NaN(), Doubt: x.doubted(r.Number)}
		if g, ok := human.RangeOf(r.Point, x.Form.Sex); ok && r.Clothing == form.Bare {
			n.P1, n.P99 = g.QuantileWritten(0.01), g.QuantileWritten(0.99)
		}
		v.Rows = append(v.Rows, n)
	}
	return figure.FormChart(v)
}

// asWritten is a number as it stood on the form, with its unit.
func asWritten(n form.Number) string {
	w := n.Written
	if w == "" {
		w = page.Fixed(n.ValueMM/n.Unit.MM(), 1)
	}
	if strings.HasSuffix(w, `"`) || strings.HasSuffix(w, n.Unit.String()) {
		return w
	}
	return w + " " + n.Unit.String()
}

// LegFigure shows the leg girths over their height; nil where the form has
// none.
func LegFigure(x Explained) *page.Figure {
	v := figure.Leg{ID: "leg-profile", Title: "The leg of form " + x.Decision.FormID, Unit: "in", UnitMM: 25.4,
		Desc: "Girth of both legs at each height of the tape above the floor, and the band in which the foot, ankle and calf numbers put it (95 %). No published table gives leg girths by height: the band is a judgement, wide on purpose."}
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range x.Check.Readings {
		if r.Point != form.Leg {
			continue
		}
		v.Points = append(v.Points, figure.LegPoint{Side: r.Side, Clothing: r.Clothing, HeightMM: float64(r.HeightMM), GirthMM: r.ValueMM, ExpectedMM: r.Expected, Doubt: x.doubted(r.Number)})
		low, high = math.Min(low, float64(r.HeightMM)), math.Max(high, float64(r.HeightMM))
		if r.Unit != form.Inch {
			v.Unit, v.UnitMM = "cm", 10
		}
	}
	if len(v.Points) == 0 {
		return nil
	}
	var heights []float64
	for h := low; h < high+12.7; h += 12.7 {
		heights = append(heights, math.Min(h, high))
	}
	for _, b := range x.Model.LegBand(x.Form, heights) {
		v.Band = append(v.Band, figure.LegBand{HeightMM: b.Height, Low: b.Low, High: b.High})
	}
	f := figure.LegChart(v)
	return &f
}

// history sets the form beside the customer's earlier ones.
func history(x Explained) []page.Block {
	if len(x.Past) == 0 {
		return []page.Block{page.Prose{"No earlier form of this customer was there to compare with."}}
	}
	past := x.Past[:min(len(x.Past), 3)]
	t := page.Table{ID: "history-table", Caption: "This form beside the earlier ones the boots were cut from, mm", Columns: []page.Column{{Key: "number", Title: "Number"}, {Key: "now", Title: "this form", Numeric: true}}}
	for i, p := range past {
		t.Columns = append(t.Columns, page.Column{Key: fmt.Sprintf("earlier_%d", i+1), Title: p.Order + ", " + p.Received.String(), Numeric: true})
	}
	for _, n := range x.Form.Numbers {
		row := []page.Cell{page.Text(n.Name()), page.Number(n.ValueMM, 1)}
		for _, p := range past {
			row = append(row, sameNumber(p.Form, n))
		}
		t.Rows = append(t.Rows, row)
	}
	return []page.Block{page.Prose{"Earlier forms tighten what is expected, with room for time."}, t}
}

func sameNumber(f form.Form, n form.Number) page.Cell {
	for _, m := range f.Numbers {
		if m.Side == n.Side && m.Clothing == n.Clothing && m.Point == n.Point && (n.Point != form.Leg || math.Abs(float64(m.HeightMM-n.HeightMM)) < 1) {
			return page.Number(m.ValueMM, 1)
		}
	}
	return page.Cell{Text: "not there"}
}

// restsOn says which of it is published, which the shop's own, which judgement.
func restsOn(x Explained) []page.Block {
	prose := page.Prose{
		"Ranges of feet, ankles and calves: 2012 survey of US Army personnel (4,082 men, 1,986 women, aged 17 to 58; Gordon et al. 2014). The public has wider calves and ankles: outside the range is a question, never a verdict.",
		fmt.Sprintf("An alarm is set so that about %s %% of good forms raise one.", page.Fixed(100*x.Check.FalseAlarms, 2)),
		"Measuring errors: " + x.Model.Basis() + ".",
		"Judgement, without a published table: the differences between left and right beyond the survey's right feet, the leg girths by height, how often each slip of the tape happens, and the shares at which a doubt is shown. Where to lay the tape is common practice of the trade, no source.",
	}
	prose = append(prose, x.Decision.Notes...)
	out := []page.Block{prose}
	if len(x.Settings) > 0 {
		out = append(out, factTable("settings", "Shop settings it rests on", x.Settings))
	} else {
		out = append(out, page.Prose{"Shop settings: none given, so leg girths at 7 inches and every 2 inches up, the short heel girth and the least ankle girth (common practice, no source)."})
	}
	if x.Calibration != nil {
		out = append(out, calibrationTable(x.Calibration))
	}
	return out
}

// calibrationTable shows a shop's own offsets and spreads beside the published
// ones, by who measured.
func calibrationTable(c *body.Calibration) page.Table {
	t := page.Table{ID: "calibration", Caption: "The shop's own measuring beside the published values", Columns: []page.Column{
		{Key: "channel", Title: "Measured by"}, {Key: "point", Title: "Number"},
		{Key: "offset_published", Title: "Sock and pencil add, published", Unit: "mm", Numeric: true}, {Key: "offset_own", Title: "own", Unit: "mm", Numeric: true}, {Key: "offset_used", Title: "used", Unit: "mm", Numeric: true},
		{Key: "side_published", Title: "Left less right, published", Unit: "mm SD", Numeric: true}, {Key: "side_own", Title: "own", Unit: "mm SD", Numeric: true}, {Key: "side_used", Title: "used", Unit: "mm SD", Numeric: true}}}
	for _, ch := range c.Channels {
		if ch.Note != "" {
			t.Notes = append(t.Notes, ch.Channel.String()+": "+ch.Note)
		}
		if !ch.Enough {
			continue
		}
		for _, m := range ch.Measures {
			t.Rows = append(t.Rows, []page.Cell{page.Text(ch.Channel.String()), page.Text(m.Point.String()),
				page.Number(m.OffsetPublished, 1), page.Plain(m.OffsetOwn, 1), page.Number(m.OffsetUsed, 1),
				page.Number(m.SidePublished, 1), page.Plain(m.SideOwn, 1), page.Number(m.SideUsed, 1)})
		}
	}
	t.Notes = append(t.Notes, "From mature orders without a remake, complaint or call-back; shrunk towards the published values.")
	return t
}
