package main

import (
	"errors"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/bookpages"
	"lastroom/ingest/load"
)

func (a *app) loadCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "load SHEETS…",
		Short: "read order sheets (CSV, XLSX, ODS, Parquet) into an order book",
		Long: `SHEETS are files, or folders of them: orders, forms, measurements, outcomes, and
if you have them callbacks, measurers, repeats, costs. All rows that can be read
are taken in one step; a row that can't is kept out, with the reason. The same
sheets again change nothing; a corrected row takes the older one's place.
Status 1 says that rows were kept out, 3 that nothing was loaded.`,
		Example: `lastroom load --book mine.duckdb demo/sheets
lastroom load --book mine.duckdb --rejects kept-out.csv demo/sheets`,
	}
	book := bookFlag(c)
	layout := fileFlag(c, "map", "", "a `FILE` that says how your own spreadsheet is laid out", "yaml", "yml")
	settings := fileFlag(c, "settings", "", "a `FILE` of shop settings (leg heights, which heel and ankle girth, when the book begins)", "yaml", "yml")
	rejects := fileFlag(c, "rejects", "", "a `FILE` to write the rows kept out to, to mend and load again", "csv")
	whole := c.Flags().Bool("whole-forms", false, "the sheets hold all numbers of their forms: others that the book has of them end")
	export := c.Flags().Bool("whole-export", false, "the sheets hold all orders and reports of fit: others that the book has of them end")
	unpack := unpackFlag(c)
	dry := c.Flags().Bool("dry-run", false, "read and report as if loading, and change nothing")
	later := c.Flags().Bool("judge-later", false, "leave the numbers unjudged by the body model; lastroom audit does it")
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usageError(c, "say which sheets to load: files or folders")
		}
		w, err := workshop.Open(workshop.Setup{Book: *book})
		if err != nil {
			return err
		}
		o := load.Options{Paths: args, Map: *layout, Settings: *settings, Rejects: *rejects, JudgeLater: *later, WholeForms: *whole, WholeExport: *export, Unpack: int64(*unpack) << 20, DryRun: *dry}
		report, err := w.LoadSheets(c.Context(), o, a.show())
		if *rejects != "" && report != nil && report.Rejects != "" {
			err = errors.Join(err, workshop.NoteCopy(*book, "file of rows kept out", *rejects))
		}
		switch {
		case report == nil || err != nil && len(report.KeptOut) == 0:
			return err
		case err == nil && len(report.KeptOut) > 0:
			err = workshop.ErrHeld
		}
		if failed := a.print(*format, report, bookpages.Load(report, *rejects)); failed != nil {
			return failed
		}
		return err
	}
	return c
}

func (a *app) auditCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "audit",
		Short: "judge the numbers of all forms in the book again",
		Long: `A load judges the numbers of the forms it brings: do they make a human foot and
leg? This does it again for all forms, as after a new version of the program, so
that faults seen in the numbers mean the same in old forms and new ones.`,
		Example: "lastroom audit --book demo/shop.duckdb",
		Args:    noArguments,
	}
	book := bookFlag(c)
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := workshop.NeedBook(*book); err != nil {
			return err
		}
		w, err := workshop.Open(workshop.Setup{Book: *book})
		if err != nil {
			return err
		}
		if err := w.Audit(c.Context(), a.show()); err != nil {
			return err
		}
		return a.printInfo(c.Context(), *book, 0, *format, "Numbers of all forms judged again")
	}
	return c
}
