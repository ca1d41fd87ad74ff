package main

import (
	"context"
	"flag"

	"lastroom/analysis/remakes"
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
			b, err := r.open(ctx, a)
			if err != nil {
				return err
			}
			defer b.Close()
			d, err := trendOf(a, r, b)
			if err != nil {
				return err
			}
			return a.print(*r.format, d, review.TrendPage(d))
		}
	},
}

func trendOf(a *app, r reading, b *openBook) (remakes.Trend, error) {
	o := remakes.Options{MatureDays: *r.mature, Replicates: r.replicates(), Seed: 1}
	return cached(b, "trend", o, func() (remakes.Trend, error) {
		a.show().at("watching the months", 0, 0)
		return remakes.Watch(b.orders, o), nil
	})
}
