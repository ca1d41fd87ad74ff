package review

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"lastroom/analysis/form"
	"lastroom/analysis/sensitivity"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

const factorAxis = "times as often as like orders of which word came"

// silence says how far word that never came could move the findings.
func silence(s sensitivity.Silence) []page.Block {
	if s.MatureOrders == 0 {
		return nil
	}
	var out []page.Block
	words := page.Prose(append([]string{}, s.Words...))
	for _, w := range s.Warnings {
		words = append(words, form.Capitalised(w)+".")
	}
	if s.Silent == 0 {
		return append(out, words)
	}
	out = append(out, append(words, "The factor is "+s.FactorMeans+". Which one holds no data of the shop can tell, only asking some of the silent. As counted the figures are those of the other tables."))
	out = append(out, silenceFigure(s))
	if len(s.Faults) > 0 {
		out = append(out, turnFigure(s, "silence-faults", "Faults: where a conclusion turns", s.Faults), movedTable(s, "silence-faults-data", "Adjusted difference of each fault", "per 100", 100, s.Faults, func(m sensitivity.Moved) []sensitivity.AtFactor { return m.At }))
	}
	if len(s.Rules) > 0 {
		at := func(m sensitivity.Moved) []sensitivity.AtFactor { return m.At }
		net := func(m sensitivity.Moved) []sensitivity.AtFactor { return m.Net }
		out = append(out, turnFigure(s, "silence-rules", "Rules: where a conclusion turns", s.Rules), movedTable(s, "silence-rules-data", "Remakes avoided by each rule per 100 first forms", "", 1, s.Rules, at))
		if slices.ContainsFunc(s.Rules, func(m sensitivity.Moved) bool { return m.Net != nil }) {
			out = append(out, movedTable(s, "silence-net-data", "What 100 first forms gain by each rule, call-backs and delays paid", "", 1, s.Rules, net))
		}
	}
	return out
}

// turning leaves the conclusions that turn within the factors looked at: the others
// are told in words.
func turning(s sensitivity.Silence) sensitivity.Silence {
	stays := func(m sensitivity.Moved) bool { return !m.Turns.Factor.Given() }
	s.Faults, s.Rules = slices.DeleteFunc(slices.Clone(s.Faults), stays), slices.DeleteFunc(slices.Clone(s.Rules), stays)
	return s
}

func silenceFigure(s sensitivity.Silence) page.Figure {
	v := figure.Factors{ID: "silence-share", Title: "The remake share, had the silent been remade more often", Y: "remade, % of mature orders", X: factorAxis, At: s.Factors,
		Desc: fmt.Sprintf("Of %s mature orders %s were remade and of %s there is no word: those count as kept at 0. At 1 they are remade as often as like orders of which word came (by their odds; a model of the orders with word).",
			page.Thousands(s.MatureOrders), page.Thousands(s.Remade), page.Thousands(s.Silent))}
	if s.MostShare.Given() {
		v.Desc += fmt.Sprintf(" If all of them had been remade it would be %s %%: no factor leads further.", page.Fixed(100*float64(s.MostShare), 1))
	}
	line := func(label string, n int, shares []sensitivity.AtFactor) {
		l := figure.FactorLine{Label: label, N: n}
		for _, a := range shares {
			l.Shares = append(l.Shares, a.Estimate)
		}
		v.Lines = append(v.Lines, l)
	}
	line("all", s.MatureOrders, s.Shares)
	for _, ch := range s.Channels {
		line(ch.Channel, ch.Orders, ch.Shares)
	}
	return figure.FactorChart(v)
}

// turnFigure draws where the conclusions of a list turn.
func turnFigure(s sensitivity.Silence, id, title string, list []sensitivity.Moved) page.Figure {
	v := figure.Turns{ID: id, Title: title, Axis: factorAxis, Most: sensitivity.MostFactor, Drawn: math.Max(3, s.Factors[len(s.Factors)-1]),
		Desc: "A conclusion is which side of 0 the 95 % interval lies on, if any. The line reaches to the factor at which it is another than as counted, for the silent of all channels; the marks below are for those of one channel, all others as counted (between steps, not told anew)."}
	for _, m := range list {
		if m.Turns.Said == "" {
			continue
		}
		r := figure.TurnRow{Label: m.Title, Said: m.Turns.Said, To: m.Turns.To, At: float64(m.Turns.Factor)}
		v.Groups = nil
		for _, ch := range m.Channels {
			v.Groups = append(v.Groups, ch.Channel)
			r.Groups = append(r.Groups, float64(ch.Factor))
		}
		v.Rows = append(v.Rows, r)
	}
	return figure.TurnChart(v)
}

