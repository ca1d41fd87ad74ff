package main

import (
	"flag"

	"lastroom/notebooks"
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
		return printFinding(readingFlags(fs), (*notebooks.Findings).Trend, review.TrendPage)
	},
}
