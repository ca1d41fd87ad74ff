package analyses

import (
	"context"
	"slices"

	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

func rulesAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	d, err := f.Rules(ctx)
	if err != nil {
		return nil, err
	}
	p := review.RulesPage(d)
	if !slices.ContainsFunc(p.Sections, func(s page.Section) bool { return s.ID == "since" }) {
		p.Sections = append(p.Sections, page.Section{ID: "since", Blocks: []page.Block{
			page.Prose{"No rule has a start day (from:) in the rules file, so there is no before and after yet."}}})
	}
	rows, err := frameOf(d.Rules)
	return &notebooks.Output{Parts: append(partsOf(p), part("drawn", review.ScorecardFigure(d))), Values: append(review.RuleValues(d), conditions(d)...), Frame: rows, Cautions: p.Cautions}, err
}

func trendAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	d, err := f.Trend(ctx)
	if err != nil {
		return nil, err
	}
	p := review.TrendPage(d)
	out := &notebooks.Output{Parts: partsOf(p), Cautions: p.Cautions, Lead: p.Lead}
	if n := len(d.Monthly.Months); n > 0 {
		out.Values = review.MonthValues(d.Monthly, d.Monthly.Months[n-1].Month)
	}
	return out, nil
}

func measurementsAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	spreads, err := in.Source.Spreads(ctx)
	if err != nil {
		return nil, err
	}
	months, err := in.Source.RangeMonths(ctx)
	if err != nil {
		return nil, err
	}
	out := &notebooks.Output{Cautions: review.Cautions, Parts: []notebooks.Shown{
		part("ranges", review.RangeFigures(spreads)...), part("months", review.RangeMonths(months, 0)...),
	}}
	judged, off := 0, 0
	for _, m := range months {
		judged, off = judged+m.Judged, off+m.Out
	}
	out.Values = []page.Value{notebooks.Exact("judged", page.Thousands(judged), float64(judged), judged), {Name: "out_of_range", E: stats.Wilson(off, judged, stats.DefaultLevel)}}
	return out, nil
}
