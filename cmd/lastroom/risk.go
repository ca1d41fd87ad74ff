package main

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

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
	book, asOf, format := bookFlag(c), dayFlag(fs, "as-of", "the `DAY` of the risks: what came later is not seen (default the newest day in the book)"), formatFlag(c)
	costs := costFlags(fs)
	a.sayFlag(c)
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
		r, err := w.Risk(c.Context(), workshop.RiskQuestion{AsOf: *asOf, All: *all, Order: *order, Version: *version}, a.show())
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
		if *out != "" {
			if err := workshop.WriteHTML(filepath.Join(*out, name), doc, a.language); err != nil {
				return err
			}
		}
		return a.print(*format, r, doc)
	}
	return c
}
