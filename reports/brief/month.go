package brief

import (
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

var monthWords = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// MonthName is a month as one says it: September 2026.
func MonthName(m cohort.Month) string {
	return fmt.Sprintf("%s %d", monthWords[int(m)%12], int(m)/12)
}

// DayName is a day as one says it: 30 September 2026.
func DayName(d cohort.Day) string {
	return fmt.Sprintf("%d %s", d.Time().Day(), MonthName(d.Month()))
}

// MonthOf is a month of the series, or nil.
func MonthOf(m monitoring.Monthly, month cohort.Month) *monitoring.Month {
	for i := range m.Months {
		if m.Months[i].Month == month {
			return &m.Months[i]
		}
	}
	return nil
}

// Lead is the month and the months before it in two sentences.
func Lead(t monitoring.Trend, month cohort.Month) string {
	s := monthSentence(t.Monthly, month)
	if t.Monthly.NoWord {
		return s // what has not changed was not told
	}
	return s + " " + courseSentence(t)
}

// monthSentence says how many pairs of a month came back, and whether that is more
// than chance makes of such a month.
func monthSentence(m monitoring.Monthly, month cohort.Month) string {
	mo := MonthOf(m, month)
	if mo == nil {
		return "No pair of the book was shipped in " + MonthName(month) + ", as far as is known on " + DayName(m.AsOf) + "."
	}
	if m.NoWord {
		return fmt.Sprintf("%s shipped in %s, but nobody has told how any pair of the book fits. Load the reports of fit too (kept, adjusted, remade, returned): without them nothing can be told.",
			page.Counted(mo.Shipped, "pair was", "pairs were"), MonthName(month))
	}
	soFar := ""
	if !mo.Mature {
		soFar = " so far"
	}
	s := fmt.Sprintf("Of %s shipped in %s, %s %s to be made again%s.", page.Counted(mo.Shipped, "pair", "pairs"), MonthName(month), numberOrNone(mo.Remade), hasOrHave(mo.Remade), soFar)
	e := mo.Equal
	if e.UsualLow == nil || e.UsualHigh == nil {
		return s + " " + whyNotCompared(m, *mo)
	}
	verdict := map[string]string{"more": "more than usual", "fewer": "fewer than usual"}[e.Verdict]
	if verdict == "" {
		verdict = "as usual"
	}
	chance := fmt.Sprintf("chance alone makes %s to %s in such a month", page.Thousands(*e.UsualLow), page.Thousands(*e.UsualHigh))
	if mo.Mature {
		return s + " That is " + verdict + ": " + chance + "."
	}
	return s + fmt.Sprintf(" Within %s of shipping it was %s, and that soon this is %s: %s.", page.Counted(e.Age, "day", "days"), numberOrNone(e.Remade), verdict, chance)
}

func numberOrNone(n int) string {
	if n == 0 {
		return "none"
	}
	return page.Thousands(n)
}

func hasOrHave(n int) string {
	if n == 1 {
		return "has come back"
	}
	return "have come back"
}

// whyNotCompared says what is missing before a month can be called usual or not.
func whyNotCompared(m monitoring.Monthly, mo monitoring.Month) string {
	switch {
	case mo.Mature && mo.Baseline:
		return "It is one of the months that say what is usual."
	case mo.Mature && m.Baseline == nil:
		return "What is usual can't be said yet."
	case !mo.Mature && mo.Equal.Age < 14:
		return "It is too early to compare: the newest pair has been out for " + page.Counted(mo.Equal.Age, "day", "days") + "."
	}
	return "There are too few earlier pairs to say whether that is usual."
}

// courseSentence says whether anything changed over the months.
func courseSentence(t monitoring.Trend) string {
	if t.Monthly.Baseline == nil {
		return "The months are watched for a change once a year of them, with ten remakes, is out long enough to tell."
	}
	if n := len(t.Signals); n > 0 && !t.Signals[n-1].Until.Known() {
		if s := t.Signals[n-1]; s.Direction == "worse" {
			return "Since about " + MonthName(s.From.Month()) + " more pairs come back than before."
		}
		return "Since about " + MonthName(t.Signals[n-1].From.Month()) + " fewer pairs come back than before."
	}
	return "Over the months nothing lasting has changed since " + MonthName(t.Monthly.Baseline.To) + "."
}

// monthsDrawn is how many months the run chart shows, the month under review
// the last.
const monthsDrawn = 25

// RunChart is the remake share month by month, up to the given month (or all,
// where it is not in the series).
func RunChart(m monitoring.Monthly, last cohort.Month) page.Block {
	r := figure.Run{
		ID: "run-chart", Title: "Pairs made again, by the month they were shipped",
		Of: "pairs shipped in it", What: "of pairs made again",
		Centre: math.NaN(),
		Desc:   runDesc(m),
	}
	if m.Baseline != nil {
		r.Centre = m.Baseline.Share.Point
	}
	for _, mo := range m.Months {
		if MonthOf(m, last) != nil && mo.Month > last {
			break
		}
		r.Months = append(r.Months, figure.RunMonth{
			Month: mo.Month, Orders: mo.Shipped, Events: mo.Remade, All: page.Ref{Kind: "orders", IDs: mo.ShippedOrders}, Behind: page.Ref{Kind: "orders", IDs: mo.Orders}, Share: mo.Rate.Point,
			Low: float64(mo.Low), High: float64(mo.High), Mature: mo.Mature, Signal: mo.Signal != "",
		})
	}
	if n := len(r.Months); n > monthsDrawn {
		r.Months = r.Months[n-monthsDrawn:]
	}
	return figure.RunChart(r)
}

func runDesc(m monitoring.Monthly) string {
	s := "Of the pairs shipped in a month, how many in 100 came back to be made again within a year. Hollow months are young: more may still be told."
	if b := m.Baseline; b != nil {
		s += fmt.Sprintf(" The dashed line is what was usual from %s to %s (%s of %s pairs); a month within its shaded box is no news.", MonthName(b.From), MonthName(b.To), page.Thousands(b.Remade), page.Thousands(b.Orders))
	}
	for _, mo := range m.Months {
		if !mo.Rate.Given() {
			return s + " Months with too few pairs have no point."
		}
	}
	return s
}
