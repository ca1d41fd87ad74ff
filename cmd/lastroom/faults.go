package main

import (
	"flag"

	"lastroom/notebooks"
	"lastroom/reports/review"
)

var faultsCommand = command{
	name:    "faults",
	summary: "which faults of measuring forms go with remakes",
	about: `For each fault of the catalogue: how many orders were cut from a form with it,
how many of those were remade against the orders without, and what is left of
the difference once boot height, channel and the other faults are allowed for.
Only mature orders count: those shipped long enough ago for complaints to be in.`,
	examples: []string{
		"lastroom faults --book demo/shop.duckdb",
		"lastroom faults --book demo/shop.duckdb --as-of 2025-12-31 --format json",
	},
	flags: func(fs *flag.FlagSet) action {
		return printFinding(readingFlags(fs), (*notebooks.Findings).Faults, review.FaultsPage)
	},
}
