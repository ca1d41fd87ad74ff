package page

import (
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const hostile = `<script>alert(1)</script> " onload="x' & =1+1`

func est(p, lo, hi float64, n int) stats.Estimate {
	return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95, N: n, Method: "Wilson score"}
}

// sample is a document with every kind of block; its numbers mean nothing.
func sample() *Document {
	t := Table{
		ID: "shares", Caption: "Shares", Total: 1340, Notes: []string{"a note"},
		Columns: []Column{{Key: "fault", Title: "Fault"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "rate", Title: "Share", Unit: "%", Numeric: true}, {Key: "day", Title: "Day"}},
		Rows: [][]Cell{
			{Text("tape marks missing"), CountOf(1234, Ref{Kind: "orders", IDs: []string{"O-1", "O-2"}}), Percent(est(0.08, 0.05, 0.12, 812)), Date(cohort.Day(20000))},
			{Text("=HYPERLINK(\"x\")"), Count(-3), Percent(stats.Missing(4, "Wilson score", "4 orders: no share under 10")), Date(cohort.NoDay)},
			{Text(hostile), Cell{}, Plain(est(-1.5, -3, 0.25, 10), 2)},
		},
	}
	behind := t
	behind.ID = ""
	return &Document{
		Title: "A page " + hostile, Lead: "One sentence.",
		Sections: []Section{
			{ID: "annex", Title: "Annex", Blocks: []Block{Value{Name: "share", Text: "8.0 %", E: est(0.08, 0.05, 0.12, 812)}}},
			{ID: "one", Title: "First", Sheet: 1, Blocks: []Block{Prose{"Plain <b>text</b>."}, Markup{HTML: []byte("<p><em>rich</em></p>"), Text: []string{"rich"}}, t,
				Figure{ID: "fig", Title: "A figure", Desc: "What it shows.", SVG: []byte(`<svg class="fig" viewBox="0 0 10 10"></svg>`), Narrow: []byte(`<svg class="fig" viewBox="0 0 5 10"></svg>`), Data: behind}}},
			{ID: "two", Title: "Second", Sheet: 2, Blocks: []Block{
				Finding{ID: "f1", Headline: "Marks matter", Detail: []string{"More."}, Certainty: "95 % interval 1 to 2, n 3", Action: "Ask.", Warnings: []string{"Mind."}, Orders: Ref{Kind: "orders", IDs: []string{"1", "2", "3", "4", "5", "6", "7", "8"}}},
				Finding{ID: "f2", Headline: "Another"}}},
		},
		Cautions:   []string{"A statistic is no diagnosis."},
		Provenance: Provenance{AsOf: 20000, BookHash: "0123456789abcdef", Version: "1.0", Parameters: [][2]string{{"month", `2026-09"}*{`}}},
	}
}

var nan = math.NaN()
