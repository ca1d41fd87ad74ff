package main

import (
	"errors"
	"fmt"
	"io"
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

Print at 100 %, on the paper that was said, and measure the bar. The words come
in English and German (--language de); for another language, or your own
wording, print them (--print-language), change them, and give the file to
--language.`,
		Example: `lastroom sheet --shaft-height 14in --tucked --paper letter
lastroom sheet --book demo/shop.duckdb W00001 W00002
lastroom sheet --print-language`,
	}
	fs := c.Flags()
	book := fileFlag(c, "book", "", "the order book that has ORDERS, a `FILE`", "duckdb")
	shaft := fs.String("shaft-height", "", "the `LENGTH` of the shaft above the floor, as 14in or 35cm")
	tucked := fs.Bool("tucked", false, "trousers will be worn inside: a second set of boxes")
	formNo := fs.String("form", "", "the `NUMBER` of the form (default: a line to write it on)")
	unit := choiceFlag(c, "unit", "the `UNIT` to write in: in, cm or mm (default the language's)", []string{"in", "cm", "mm"})
	version := choiceFlag(c, "instructions", "the `LETTER` of the instructions: A or B (default A)", sheet.Versions)
	p := printingFlags(c, "measuring-sheet.html")
	c.RunE = func(c *cobra.Command, args []string) error {
		if *p.printLanguage {
			return a.printLanguage(sheet.Words)
		}
		l, err := a.languageOf(sheet.Words, *p.language)
		if err != nil {
			return err
		}
		lay := sheet.Layout{Paper: p.size(c, l), Scheme: form.DefaultScheme, Version: *version}
		lay.Unit = sheet.UnitOf(l)
		if c.Flags().Changed("unit") {
			lay.Unit, _ = form.ParseUnit(*unit)
		}
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
		return p.write(a, lay.Paper, func(w io.Writer) error { return sheet.Print(w, l, orders, lay) })
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
			return a.printLanguage(sheet.Words)
		}
		l, err := a.languageOf(sheet.Words, *p.language)
		if err != nil {
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
			if w, err = workshop.Open(workshop.Setup{Book: *book}); err != nil {
				return err
			}
		}
		lessons, err := w.Lessons(c.Context(), workshop.Finding{AsOf: cohort.NoDay, Replicates: replicates}, args, a.show())
		if err != nil {
			return err
		}
		paper := p.size(c, l)
		return p.write(a, paper, func(out io.Writer) error { return sheet.Teach(out, l, lessons, paper, form.DefaultScheme) })
	}
	return c
}

// A printing says how sheets are printed, and into which file.
type printing struct {
	paper, language, out *string
	printLanguage        *bool
}

func printingFlags(c *cobra.Command, out string) printing {
	return printing{
		paper:         choiceFlag(c, "paper", "the `PAPER` to print on: "+strings.Join(sheet.PaperNames(), ", ")+" (default the language's)", sheet.PaperNames()),
		language:      languageFlag(c, sheet.Words, "the sheets' words"),
		printLanguage: c.Flags().Bool("print-language", false, "print the sheets' words, to copy and change for --language, and stop"),
		out:           fileFlag(c, "out", out, "the `FILE` to write", "html"),
	}
}

// size is the paper that was asked for, or that of the language.
func (p printing) size(c *cobra.Command, l *words.Language) sheet.Paper {
	if !c.Flags().Changed("paper") {
		*p.paper = l.Say("paper")
	}
	i := slices.IndexFunc(sheet.Papers, func(one sheet.Paper) bool { return one.Name == *p.paper })
	return sheet.Papers[max(0, i)]
}

func (p printing) write(a *app, paper sheet.Paper, write func(io.Writer) error) error {
	err := workshop.WriteFile(*p.out, write)
	var code *sheet.CodeError
	if errors.As(err, &code) {
		return workshop.BadInput(err)
	}
	if err != nil {
		return err
	}
	a.progress.done()
	_, err = fmt.Fprintf(a.stdout, "%s\nPrint it at 100 %%, on %s, and measure the bar.\n", *p.out, paper.Name)
	return err
}
