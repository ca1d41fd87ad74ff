package analyses

import (
	"context"

	"lastroom/analysis/monitoring"
	"lastroom/analysis/rules"
	"lastroom/reports/brief"
)

// Now is the shop as the book tells it on its newest day: what the first page shows.
// It takes no resampling.
func (f Findings) Now(ctx context.Context) (*brief.Shop, error) {
	f.Replicates = 0
	c, err := f.Source.Cohort(ctx)
	if err != nil {
		return nil, err
	}
	if !c.AsOf.Known() { // no day in the book at all
		return brief.ShopOf(c, nil, rules.Costs{}, monitoring.Trend{}, nil, 0), nil
	}
	month := f.Source.Facts().Month
	t, err := f.Trend(ctx)
	if err != nil {
		return nil, err
	}
	reports, err := f.Source.Reports(ctx, brief.From(month), month.Last())
	if err != nil {
		return nil, err
	}
	costs, err := f.Source.Costs(ctx)
	if err != nil {
		return nil, err
	}
	ahead, err := f.ahead(ctx)
	if err != nil {
		return nil, err
	}
	return brief.ShopOf(c, reports, costs, t, ahead, month), nil
}
