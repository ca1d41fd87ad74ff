package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/lengths"
	"lastroom/reports/sheet"
	"lastroom/reports/words"
)

func (a *app) sheetCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "sheet [ORDERS…]",
		Short: "a measuring sheet to print and fill in",
		Long: `Writes a page to print at true size: each foot with a bar to check the print, a
box for each number that this boot needs and none else, instructions, boxes to
tick, cautions. The form's number stands on it in figures and as a code that a
camera can read.
With a book the sheets of ORDERS are filled in as far as the book knows them;
without, say the height of the shaft. The instructions come in versions, each
with a letter that is printed on the form.

Print at 100 %, on the paper that was said, and measure the bar. For another
language, or your own wording, print the words (--print-language), change them,
and give the file to --language.`,
		Example: `lastroom sheet --shaft-height 14in --tucked --paper letter
lastroom sheet --book demo/shop.duckdb W00001 W00002
lastroom sheet --print-language`,
	}
	fs := c.Flags()
	book := fileFlag(c, "book", "", "the order book that has ORDERS, a `FILE`", "duckdb")
	shaft := fs.String("shaft-height", "", "the `LENGTH` of the shaft above the floor, as 14in or 35cm")
	tucked := fs.Bool("tucked", false, "trousers will be worn inside: a second set of boxes")
	formNo := fs.String("form", "", "the `NUMBER` of the form (default: a line to write it on)")
	unit := choiceFlag(c, "unit", "the `UNIT` to write in: in, cm or mm (default in)", []string{"in", "cm", "mm"})
	version := choiceFlag(c, "instructions", "the `LETTER` of the instructions: A or B (default A)", sheet.Versions)
	p := printingFlags(c, "measuring-sheet.html")
	c.RunE = func(c *cobra.Command, args []string) error {
		if *p.printLanguage {
			_, err := a.stdout.Write(sheet.EnglishYAML())
			return err
		}
		lay := sheet.Layout{Paper: p.size(), Scheme: form.DefaultScheme, Version: *version}
		lay.Unit, _ = form.ParseUnit(*unit)
		var orders []sheet.Order
		switch {
		case *book != "" && len(args) == 0:
			return usageError(c, "say for which orders of the book")
		case *book == "" && len(args) > 0:
			return usageError(c, "give the book that has these orders (--book)")
		case *book != "" && (*shaft != "" || *tucked || *formNo != ""):
			return usageError(c, "--shaft-height, --tucked and --form are for a sheet without a book; the book knows them of its orders")
		case *book == "" && *shaft == "":
			return usageError(c, "say the height of the shaft (--shaft-height 14in), or give a book and its orders")
		case *book != "":
			var err error
			if orders, lay.Scheme, err = workshop.SheetOrders(c.Context(), *book, args); err != nil {
				return err
			}
		default:
			mm, err := lengths.Parse(*shaft, form.NoUnit, lengths.Options{})
			if err != nil {
				return usageError(c, "--shaft-height %q: %s", *shaft, err)
			}
			orders = []sheet.Order{{Form: *formNo, ShaftMM: mm, Tucked: *tucked}}
		}
		return p.write(a, func(w io.Writer, l *words.Language) error { return sheet.Print(w, l, orders, lay) })
	}
	return c
}

func (a *app) teachCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "teach [FAULTS…]",
		Short: "teaching sheets: one page a fault, drawn right and wrong",
		Long: `Writes a page to print for each of FAULTS (default: all): what it looks like,
drawn right and wrong, why boots fail from it, how to do it right. With a book
each says what the shop's own orders show.`,
		Example: `lastroom teach
lastroom teach outline-broken tape-marks-missing --book demo/shop.duckdb --paper a3`,
	}
	book := fileFlag(c, "book", "", "the order book with the shop's own orders, a `FILE`", "duckdb")
	p := printingFlags(c, "teaching-sheets.html")
	c.RunE = func(c *cobra.Command, args []string) error {
		if *p.printLanguage {
			_, err := a.stdout.Write(sheet.EnglishYAML())
			return err
		}
		var all []string
		for _, f := range form.Faults {
			all = append(all, f.ID)
		}
		for _, id := range args {
			if !slices.Contains(all, id) {
				return usageError(c, "there is no fault %q%s", id, nearest.Hint(id, all))
			}
		}
		if len(args) == 0 {
			args = all
		}
		var w *workshop.Workshop
		if *book != "" {
			var err error
			if w, err = workshop.Open(workshop.Setup{Book: *book}); err != nil {
				return err
			}
		}
		lessons, err := w.Lessons(c.Context(), workshop.Finding{AsOf: cohort.NoDay, Replicates: replicates}, args, a.show())
		if err != nil {
			return err
		}
		return p.write(a, func(out io.Writer, l *words.Language) error {
			return sheet.Teach(out, l, lessons, p.size(), form.DefaultScheme)
		})
	}
	return c
}

// A printing says how sheets are printed, and into which file.
type printing struct {
	paper, language, out *string
	printLanguage        *bool
}

func printingFlags(c *cobra.Command, out string) printing {
	var papers []string
	for _, p := range sheet.Papers {
		papers = append(papers, p.Name)
	}
	return printing{
		paper:         choiceFlag(c, "paper", "the `PAPER` to print on: "+strings.Join(papers, ", ")+" (default a4)", papers),
		language:      fileFlag(c, "language", "", "a `FILE` with the sheets' words in another language, or your own", "yaml", "yml"),
		printLanguage: c.Flags().Bool("print-language", false, "print the sheets' words, to copy and change for --language, and stop"),
		out:           fileFlag(c, "out", out, "the `FILE` to write", "html"),
	}
}

func (p printing) size() sheet.Paper {
	i := slices.IndexFunc(sheet.Papers, func(one sheet.Paper) bool { return one.Name == *p.paper })
	return sheet.Papers[max(0, i)]
}

func (p printing) write(a *app, write func(io.Writer, *words.Language) error) error {
	l := sheet.English()
	if *p.language != "" {
		text, err := os.ReadFile(*p.language)
		if err != nil {
			return workshop.BadInput(fmt.Errorf("can't read the sheets' words: %w", err))
		}
		if l, err = sheet.ReadLanguage(text); err != nil {
			return workshop.BadInput(fmt.Errorf("%s: %w", *p.language, err))
		}
		if n := len(l.Missing); n > 0 {
			fmt.Fprintf(a.stderr, "%s: %d texts are left out and stay English: %s\n", *p.language, n, strings.Join(l.Missing, ", "))
		}
	}
	err := workshop.WriteFile(*p.out, func(w io.Writer) error { return write(w, l) })
	var code *sheet.CodeError
	if errors.As(err, &code) {
		return workshop.BadInput(err)
	}
	if err != nil {
		return err
	}
	a.progress.done()
	_, err = fmt.Fprintf(a.stdout, "%s\nPrint it at 100 %%, on %s, and measure the bar.\n", *p.out, *p.paper)
	return err
}
