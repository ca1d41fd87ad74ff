package main

import (
	"context"

	"github.com/spf13/cobra"

	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/notebooks/analyses"
	"lastroom/reports/review"
)

func (a *app) silenceCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "silence",
		Short: "how far findings rest on orders of which nobody sent word",
		Long: `Orders of which nobody sent word count as kept. Here they are remade as often as
like orders of which word came, times a factor (of the odds) that you may set: how
the remake share, each fault's effect and each rule's worth would move, by channel
too, and at which factor a conclusion turns. No data can tell the right factor;
asking some of the silent can.`,
		Example: `lastroom silence --book demo/shop.duckdb
lastroom silence --book demo/shop.duckdb --factors 0.25,0.5,1 --format json`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	costs := costFlags(c.Flags())
	file := rulesFlag(c)
	var factors []float64
	c.Flags().Func("factors", "`FACTORS` to look at, as 0.5,1,2; 0 is as counted, 1 as often as like orders with word (default 0.5,1,1.5,2,3)", func(s string) (err error) {
		factors, err = analyses.ParseFactors(s)
		return err
	})
	c.RunE = func(c *cobra.Command, _ []string) error {
		silence := func(f analyses.Findings, ctx context.Context) (sensitivity.Silence, error) {
			s, err := f.Silence(ctx, factors, false)
			return s, workshop.BadInput(err) // a rule's condition that is none
		}
		return printFinding(c.Context(), a, r, *file, *costs, silence, review.SilencePage)
	}
	return c
}

func (a *app) unjudgedCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "unjudged",
		Short: "how far findings rest on faults that nobody could judge",
		Long: `On some forms nobody could tell whether a fault is there. For each such fault: the
difference on the forms that could be judged, where it would lie in the worst case
of the others, and what it is when those are filled in by what like orders have
(multiple imputation: order, channel, measurer, month, outcome, other faults).`,
		Example: `lastroom unjudged --book demo/shop.duckdb
lastroom unjudged --book demo/shop.duckdb --format json`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		unjudged := func(f analyses.Findings, ctx context.Context) (sensitivity.Blanks, error) {
			return f.Unjudged(ctx, f.Replicates == 0)
		}
		return printFinding(c.Context(), a, r, "", rules.Costs{}, unjudged, review.UnjudgedPage)
	}
	return c
}
