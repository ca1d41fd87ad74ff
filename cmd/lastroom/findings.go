package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"lastroom/analysis/measurers"
	"lastroom/analysis/nearest"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/notebooks/analyses"
	"lastroom/reports/page"
	"lastroom/reports/people"
	"lastroom/reports/review"
)

func (a *app) faultsCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "faults",
		Short: "which faults of measuring forms go with remakes",
		Long: `For each fault of the catalogue: how many orders were cut from a form with it,
how many of those were remade against the orders without, and what is left of
the difference once boot height, channel and the other faults are allowed for.
Only mature orders count: those shipped long enough ago for complaints to be in.
What to do about a finding follows from the scorecard of the rules: forms are to be
held only where that pays, or where nobody said what it costs.`,
		Example: `lastroom faults --book demo/shop.duckdb
lastroom faults --book demo/shop.duckdb --as-of 2025-12-31 --format json`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	costs := costFlags(c.Flags())
	file := rulesFlag(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		return printFinding(c.Context(), a, r, *file, *costs, analyses.Findings.AdvisedFaults, review.FaultsPage)
	}
	return c
}

func (a *app) trendCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "trend",
		Short: "remakes month by month, with limits and signals",
		Long: `The remake share of each shipping month with its limits, and the running sums
that notice a lasting change sooner, adjusted for the mix of boots. Months that
are not mature yet are marked and never compared as equals. One statement says
what all charts together show; while nothing changes, it errs in one year of twenty.`,
		Example: `lastroom trend --book demo/shop.duckdb
lastroom trend --book demo/shop.duckdb --format csv`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		return printFinding(c.Context(), a, r, "", rules.Costs{}, analyses.Findings.Trend, review.TrendPage)
	}
	return c
}

func (a *app) measurersCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "measurers",
		Short: "who measures well, with the care that few orders need",
		Long: `For each measurer with at least 20 mature orders: how many of the orders cut from
their forms were remade, how many the others together would have had with such
orders, and what may be said of it. Shares are drawn towards what is expected, the
more the fewer orders; nobody is ranked, and "as expected" is only said where twice
the share would have shown. Who measures alone in a channel is not compared.

With --repeats, what training sessions tell in which several people taped the same
legs: how far readings lie apart, who reads more than the instructor, and whether
that is a tight tape or one at another height.

With --hand-over, a page for one measurer: what goes well, and at most two things
to work on with own forms as examples. Nobody else is named in it.`,
		Example: `lastroom measurers --book demo/shop.duckdb
lastroom measurers --repeats --book demo/shop.duckdb
lastroom measurers --hand-over D03 --out D03.html --book demo/shop.duckdb
lastroom measurers --book demo/shop.duckdb --format json`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	repeats := c.Flags().Bool("repeats", false, "what training sessions tell")
	handOver := c.Flags().String("hand-over", "", "the page to hand over to a `MEASURER`")
	out := fileFlag(c, "out", "", "with --hand-over: the `FILE` to write, to print (default: show it as text)", "html")
	c.RunE = func(c *cobra.Command, _ []string) error {
		switch {
		case *handOver != "" && *repeats:
			return usageError(c, "--hand-over and --repeats are two pages: ask for one")
		case *out != "" && *handOver == "":
			return usageError(c, "--out goes with --hand-over")
		case *repeats:
			return printFinding(c.Context(), a, r, "", rules.Costs{}, analyses.Findings.Repeats, people.RepeatsPage)
		case *handOver != "":
			return a.handOver(c, r, *handOver, *out)
		}
		return printFinding(c.Context(), a, r, "", rules.Costs{}, analyses.Findings.Measurers, people.ComparisonPage)
	}
	return c
}

// handOver prints or writes the page for one measurer.
func (a *app) handOver(c *cobra.Command, r reading, id, out string) error {
	w, err := workshop.Open(workshop.Setup{Book: *r.book})
	if err != nil {
		return err
	}
	f, err := w.Findings(c.Context(), r.finding(), a.show())
	if err != nil {
		return err
	}
	defer f.Source.Close()
	d, err := f.Measurers(c.Context())
	if err != nil {
		return err
	}
	m, known := d.Named(id)
	if !known {
		return usageError(c, "no measurer %q has %d orders%s", id, measurers.LeastForms, nearest.Hint(id, d.IDs()))
	}
	p := people.HandOver(d, m)
	if out == "" {
		return a.print(*r.format, p, p)
	}
	if err := errors.Join(workshop.NoteCopy(*r.book, "hand-over", out), workshop.WriteHTML(out, p, a.language)); err != nil {
		return err
	}
	a.progress.done()
	_, err = fmt.Fprintln(a.stdout, out)
	return err
}

// printFinding prints one finding of the book.
func printFinding[T any](ctx context.Context, a *app, r reading, rulesFile string, costs rules.Costs,
	find func(analyses.Findings, context.Context) (T, error), pageOf func(T) *page.Document) error {
	w, err := workshop.Open(workshop.Setup{Book: *r.book, Rules: rulesFile, Costs: costs})
	if err != nil {
		return err
	}
	f, err := w.Findings(ctx, r.finding(), a.show())
	if err != nil {
		return err
	}
	defer f.Source.Close()
	d, err := find(f, ctx)
	if err != nil {
		return err
	}
	return a.print(*r.format, d, pageOf(d))
}