// movedTable has a column a factor.
func movedTable(s sensitivity.Silence, id, caption, unit string, scale float64, list []sensitivity.Moved, figures func(sensitivity.Moved) []sensitivity.AtFactor) page.Table {
	t := page.Table{ID: id, Caption: caption + ", by the factor for the silent", Columns: []page.Column{{Key: "what", Title: "Finding"}}}
	for _, f := range s.Factors {
		title := "at " + strconv.FormatFloat(f, 'g', -1, 64)
		if f == 0 {
			title = "as counted"
		}
		t.Columns = append(t.Columns, page.Column{Key: fmt.Sprintf("at_%g", f), Title: title, Unit: unit, Numeric: true})
	}
	for _, m := range list {
		row := []page.Cell{{Text: m.Title, Value: m.ID}}
		for _, a := range figures(m) {
			row = append(row, page.Scaled(a.Estimate, scale, 1))
		}
		if len(row) == len(t.Columns) {
			t.Rows = append(t.Rows, row)
		}
	}
	t.Notes = page.Refusals(t.Rows)
	return t
}

// unjudged holds complete cases against what forms that nobody could judge may
// have had.
func unjudged(b sensitivity.Blanks) []page.Block {
	if len(b.Faults) == 0 {
		return nil
	}
	t := page.Table{ID: "unjudged-data", Caption: fmt.Sprintf("Faults that were not judged on every form, on %s mature orders", page.Thousands(b.MatureOrders)), Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "unknown", Title: "Not judged", Numeric: true},
		{Key: "unknown_among_remade", Title: "of remade", Unit: "%", Numeric: true}, {Key: "unknown_among_kept", Title: "of kept", Unit: "%", Numeric: true},
		{Key: "risk_difference", Title: "As counted", Unit: "per 100", Numeric: true}, {Key: "worst_case", Title: "Worst case", Unit: "per 100", Numeric: true},
		{Key: "adjusted_risk_difference", Title: "Adjusted, judged", Unit: "per 100", Numeric: true},
		{Key: "imputed_risk_difference", Title: "Adjusted, filled in", Unit: "per 100", Numeric: true},
		{Key: "disagree", Title: "Disagree"},
	}}
	share := func(e stats.Estimate) page.Cell {
		if !e.Given() {
			return page.Percent(e)
		}
		return page.Cell{Text: page.Fixed(100*e.Point, 0), Value: e}
	}
	for _, x := range b.Faults {
		t.Rows = append(t.Rows, []page.Cell{
			{Text: x.Title, Value: x.Fault}, page.CountOf(x.Unknown, orders(x.Orders)), share(x.UnknownAmongRemade), share(x.UnknownAmongKept),
			page.Scaled(x.Counted, 100, 1), boundsCell(x.Bounds), notMade(x.Complete, page.Scaled(x.Complete, 100, 1)), notMade(x.Imputed, page.Scaled(x.Imputed, 100, 1)), page.YesNo(x.Disagree),
		})
	}
	how := "Filled in: not made here; lastroom unjudged makes it."
	if b.Imputations > 0 {
		how = fmt.Sprintf("Filled in: %d imputations (seed %d) by chained logistic models, each fault given order, channel, measurer, month, outcome and the other faults; Rubin's rules with Barnard and Rubin's degrees of freedom. That is right if, given all of these, it is chance which forms could not be judged.", b.Imputations, b.Seed)
	}
	t.Notes = []string{
		"Worst case: where the difference as counted would lie whatever those forms were (first two figures), and the far ends of the 95 % intervals there. " + how,
		form.Capitalised(b.Rule) + ".",
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	words := page.Prose(append([]string{}, b.Words...))
	for _, w := range b.Warnings {
		words = append(words, form.Capitalised(w)+".")
	}
	return []page.Block{words, t}
}

func boundsCell(b sensitivity.Bounds) page.Cell {
	if !b.Given() {
		return page.Cell{Text: page.TooFew}
	}
	f := func(v stats.Value) string { return page.Fixed(100*float64(v), 1) }
	return page.Cell{Text: fmt.Sprintf("%s to %s (%s to %s)", f(b.Low), f(b.High), f(b.IntervalLow), f(b.IntervalHigh)), Value: f(b.Low) + " to " + f(b.High)}
}

// SilencePage is the whole as a document of its own. Its first table is the
// faults'.
func SilencePage(s sensitivity.Silence) *page.Document {
	return &page.Document{
		Title: "If the silent had been remade more often",
		Lead: fmt.Sprintf("%s mature orders as of %s, %s remade; of %s nobody sent word.", page.Thousands(s.MatureOrders), s.AsOf,
			page.Thousands(s.Remade), page.Thousands(s.Silent)),
		Sections: keep(page.Section{ID: "silence", Title: "Silence", Blocks: silence(s)}),
		Cautions: []string{NoDiagnosis},
	}
}

// UnjudgedPage is the whole as a document of its own.
func UnjudgedPage(b sensitivity.Blanks) *page.Document {
	blocks := unjudged(b)
	if blocks == nil {
		blocks = []page.Block{page.Prose(b.Words)}
	}
	return &page.Document{
		Title:    "Faults that nobody could judge",
		Lead:     fmt.Sprintf("%s mature orders as of %s; %d faults were not judged on every form.", page.Thousands(b.MatureOrders), b.AsOf, len(b.Faults)),
		Sections: keep(page.Section{ID: "unjudged", Title: "Not judged", Blocks: blocks}),
		Cautions: []string{NoDiagnosis},
	}
}
