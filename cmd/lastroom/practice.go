package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/exercise"
	"lastroom/reports/sheet"
)

func (a *app) practiceCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "practice",
		Short: "forms to practise on, with planted faults, and the marking of answers",
		Long: `Prints forms made from human proportions, some with faults planted: say of each
cut, ask or measure again, and point at what is wrong. A seed, with the same
number of forms, gives a whole class the same forms. They are written in the
language's unit, or in --unit: the same forms with the same faults, so that
answers to one are answers to the other. --key prints what is wrong, why and
what to ask; --answers marks a CSV file with the columns form, verdict, faults
(ids or their numbers on the worksheet, with spaces between) and, for a class,
learner. Nobody's body: the forms are invented.

--worksheet writes a file to print, with the tracings drawn; with --key the
answer key of the same forms. With a book --learner gives a set with more of what
this learner misses, and --keep keeps marked answers beside the book, where the
service's pages show the course of each learner.`,
		Example: `lastroom practice --seed 7 --forms 20
lastroom practice --seed 7 --forms 20 --worksheet class.html --paper letter
lastroom practice --seed 7 --forms 20 --key`,
		Args: noArguments,
	}
	fs := c.Flags()
	seed := wholeFlag(fs, "seed", "the `NUMBER` that the forms follow from (default 1, or the learner's next)", 0, 1)
	forms := wholeFlag(fs, "forms", "how many `FORMS` (default 20)", 1, 20)
	key := fs.Bool("key", false, "print the answer key")
	answers := fileFlag(c, "answers", "", "a `FILE` of answers to mark", "csv")
	sheetFile := fileFlag(c, "worksheet", "", "write the forms, or with --key their answer key, to a `FILE` to print", "html")
	paper := choiceFlag(c, "paper", "the `PAPER` to print on: "+strings.Join(sheet.PaperNames(), ", ")+" (default a4)", sheet.PaperNames())
	unit := choiceFlag(c, "unit", "the `UNIT` that the forms are written in: in, cm or mm (default the language's; in CSV and JSON, in)", []string{"in", "cm", "mm"})
	book := fileFlag(c, "book", "", "the order book beside which learners are kept, a `FILE`", "duckdb")
	learner := fs.String("learner", "", "the `NAME` of who practises: more of what this one misses")
	keep := fs.Bool("keep", false, "keep the marked answers beside the book")
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		switch {
		case *forms > practice.MostForms:
			return usageError(c, "--forms: at most %d", practice.MostForms)
		case *key && *answers != "":
			return usageError(c, "--key or --answers, not both")
		case *sheetFile != "" && *answers != "":
			return usageError(c, "--worksheet or --answers, not both")
		case *keep && (*answers == "" || *book == ""):
			return usageError(c, "--keep keeps --answers beside a --book: give both")
		case *learner != "" && *book == "":
			return usageError(c, "give the book beside which %s is kept (--book)", *learner)
		}
		plan := practice.Plan{Seed: uint64(*seed), Forms: *forms}
		var kept *workshop.Learners
		if *book != "" {
			var err error
			if kept, err = workshop.OpenLearners(*book); err != nil {
				return err
			}
			defer kept.Close()
		}
		if *learner != "" {
			own, err := kept.PlanOf(*learner, *forms, *answers != "")
			if err != nil {
				return err
			}
			if c.Flags().Changed("seed") {
				own.Seed = plan.Seed
			}
			plan = own
		}
		switch {
		case c.Flags().Changed("unit"):
			plan.Unit, _ = form.ParseUnit(*unit)
		case *sheetFile == "" && *format != "text": // the same in all languages
			plan.Unit = form.Inch
		default:
			plan.Unit = a.unit()
		}
		s, err := plan.Set()
		if err != nil {
			return err
		}
		switch {
		case *sheetFile != "":
			return a.writeWorksheet(s, *key, *sheetFile, sheet.Papers[slices.Index(sheet.PaperNames(), *paper)])
		case *key:
			rows := s.Key()
			return a.print(*format, rows, exercise.KeyPage(rows))
		case *answers == "":
			return a.print(*format, s, exercise.FormsPage(s))
		}
		said, err := answersIn(*answers, *learner)
		var class practice.Class
		if err == nil {
			class, err = s.MarkClass(said)
		}
		if err == nil && *keep {
			err = kept.Keep(plan, s, said)
		}
		if err != nil {
			return workshop.BadInput(fmt.Errorf("%s: %w", *answers, err))
		}
		return a.print(*format, class, exercise.MarkedPage(class))
	}
	return c
}

func (a *app) writeWorksheet(s *practice.Set, key bool, file string, paper sheet.Paper) error {
	write := exercise.Worksheet
	if key {
		write = exercise.Key
	}
	if err := workshop.WriteFile(file, func(w io.Writer) error { return write(w, s, paper, a.language) }); err != nil {
		return err
	}
	_, err := fmt.Fprintf(a.stdout, "%s\nPrint it on %s.\n", file, paper.Name)
	return err
}

// answersIn reads a file of answers; learner is whose they are where it does not say.
func answersIn(file, learner string) ([]practice.Said, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return practice.ReadAnswers(f, learner)
}
