package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
)

func (a *app) reviewCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "review",
		Short: "the monthly review: one page to read, print and decide on",
		Long: `Writes review.html (one file, nothing is fetched from outside; two printed sheets
and an annex), and beside it the same as text and JSON, each table as CSV, each
figure as SVG. A month is a shipping month. The review is the notebook
monthly-review: each run of it is kept beside the book, and compare says what
changed between two.`,
		Example: "lastroom review --book demo/shop.duckdb --month 2026-09 --out review",
		Args:    noArguments,
	}
	r := a.readingFlags(c)
	costs := costFlags(c.Flags())
	month := monthFlag(c.Flags(), "month", "the `MONTH` of shipping, as 2026-09 (default the newest with boots shipped that ended 30 days before the as-of day)")
	out := folderFlag(c, "out", "the `FOLDER` to write into (default: print it, write nothing)")
	file := rulesFlag(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		w, err := workshop.Open(workshop.Setup{Book: *r.book, Rules: *file, Costs: *costs})
		if err != nil {
			return err
		}
		d, err := w.Review(c.Context(), r.finding(), *month, a.show())
		if err != nil {
			return err
		}
		if *out == "" {
			return a.print(*r.format, d, d)
		}
		if err := errors.Join(workshop.NoteCopy(*r.book, "review", *out), workshop.WriteReview(*out, d, a.language)); err != nil {
			return err
		}
		a.progress.done()
		_, err = fmt.Fprintf(a.stdout, "%s\n%s\n", a.language.Text(d.Lead), filepath.Join(*out, "review.html"))
		return err
	}
	return c
}
