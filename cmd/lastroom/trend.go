package main

import (
	"context"
	"flag"

	"lastroom/analysis/rules"
	"lastroom/reports/review"
)

var trendCommand = command{
	name:    "trend",
	summary: "remakes month by month, with limits and signals",
	about: `The remake share of each shipping month with its limits, and the running sums that
notice a lasting change sooner, adjusted for the mix of boots. Months that are not
mature yet are marked and never compared as equals.`,
	examples: []string{"lastroom trend --book demo/shop.duckdb", "lastroom trend --book demo/shop.duckdb --format csv"},
	flags: func(fs *flag.FlagSet) action {
		r := readingFlags(fs)
		return func(ctx context.Context, a *app, _ []string) error {
			s, err := newShop(*r.book, "", rules.Costs{})
			if err != nil {
				return err
			}
			f, err := r.findings(ctx, a, s)
			if err != nil {
				return err
			}
			defer f.Close()
			d, err := f.Trend(ctx)
			if err != nil {
				return err
			}
			return a.print(*r.format, d, review.TrendPage(d))
		}
	},
}
