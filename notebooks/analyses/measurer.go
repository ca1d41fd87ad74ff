package analyses

import (
	"context"
	"fmt"
	"slices"

	"lastroom/analysis/measurers"
	"lastroom/analysis/nearest"
	"lastroom/notebooks"
	"lastroom/reports/page"
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
		out.Parts = []notebooks.Shown{part("words", page.Prose{"No measurer was named; below are all of them."}), part("measurers", review.MeasurersTable(d)), part("funnel", review.Funnel(d, ""))}
		return out, nil
	}
	i := slices.IndexFunc(d.Measurers, func(m measurers.Measurer) bool { return m.ID == id })
	if i < 0 {
		return nil, unknownMeasurer(id, d, orders.Measurer.Levels)
	}
	m := d.Measurers[i]
	out.Parts = []notebooks.Shown{
		part("words", page.Prose(append([]string{m.Words}, d.Warnings...))),
		part("remakes", measurerTable(m)), part("faults", measurerFaults(m)), part("repeats", measurerRepeats(m)), part("funnel", review.Funnel(d, m.ID)),
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

func measurerTable(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-remakes", Caption: "Remakes of orders cut from this measurer's forms", Columns: []page.Column{
		{Key: "what", Title: "What"}, {Key: "value", Title: "Number", Numeric: true}}}
	row := func(what string, c page.Cell) { t.Rows = append(t.Rows, []page.Cell{page.Text(what), c}) }
	row("mature orders", page.Count(m.Orders))
	row("remade", page.CountOf(m.Remade, page.Ref{Kind: "orders", IDs: m.RemadeOrders}))
	row("expected of such orders", page.Plain(m.Expected, 1))
	row("share, drawn towards the expected, %", page.Percent(m.Share))
	row("share as counted, %", page.Percent(m.Rate))
	row("times the others' share", page.Plain(m.Ratio, 2))
	row("verdict", page.Text(string(m.Verdict)))
	t.Notes = page.Refusals(t.Rows)
	t.Total = len(t.Rows)
	return t
}

func measurerFaults(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-faults", Caption: "Faults on this measurer's forms", Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "at_risk", Title: "Judged", Numeric: true}, {Key: "with_fault", Title: "With it", Numeric: true},
		{Key: "share", Title: "Share, drawn towards all", Unit: "%", Numeric: true}, {Key: "rate", Title: "Share as counted", Unit: "%", Numeric: true}, {Key: "outside", Title: "Against exact limits"}}}
	for _, f := range m.Faults {
		t.Rows = append(t.Rows, []page.Cell{page.Text(f.Fault), page.Count(f.AtRisk), page.Count(f.With), page.Percent(f.Share), page.Percent(f.Rate), page.Text(f.Outside)})
	}
	t.Notes = append(page.Refusals(t.Rows), "Who notes faults honestly shows more of them.")
	t.Total = len(t.Rows)
	return t
}

func measurerRepeats(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-repeats", Caption: "Repeated measurements", Columns: []page.Column{
		{Key: "point", Title: "Point"}, {Key: "height_mm", Title: "Height", Unit: "mm", Numeric: true}, {Key: "subjects", Title: "Legs", Numeric: true},
		{Key: "tem_mm", Title: "Technical error", Unit: "mm", Numeric: true}, {Key: "bias_mm", Title: "Against the instructor", Unit: "mm", Numeric: true}}}
	for _, e := range m.TEM {
		t.Rows = append(t.Rows, []page.Cell{page.Text(e.Point), page.Number(float64(e.HeightMM), 0), page.Count(e.Subjects), page.Plain(e.TEM, 1), page.Plain(e.Bias, 1)})
	}
	t.Notes = page.Refusals(t.Rows)
	t.Total = len(t.Rows)
	return t
}
