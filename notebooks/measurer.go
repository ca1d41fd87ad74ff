package notebooks

import (
	"context"
	"fmt"
	"slices"

	"lastroom/analysis/measurers"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// measurerAnalysis shows one measurer among all, with the care small numbers
// need.
func measurerAnalysis(ctx context.Context, in Input) (*Output, error) {
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	orders, err := in.Source.Cohort(ctx)
	if err != nil {
		return nil, err
	}
	repeats, err := in.Source.Repeats(ctx)
	if err != nil {
		return nil, err
	}
	d, err := kept(in, "measurers", []any{f.mature}, func() (measurers.Document, error) {
		return measurers.Measure(orders, measurers.Options{MatureDays: f.mature, Repeats: repeats}), ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	out := &Output{Cautions: review.Cautions[1:]}
	if out.Frame, err = frameOf(d.Measurers); err != nil {
		return nil, err
	}
	id := in.Keys["measurer"]
	if id == "" {
		out.Parts = []Shown{{"words", []page.Block{page.Prose{"No measurer was named; below are all of them."}}}, {"funnel", []page.Block{funnel(d, "")}}}
		return out, nil
	}
	i := slices.IndexFunc(d.Measurers, func(m measurers.Measurer) bool { return m.ID == id })
	if i < 0 {
		return nil, unknownMeasurer(id, d, orders.Measurer.Levels)
	}
	m := d.Measurers[i]
	out.Parts = []Shown{
		{"words", []page.Block{page.Prose(append([]string{m.Words}, d.Warnings...))}},
		{"remakes", []page.Block{measurerTable(m)}}, {"faults", []page.Block{measurerFaults(m)}},
		{"repeats", []page.Block{measurerRepeats(m)}}, {"funnel", []page.Block{funnel(d, m.ID)}},
	}
	out.Values = []page.Value{
		Exact("orders", page.Thousands(m.Orders), float64(m.Orders), m.Orders), Exact("remade", page.Thousands(m.Remade), float64(m.Remade), m.Remade),
		{Name: "shrunken_rate", Text: page.InWords(m.Headline, 100, 1, " %"), E: m.Headline}, {Name: "rate", Text: page.InWords(m.Rate, 100, 1, " %"), E: m.Rate},
		{Name: "observed_over_expected", Text: page.InWords(m.Ratio, 1, 2, ""), E: m.Ratio}, {Name: "overall", Text: page.InWords(d.Overall, 100, 1, " %"), E: d.Overall},
	}
	return out, nil
}

// unknownMeasurer tells a measurer with too few orders from one that is not in
// the book.
func unknownMeasurer(id string, d measurers.Document, all []string) error {
	if slices.Contains(all, id) {
		return fmt.Errorf("measurer=%s: fewer than %d mature orders; nothing is said about so few", id, measurers.LeastOrders)
	}
	var enough []string
	for _, m := range d.Measurers {
		enough = append(enough, m.ID)
	}
	return fmt.Errorf("measurer=%s: no such measurer has mature orders; %s", id, meant(id, enough))
}

func measurerTable(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-remakes", Caption: "Remakes of orders cut from this measurer's forms", Columns: []page.Column{
		{Key: "what", Title: "What"}, {Key: "value", Title: "Number", Numeric: true}}}
	row := func(what string, c page.Cell) { t.Rows = append(t.Rows, []page.Cell{page.Text(what), c}) }
	row("mature orders", page.Count(m.Orders))
	row("remade", page.CountOf(m.Remade, page.Ref{Kind: "orders", IDs: m.RemadeOrders}))
	row("expected by the mix of orders", page.Number(float64(m.Expected), 1))
	row("share, shrunken towards all, %", page.Percent(m.Headline))
	row("share as counted, %", page.Percent(m.Rate))
	row("observed over expected", page.Plain(m.Ratio, 2))
	t.Notes = page.Refusals(t.Rows)
	t.Total = len(t.Rows)
	return t
}

func measurerFaults(m measurers.Measurer) page.Table {
	t := page.Table{ID: "measurer-faults", Caption: "Faults on this measurer's forms", Columns: []page.Column{
		{Key: "fault", Title: "Fault"}, {Key: "at_risk", Title: "Judged", Numeric: true}, {Key: "with_fault", Title: "With it", Numeric: true},
		{Key: "shrunken_rate", Title: "Share, shrunken", Unit: "%", Numeric: true}, {Key: "rate", Title: "Share as counted", Unit: "%", Numeric: true}, {Key: "outside", Title: "Against exact limits"}}}
	for _, f := range m.Faults {
		t.Rows = append(t.Rows, []page.Cell{page.Text(f.Fault), page.Count(f.AtRisk), page.Count(f.With), page.Percent(f.Headline), page.Percent(f.Rate), page.Text(f.Outside)})
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

// funnel draws all measurers within the limits of the common share. Whether one
// lies outside is judged by the limits of its own mix of orders. The one it is
// about, if any, is marked.
func funnel(d measurers.Document, about string) page.Figure {
	f := figure.Funnel{ID: "funnel", Title: "Remake share and number of orders, by measurer", X: "mature orders", Y: "% of orders remade", Centre: d.Overall.Point,
		Desc: "Each mark is a measurer. By chance alone 19 of 20 lie within the inner limits, 998 of 1,000 within the outer. A mark stands out only where it lies outside the limits of its own mix of orders. Nobody is ranked; fewer than 20 orders are not drawn."}
	most := 0
	for _, m := range d.Measurers {
		f.Points = append(f.Points, figure.FunnelPoint{Label: m.ID, N: m.Orders, Events: m.Remade, Share: m.Rate.Point, Outside: m.Outside == "above 99.8" || m.Outside == "below 99.8", About: m.ID == about})
		most = max(most, m.Orders)
	}
	for n := measurers.LeastOrders; n <= most; n += max(1, most/60) {
		at := func(q float64) float64 { return stats.FunnelLimit(d.Overall.Point, n, q) }
		f.Limits = append(f.Limits, figure.FunnelLimit{N: float64(n), Low95: at(0.025), High95: at(0.975), Low998: at(0.001), High998: at(0.999)})
	}
	return figure.FunnelChart(f)
}
