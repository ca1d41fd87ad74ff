package review

import (
	"fmt"
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// measurements lay the shop's numbers over the published range of people, and
// count the forms out of range month by month, as RangeMonths does.
func measurements(spreads []human.Spread, months []human.RangeMonth, most int) []page.Block {
	if len(spreads) == 0 && len(months) == 0 {
		return nil
	}
	return append(RangeFigures(spreads), RangeMonths(months, most)...)
}

// leastSpread is the number of numbers under which no distribution is drawn.
const leastSpread = 20

// RangeFigures draw the shop's numbers over the published ones, and the main
// ratios over theirs. What socks or pencil commonly add is taken off first.
// Wearers of unknown sex are shown only where no others are.
func RangeFigures(spreads []human.Spread) []page.Block {
	numbers := figure.Ranges{
		ID: "ranges-figure", Title: "The shop's measurements over the published range", Source: survey,
		Desc: "Band: 1st to 99th percentile of people of that sex, bare foot and leg. What socks or pencil commonly add is taken off the shop's numbers, " +
			"which are those of both sides of the newest " + page.Thousands(human.SpreadForms) + " forms cut from, at most.",
	}
	ratios := figure.Ranges{
		ID: "ratios-figure", Title: "The main ratios over the published range", Source: survey,
		Desc: "Each foot's numbers against one another: a shift here with the numbers in place points at how one of the two is taken.",
	}
	for _, name := range rangeNames() {
		for _, s := range bySex(spreads, name) {
			row, ok := rangeRow(s)
			switch {
			case !ok:
			case row.Unit == "":
				ratios.Rows = append(ratios.Rows, row)
			default:
				numbers.Rows = append(numbers.Rows, row)
			}
		}
	}
	out := []page.Block{figure.RangeChart(numbers)}
	if len(ratios.Rows) > 0 {
		out = append(out, figure.RangeChart(ratios))
	}
	return out
}

const survey = "2012 US Army survey of body measures (ANSUR II), 4,082 men and 1,986 women, right side"

// rangeNames are the points and ratios in the order in which they are drawn.
func rangeNames() []string {
	var names []string
	for _, p := range []form.Point{form.Length, form.Breadth, form.Ball, form.Heel, form.Ankle, form.Calf} {
		names = append(names, p.String())
	}
	for _, q := range human.Ratios {
		names = append(names, q.String())
	}
	return names
}

func bySex(spreads []human.Spread, name string) []human.Spread {
	var known, unknown []human.Spread
	for _, sex := range []form.Sex{form.Male, form.Female, form.SexUnknown} {
		for _, s := range spreads {
			if s.Name == name && s.Sex == sex && sex == form.SexUnknown {
				unknown = append(unknown, s)
			} else if s.Name == name && s.Sex == sex {
				known = append(known, s)
			}
		}
	}
	if len(known) == 0 {
		return unknown
	}
	return known
}

func rangeRow(s human.Spread) (figure.RangeRow, bool) {
	r, ok := published(s)
	if !ok {
		return figure.RangeRow{}, false
	}
	row := figure.RangeRow{Label: s.Name + ", " + sexWord(s.Sex), Unit: "mm", N: s.N, Published: quantiles(r)}
	if _, point := form.ParsePoint(s.Name); !point {
		row.Unit = ""
	}
	nan := math.NaN()
	row.Shop = figure.Quantiles{P1: nan, P5: nan, P25: nan, P50: nan, P75: nan, P95: nan, P99: nan}
	if s.N >= leastSpread {
		o := r.Offset
		row.Shop = figure.Quantiles{P1: s.P1 - o, P5: s.P5 - o, P25: s.P25 - o, P50: s.P50 - o, P75: s.P75 - o, P95: s.P95 - o, P99: s.P99 - o}
	}
	return row, true
}

func quantiles(r human.Range) figure.Quantiles {
	return figure.Quantiles{P1: r.Quantile(0.01), P5: r.Quantile(0.05), P25: r.Quantile(0.25), P50: r.Quantile(0.5), P75: r.Quantile(0.75), P95: r.Quantile(0.95), P99: r.Quantile(0.99)}
}

func published(s human.Spread) (human.Range, bool) {
	if p, ok := form.ParsePoint(s.Name); ok {
		return human.RangeOf(p, s.Sex)
	}
	for _, q := range human.Ratios {
		if q.String() == s.Name {
			return human.RangeOfRatio(q, s.Sex)
		}
	}
	return human.Range{}, false
}

func sexWord(s form.Sex) string {
	switch s {
	case form.Female:
		return "women"
	case form.Male:
		return "men"
	}
	return "both sexes"
}

// rangeMonthsShort is how many months of forms out of range a review shows.
const rangeMonthsShort = 13

// RangeMonths is the table of forms out of range by month, of the newest most
// months; 0 is all. Nothing for no month.
func RangeMonths(months []human.RangeMonth, most int) []page.Block {
	if len(months) == 0 {
		return nil
	}
	t := page.Table{ID: "out-of-range", Caption: "Forms out of the published range, by month of the form", Columns: []page.Column{
		{Key: "month", Title: "Month"}, {Key: "judged", Title: "Forms judged", Numeric: true}, {Key: "out", Title: "Out of range", Numeric: true},
		{Key: "share", Title: "Share", Unit: "%", Numeric: true},
	}, Total: len(months)}
	if most > 0 && len(months) > most {
		months = months[len(months)-most:]
	}
	for _, m := range months {
		t.Rows = append(t.Rows, []page.Cell{page.Text(m.Month.String()), page.CountOf(m.Judged, page.Ref{Kind: "forms", IDs: m.JudgedForms}),
			page.CountOf(m.Out, page.Ref{Kind: "forms", IDs: m.Forms}), page.Percent(share(m.Out, m.Judged))})
	}
	t.Notes = append(page.Refusals(t.Rows), "A form is out of range when its numbers together lie beyond a limit set for the whole form, not when a single number is beyond its 1st or 99th percentile.")
	return []page.Block{t}
}

// share is a share with its Wilson interval; none under 10.
func share(x, n int) stats.Estimate {
	const least = 10
	if n < least {
		return stats.Missing(n, "Wilson score", fmt.Sprintf("%s: no share under %d", page.Counted(n, "form", "forms"), least))
	}
	return stats.Wilson(x, n, stats.DefaultLevel)
}
