package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

func (a *app) runCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "run NOTEBOOK",
		Short: "run a notebook: one that comes with the program, the shop's own, or a file",
		Long: `Runs it whole, top to bottom, on one snapshot of the book. NOTEBOOK is a name
(monthly-review, intake-rules, remake-risk, one-fault, one-measurer, measurements,
or one in the folder notebooks beside the book) or a file. The run is kept beside the book;
the same notebook, book and day give the same bytes. With --out the page, every
table as CSV, the open notebook JSON and, where Chromium is found, a PDF are
written. Status 1 says that a sentence of the notebook is not supported by the
data, 3 that a cell failed.`,
		Example: `lastroom run monthly-review --book demo/shop.duckdb --set month=2026-09 --set resampled=0 --out september
lastroom run measurements --book demo/shop.duckdb`,
	}
	book := bookFlag(c)
	asOf := asOfFlag(c.Flags(), "the `DAY` of the extract; nothing that came later is seen (default the newest day in the book)")
	set := map[string]string{}
	c.Flags().Func("set", "a parameter of the notebook, `NAME=VALUE`; may stand several times", func(s string) error {
		name, value, ok := strings.Cut(s, "=")
		if !ok || name == "" {
			return fmt.Errorf("%q is not of the form name=value", s)
		}
		set[name] = value
		return nil
	})
	out := folderFlag(c, "out", "the `FOLDER` to write into (default: print it as text)")
	rulesFile := rulesFlag(c)
	costs := costFlags(c.Flags())
	format := a.printFlags(c)
	fresh := c.Flags().Bool("fresh", false, "compute everything anew, read nothing kept")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) != 1 {
			return usageError(c, "say which notebook to run: one name or file")
		}
		w, err := workshop.Open(workshop.Setup{Book: *book, Rules: *rulesFile, Costs: *costs})
		if err != nil {
			return err
		}
		n, err := w.Notebook(args[0])
		if err != nil {
			return err
		}
		run, rec, err := w.Run(c.Context(), n, execution.Options{Set: set, AsOf: asOf.String(), Fresh: *fresh}, a.show())
		if err != nil {
			return err
		}
		if *out == "" {
			err = a.print(*format, rec, run.Doc)
		} else {
			if err = workshop.NoteCopy(*book, "run", *out); err == nil {
				err = a.writeRun(c.Context(), *out, run)
			}
		}
		if err != nil {
			return err
		}
		return a.tellRun(run, rec)
	}
	c.ValidArgsFunction = func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		w, err := workshop.Open(workshop.Setup{Book: *book})
		if err != nil {
			return nil, cobra.ShellCompDirectiveDefault
		}
		names, _ := w.Notebooks() // without them, files are offered
		return names, cobra.ShellCompDirectiveDefault
	}
	return c
}

// tellRun says on standard error what a run came to, and gives its status.
func (a *app) tellRun(run *execution.Run, rec archive.Record) error {
	a.progress.done()
	for _, c := range run.Cells {
		if !c.Cached.IsZero() {
			fmt.Fprintf(a.stderr, "cell %s: as computed %s\n", c.Cell.Name, c.Cached.Format("2006-01-02 15:04"))
		}
	}
	if n := len(rec.Repeated); n > 0 {
		fmt.Fprintf(a.stderr, "run %s: made again, the same page as on %s\n", rec.ID, rec.Finished.Format("2006-01-02"))
	} else {
		fmt.Fprintf(a.stderr, "run %s: kept\n", rec.ID)
	}
	if fails := run.Failures(); len(fails) > 0 {
		words := make([]string, len(fails))
		for i, f := range fails {
			words[i] = f.Error()
		}
		return workshop.BadInput(errors.New(strings.Join(words, "\n")))
	}
	if lost := run.Unsupported(); len(lost) > 0 {
		for _, c := range lost {
			fmt.Fprintf(a.stderr, "%s.md:%d: “%s”: %s\n", run.Notebook.Name, c.Line, c.Text, c.Verdict)
		}
		return workshop.ErrHeld
	}
	return nil
}

// writeRun writes a run's files, and the PDF where Chromium is found.
func (a *app) writeRun(ctx context.Context, dir string, run *execution.Run) error {
	if _, err := archive.WriteDir(dir, run, a.language); err != nil {
		return err
	}
	a.progress.done()
	fmt.Fprintf(a.stdout, "%s\n%s\n", a.language.Text(run.Doc.Lead), filepath.Join(dir, "page.html"))
	browser := workshop.FindBrowser()
	if browser == "" {
		fmt.Fprintln(a.stderr, "no PDF was written: Chromium is not found here")
		return nil
	}
	return workshop.PrintPDF(ctx, browser, filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf"))
}

func (a *app) compareCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "compare NOTEBOOK | BEFORE AFTER",
		Short: "say what changed between two runs of a notebook, and why",
		Long: `With the name of a notebook: its two newest kept runs. BEFORE and AFTER are the
names of kept runs (the folders in runs beside the book). Says what went into the
book in between, which rules changed, which sentences and numbers are others now.`,
		Example: "lastroom compare --book demo/shop.duckdb monthly-review",
	}
	book := bookFlag(c)
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) != 1 && len(args) != 2 {
			return usageError(c, "name a notebook, or two runs")
		}
		w, err := workshop.Open(workshop.Setup{Book: *book})
		if err != nil {
			return err
		}
		d, err := w.Compare(c.Context(), args...)
		if err != nil {
			return err
		}
		return a.print(*format, page.Tables(d)[0], d)
	}
	return c
}
