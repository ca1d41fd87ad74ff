package review

import (
	"fmt"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// Lead is the month in one sentence, and the months before it in another.
func (r *Review) Lead() string {
	if r.NoPair != nil {
		return strings.Join(r.NoPair, " ")
	}
	return brief.Lead(r.Trend, r.Month)
}

func lead(t monitoring.Trend, month cohort.Month) string {
	if t.Monthly.NoWord {
		return brief.Lead(t, month)
	}
	s := sentence(t.Monthly, month)
	if t.Statement != "" {
		s += " " + t.Statement
	}
	return s
}

// sentence is one month in one sentence: at equal age where it is young, as it
// stands on the chart where it is mature.
func sentence(m monitoring.Monthly, month cohort.Month) string {
	mo := brief.MonthOf(m, month)
	if mo == nil {
		return "No boots shipped in " + brief.MonthName(month) + " are in the book as of " + m.AsOf.String() + "."
	}
	s := mo.Equal.Sentence
	if s == "" {
		s = fmt.Sprintf("%s of %s remade within %d days.", page.Thousands(mo.Equal.Remade), page.Thousands(mo.Equal.Shipped), mo.Equal.Age)
	}
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	switch {
	case mo.Signal == "above":
		s += " The month lies above its limits."
	case mo.Signal == "below":
		s += " The month lies below its limits."
	case !mo.Mature && mo.Remade > mo.Equal.Remade:
		s += fmt.Sprintf(" (%s so far at any age: that is what the chart draws.)", page.Thousands(mo.Remade))
	}
	return s
}

// excluded says which orders are left out, and on how many the rest stands.
// silence is what is said of orders without word; "": only how many there are.
func excluded(ex []cohort.Exclusion, m remakes.Maturity, silence string) []page.Block {
	if silence == "" {
		silence = answered(m)
	}
	p := page.Prose{fmt.Sprintf("Of %s shipped orders %s are mature (shipped at least %d days before the as-of day; %s). %s",
		page.Thousands(m.Shipped), page.Thousands(m.Mature), m.Days, m.Rule, silence)}
	if s := withoutDay(m); s != "" {
		p = append(p, strings.TrimSpace(s))
	}
	if s := leftOut(ex); s != "" {
		p = append(p, s)
	}
	return []page.Block{p}
}

func answered(m remakes.Maturity) string {
	if !m.Answered.Given() {
		return "Too few mature orders to say how many were answered for."
	}
	return "Any word on fit is there for " + page.InWords(m.Answered, 100, 0, " %") + " of them; silence counts as kept."
}

// withoutDay is a sentence on mature orders whose remake was reported without its
// day, with a blank before it; "" where there is none.
func withoutDay(m remakes.Maturity) string {
	if m.NoDay == 0 {
		return ""
	}
	orders := " mature orders were"
	if m.NoDay == 1 {
		orders = " mature order was"
	}
	return " " + page.Thousands(m.NoDay) + orders + " reported remade without the day: counted as remade here, but not in curves, in comparisons at equal age and in how late reports come, which need the day."
}

func leftOut(ex []cohort.Exclusion) string {
	s := ""
	for _, e := range ex {
		if e.Orders == 0 {
			continue
		}
		if s != "" {
			s += "; "
		}
		reason := e.Reason
		if e.Orders != 1 { // the book has the reason of one order
			reason = strings.Replace(reason, "second making ", "second makings ", 1)
		}
		s += page.Thousands(e.Orders) + " " + reason
	}
	if s == "" {
		return ""
	}
	return "Left out: " + s + "."
}
