package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"lastroom/analysis/measurers"
	"lastroom/analysis/nearest"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
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
	doc := pageOf(d)
	a.tellBeyond(*r.format, doc, f.Source.Facts())
	return a.print(*r.format, d, doc)
}

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

func (a *app) riskCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "risk",
		Short: "the remake risk of each open order, why, and what a call-back brings",
		Long: `For each order with a form whose year is not over: the chance that it is remade
within a year of shipping, as seen on the day of cutting, from the form as it was
or would be cut; the three things that raise it most; what it would be if the
form were mended; what one call-back brings by the shop's costs. The model is
fitted on the orders of the book and held to later ones; where it foresees no
better than the usual share, the count of faults or the shop's rules, it says so
and the usual share is shown. It is kept beside the book (shop.files/models) and
fitted anew when the book has grown; older versions stay (--version-of-model).`,
		Example: `lastroom risk --book demo/shop.duckdb
lastroom risk --book demo/shop.duckdb --card
lastroom risk --book demo/shop.duckdb --all --format csv`,
		Args: noArguments,
	}
	fs := c.Flags()
	book, asOf, format := bookFlag(c), asOfFlag(fs, "the `DAY` of the risks: what came later is not seen (default the newest day in the book)"), a.printFlags(c)
	costs := costFlags(fs)
	rulesFile := rulesFlag(c)
	all := fs.Bool("all", false, "every order with a form, also remade ones and those whose year is over")
	order := fs.String("order", "", "one `ORDER` alone")
	card := fs.Bool("card", false, "the model's card: what it rests on, how far its risks came true, when not to use it")
	version := wholeFlag(fs, "version-of-model", "answer by the kept model of this `NUMBER`, to explain an old figure", 1, 0)
	out := folderFlag(c, "out", "the `FOLDER` to write the page with its figures into")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if *all && *order != "" {
			return usageError(c, "--all and --order exclude each other")
		}
		w, err := workshop.Open(workshop.Setup{Book: *book, Rules: *rulesFile, Costs: *costs})
		if err != nil {
			return err
		}
		r, facts, err := w.Risk(c.Context(), workshop.RiskQuestion{AsOf: *asOf, All: *all, Order: *order, Version: *version}, a.show())
		if err != nil {
			return err
		}
		most := review.MostRisks
		if *format == "csv" {
			most = 0
		}
		doc, name := review.RiskPage(*r, most), "risk.html"
		if *card {
			doc, name = review.ModelCardPage(*r), "model-card.html"
		}
		doc.Provenance = page.Provenance{AsOf: r.AsOf, Version: workshop.Version()}
		a.tellBeyond(*format, doc, facts)
		if *out != "" {
			if err := workshop.WriteHTML(filepath.Join(*out, name), doc, a.language); err != nil {
				return err
			}
		}
		return a.print(*format, r, doc)
	}
	return c
}
