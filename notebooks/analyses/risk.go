package analyses

import (
	"context"

	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// riskAnalysis is the remake risk of the open orders, by the model that is kept.
func riskAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	l, err := in.Source.Risks(ctx)
	if err != nil {
		return nil, err
	}
	orders, err := in.Source.Cases(ctx, false)
	if err != nil {
		return nil, err
	}
	price, err := in.Source.CallPrice(ctx)
	if err != nil {
		return nil, err
	}
	r := l.ReportOn(in.Source.Facts().AsOf, orders, price)
	p := review.RiskPage(r, review.MostRisks)
	rows, err := frameOf(r.Orders)
	v := r.Validation
	values := []page.Value{notebooks.Exact("orders", page.Thousands(len(r.Orders)), float64(len(r.Orders)), len(r.Orders)),
		{Name: "usual", E: r.BaseRate}, {Name: "auc", E: v.AUC}, {Name: "brier", E: v.Brier}, {Name: "calibration_intercept", E: v.Intercept}, {Name: "calibration_slope", E: v.Slope}}
	return &notebooks.Output{Parts: partsOf(p), Values: values, Frame: rows, Lead: p.Lead, Cautions: p.Cautions}, err
}
