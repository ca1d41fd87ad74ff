package analyses

import (
	"context"
	"fmt"
	"slices"

	"lastroom/analysis/measurers"
	"lastroom/analysis/nearest"
	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/people"
	"lastroom/reports/review"
)

// measurerAnalysis shows one measurer among all, with the care small numbers
// need.
func measurerAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	orders, err := in.Source.Cohort(ctx)
	if err != nil {
		return nil, err
	}
	d, err := f.Measurers(ctx)
	if err != nil {
		return nil, err
	}
	out := &notebooks.Output{Cautions: []string{review.PrivateData, review.NoDiagnosis}}
	if out.Frame, err = frameOf(d.Measurers); err != nil {
		return nil, err
	}
	id := in.Keys["measurer"]
	if id == "" {
		out.Parts = []notebooks.Shown{part("words", page.Prose{"No measurer was named; below are all of them."}), part("measurers", people.ComparisonTable(d)), part("funnel", people.Funnel(d, ""))}
		return out, nil
	}
	i := slices.IndexFunc(d.Measurers, func(m measurers.Measurer) bool { return m.ID == id })
	if i < 0 {
		return nil, unknownMeasurer(id, d, orders.Measurer.Levels)
	}
	m := d.Measurers[i]
	out.Parts = []notebooks.Shown{
		part("words", page.Prose(append([]string{m.Words}, d.Warnings...))),
		part("remakes", people.RemakesTable(m)), part("faults", people.FaultsTable(m)), part("signs", people.SignsTable(m.Signs)), part("trend", people.TrendTable(m.Trend)), part("repeats", people.MeasuredTable(m.TEM)), part("funnel", people.Funnel(d, m.ID)),
	}
	out.Values = []page.Value{
		notebooks.Exact("orders", page.Thousands(m.Orders), float64(m.Orders), m.Orders), notebooks.Exact("remade", page.Thousands(m.Remade), float64(m.Remade), m.Remade),
		{Name: "share", Text: page.InWords(m.Share, 100, 1, " %"), E: m.Share}, {Name: "rate", Text: page.InWords(m.Rate, 100, 1, " %"), E: m.Rate},
		{Name: "ratio", Text: page.InWords(m.Ratio, 1, 2, ""), E: m.Ratio}, {Name: "overall", Text: page.InWords(d.Overall, 100, 1, " %"), E: d.Overall},
	}
	return out, nil
}

// unknownMeasurer tells a measurer with too few orders from one that is not in
// the book.
func unknownMeasurer(id string, d measurers.Comparison, all []string) error {
	if slices.Contains(all, id) {
		return fmt.Errorf("measurer=%s: fewer than %d mature orders; nothing is said about so few", id, measurers.LeastOrders)
	}
	var enough []string
	for _, m := range d.Measurers {
		enough = append(enough, m.ID)
	}
	return fmt.Errorf("measurer=%s: no such measurer has mature orders; %s", id, nearest.Meant(id, enough))
}
