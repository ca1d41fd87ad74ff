package analyses

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/analysis/remakes"
	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

func faultsAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	d, err := f.AdvisedFaults(ctx)
	if err != nil {
		return nil, err
	}
	p := review.FaultsPage(d)
	rows, err := frameOf(d.Faults)
	return &notebooks.Output{Parts: append(partsOf(p), part("forest", review.FaultForest(d)...)), Values: review.FaultValues(d), Frame: rows, Cautions: p.Cautions}, err
}

func faultAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	d, err := f.AdvisedFaults(ctx)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(d.Faults, func(f remakes.FaultFinding) bool { return f.Fault == in.Keys["fault"] })
	if i < 0 {
		return nil, fmt.Errorf("fault=%s: there is no such fault; %s", in.Keys["fault"], nearest.Meant(in.Keys["fault"], form.FaultIDs()))
	}
	one := d.Faults[i]
	d.Faults = []remakes.FaultFinding{one}
	finding, ok := review.FaultAsFinding(one)
	shown := []page.Block{finding}
	if !ok {
		shown = []page.Block{page.Prose(append([]string{one.Words.Headline}, one.Warnings...))}
	}
	rows, err := frameOf(d.Faults)
	return &notebooks.Output{
		Parts: []notebooks.Shown{
			part("finding", shown...), part("table", review.FaultTable(d)...), part("drawn", review.FaultForest(d)...), part("levels", review.Levels(d)...),
			part("zones", zoneTable(one)), part("orders", orderTable("orders-with-it", "Cut with the fault and remade, the newest first", one.Orders)),
		},
		Values: ownValues(one.Fault, review.FaultValues(d)), Frame: rows, Cautions: []string{review.NoDiagnosis},
	}, err
}

// ownValues are the values of one fault without its name in front.
func ownValues(fault string, vs []page.Value) []page.Value {
	var out []page.Value
	for _, v := range vs {
		if name, ok := strings.CutPrefix(v.Name, fault+"."); ok {
			v.Name = name
			out = append(out, v)
		}
	}
	return out
}

// zoneTable holds the complaints in the fault's own zones against the others.
func zoneTable(f remakes.FaultFinding) page.Table {
	z := f.ZoneCheck
	t := page.Table{ID: "zones", Caption: "Do complaints sit where the fault can do harm?", Columns: []page.Column{
		{Key: "zones", Title: "Zones"}, {Key: "remade_with", Title: "Remade with it", Numeric: true}, {Key: "remade_without", Title: "Remade without", Numeric: true},
		{Key: "risk_ratio", Title: "Risk ratio", Numeric: true}}, Notes: []string{z.Words}}
	for _, one := range []struct {
		name string
		c    remakes.CrudeComparison
	}{{"its own", z.Own}, {"all others", z.Others}} {
		t.Rows = append(t.Rows, []page.Cell{page.Text(one.name), page.Count(one.c.RemadeWith), page.Count(one.c.RemadeWithout), page.Plain(one.c.RiskRatio, 2)})
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	t.Total = len(t.Rows)
	return t
}

// orderTable lists orders, each opening its order.
func orderTable(id, caption string, ids []string) page.Table {
	t := page.Table{ID: id, Caption: caption, Columns: []page.Column{{Key: "order_id", Title: "order"}}, Total: len(ids)}
	for _, o := range ids {
		t.Rows = append(t.Rows, []page.Cell{{Text: o, Value: o, Ref: page.Ref{Kind: "order", IDs: []string{o}}}})
	}
	return t
}
