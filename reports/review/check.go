package review

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/care"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/reports/page"
)

// CheckPage is what the form desk says of forms. Its first table has one row a
// form.
func CheckPage(d desk.Checked) *page.Document {
	held := 0
	t := page.Table{ID: "forms", Caption: "Forms checked", Columns: []page.Column{
		{Key: "form_id", Title: "Form"}, {Key: "verdict", Title: "Verdict"}, {Key: "missing", Title: "Missing numbers", Numeric: true},
		{Key: "alarm", Title: "Numbers in doubt"}, {Key: "alarm_score", Title: "Alarm score", Numeric: true}, {Key: "faults", Title: "Faults"},
	}}
	foreseen := slices.ContainsFunc(d.Forms, func(f desk.Decision) bool { return f.Risk != nil })
	if foreseen {
		t.Columns = append(t.Columns, page.Column{Key: "risk", Title: "Remake risk", Unit: "%", Numeric: true})
	}
	doc := &page.Document{Title: "Form check"}
	var sections []page.Section
	for i, f := range d.Forms {
		if f.Held() {
			held++
		}
		score := page.Cell{Text: "not judged"}
		if f.AlarmScore != nil {
			score = page.Number(*f.AlarmScore, 1)
		}
		id := page.AsIs(f.FormID)
		id.Ref = page.Ref{Kind: "form", IDs: []string{f.FormID}}
		t.Rows = append(t.Rows, []page.Cell{id, page.Text(string(f.Verdict)), page.Count(len(f.Missing)), page.YesNo(f.Alarm), score, page.Text(strings.Join(f.Faults, ", "))})
		if foreseen {
			risk := page.Cell{}
			if f.Risk != nil {
				risk = page.Percent(f.Risk.Risk)
			}
			t.Rows[i] = append(t.Rows[i], risk)
		}
		if f.Held() || len(f.Doubts) > 0 || len(f.Notes) > 0 {
			sections = append(sections, page.Section{ID: fmt.Sprintf("form-%d", i+1), Title: "Form " + f.FormID + ": " + string(f.Verdict), Blocks: decision(f, i+1)})
		}
		doc.Cautions = appendNew(doc.Cautions, f.Cautions...)
	}
	doc.Lead = fmt.Sprintf("%s of %s forms held.", page.Thousands(held), page.Thousands(len(d.Forms)))
	if d.ThresholdFrom != "" {
		t.Notes = append(t.Notes, "What leather can't be cut from, what is asked for the wearer's sake and the shop's rules in force hold a form in any case. "+form.Sentence(d.ThresholdFrom))
	}
	doc.Sections = append([]page.Section{{ID: "forms", Blocks: []page.Block{t}}}, sections...)
	if let := letThrough(d.Forms); len(let.Rows) > 0 {
		doc.Sections = append(doc.Sections, page.Section{ID: "let-through", Title: "In doubt, but not worth a call-back", Blocks: []page.Block{let}})
	}
	doc.Cautions = appendNew(doc.Cautions, care.General...)
	return doc
}

// decision is one form's verdict: why, what to take again, what is in doubt.
// The number sets its table's id apart from those of other forms on the page.
func decision(f desk.Decision, number int) []page.Block {
	var out []page.Block
	if len(f.Reasons) > 0 {
		out = append(out, page.Prose(f.Reasons))
	}
	if why := f.Weighed(); why != "" {
		out = append(out, page.Prose{form.Sentence(why)})
	}
	if len(f.TakeAgain) > 0 {
		out = append(out, page.Prose{"Take again: " + places(f.TakeAgain) + "."})
	} else if len(f.Missing) > 0 {
		out = append(out, page.Prose{"Missing: " + places(f.Missing) + "."})
	}
	if f.TraceAgain {
		out = append(out, page.Prose{"Trace both feet again: one unbroken line each, tape marks on the tracing."})
	}
	if len(f.Doubts) > 0 {
		out = append(out, doubts(f, number))
	}
	if len(f.Notes) > 0 {
		out = append(out, page.Prose(f.Notes))
	}
	if f.Risk != nil {
		out = append(out, RiskOf(f.FormID, *f.Risk)...)
	}
	return out
}

// letThrough lists the forms whose doubts do not hold them.
func letThrough(forms []desk.Decision) page.Table {
	t := page.Table{ID: "let-through-table", Caption: "Forms cut from in spite of a doubt", Columns: []page.Column{
		{Key: "form_id", Title: "Form"}, {Key: "doubts", Title: "In doubt"},
		{Key: "avoids", Title: "A call-back would avoid", Unit: "remakes in 100", Numeric: true}, {Key: "brings", Title: "and bring, its cost taken off", Numeric: true}}}
	for _, f := range forms {
		if len(f.LetThrough) == 0 {
			continue
		}
		id := page.AsIs(f.FormID)
		id.Ref = page.Ref{Kind: "form", IDs: []string{f.FormID}}
		t.Rows = append(t.Rows, []page.Cell{id, page.Text(strings.Join(f.LetThrough, "; ")), page.Percent(f.Risk.Avoids), page.Plain(f.Risk.Worth, 0)})
	}
	t.Total = len(t.Rows)
	return t
}

func doubts(f desk.Decision, number int) page.Table {
	t := page.Table{ID: fmt.Sprintf("doubts-%d", number), Caption: "Numbers in doubt, by what measuring again would gain", Columns: []page.Column{
		{Key: "number", Title: "Number"}, {Key: "written", Title: "As written"}, {Key: "value_mm", Title: "Value", Unit: "mm", Numeric: true},
		{Key: "expected_mm", Title: "Expected", Unit: "mm", Numeric: true}, {Key: "low_mm", Title: "from", Unit: "mm", Numeric: true}, {Key: "high_mm", Title: "to", Unit: "mm", Numeric: true},
		{Key: "hypothesis", Title: "May be"}, {Key: "posterior", Title: "Share", Unit: "%", Numeric: true}, {Key: "suggested_mm", Title: "Would have been", Unit: "mm", Numeric: true},
	}}
	for _, d := range f.Doubts {
		may := page.Cell{Text: d.Words, Value: d.Hypothesis}
		if may.Text == "" {
			may.Text = d.Hypothesis
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(d.Name()), page.AsIs(d.Written), page.Number(d.ValueMM, 1), pointer(d.ExpectedMM, 1, 1),
			pointer(d.LowMM, 1, 1), pointer(d.HighMM, 1, 1), may, pointer(d.Posterior, 100, 0), pointer(d.SuggestedMM, 1, 1)})
	}
	return t
}

func pointer(p *float64, scale float64, decimals int) page.Cell {
	if p == nil {
		return page.Cell{}
	}
	c := page.Number(*p*scale, decimals)
	if c.Value != nil {
		c.Value = *p
	}
	return c
}

func places(ps []form.Place) string {
	names := make([]string, len(ps))
	for i, p := range ps {
		names[i] = p.Name()
	}
	return strings.Join(names, ", ")
}

func appendNew(list []string, more ...string) []string {
	for _, m := range more {
		found := false
		for _, l := range list {
			found = found || l == m
		}
		if !found {
			list = append(list, m)
		}
	}
	return list
}
