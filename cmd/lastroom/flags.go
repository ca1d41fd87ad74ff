package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/translation"
)

// asOfFlag declares the flag of the day as of which a book is looked at.
func asOfFlag(fs *pflag.FlagSet, usage string) *cohort.Day {
	d := cohort.NoDay
	fs.Func("as-of", usage, func(s string) (err error) {
		d, err = cohort.ParseDay(s)
		return err
	})
	return &d
}

// monthFlag declares a flag that takes a month; 0 where it isn't given.
func monthFlag(fs *pflag.FlagSet, name, usage string) *cohort.Month {
	var m cohort.Month
	fs.Func(name, usage, func(s string) (err error) {
		m, err = cohort.ParseMonth(s)
		return err
	})
	return &m
}

// wholeFlag declares a flag that takes a whole number not below least.
func wholeFlag(fs *pflag.FlagSet, name, usage string, least, unlessGiven int) *int {
	n := unlessGiven
	fs.Func(name, usage, func(s string) error {
		k, err := strconv.Atoi(s)
		if err != nil || k < least {
			return fmt.Errorf("%q is not a whole number from %d up", s, least)
		}
		n = k
		return nil
	})
	return &n
}

// unpackFlag declares the flag for workbooks that are large for their size.
func unpackFlag(c *cobra.Command) *int {
	return wholeFlag(c.Flags(), "unpack", "let a workbook unpack to so many `MIB` (default 24 and 30 times its size); with it, workbooks and Parquet may have any number of rows", 1, 0)
}

// shareFlag declares a flag that takes a share between 0 and 0.5.
func shareFlag(fs *pflag.FlagSet, name, usage string, unlessGiven float64) *float64 {
	x := unlessGiven
	fs.Func(name, usage, func(s string) error {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v > 0 && v < 0.5) {
			return fmt.Errorf("%q is not a share between 0 and 0.5, as 0.01", s)
		}
		x = v
		return nil
	})
	return &x
}

// fileFlag declares a flag that takes a file; shells offer those with one of
// the endings, all where there is none.
func fileFlag(c *cobra.Command, name, unlessGiven, usage string, endings ...string) *string {
	s := c.Flags().String(name, unlessGiven, usage)
	if err := c.MarkFlagFilename(name, endings...); err != nil {
		panic(err) // the flag was declared a line above
	}
	return s
}

// folderFlag declares a flag that takes a folder.
func folderFlag(c *cobra.Command, name, usage string) *string {
	s := c.Flags().String(name, "", usage)
	if err := c.MarkFlagDirname(name); err != nil {
		panic(err) // the flag was declared a line above
	}
	return s
}

func bookFlag(c *cobra.Command) *string {
	return fileFlag(c, "book", "shop.duckdb", "the order book, a `FILE`", "duckdb")
}

func rulesFlag(c *cobra.Command) *string {
	return fileFlag(c, "rules", "", "a `FILE` of your own rules (default rules.yaml beside the book, or one rule a fault)", "yaml", "yml")
}

// choiceFlag declares a flag that takes one of a few words, in any case; the
// first unless it is given.
func choiceFlag(c *cobra.Command, name, usage string, choices []string) *string {
	chosen := choices[0]
	c.Flags().Func(name, usage, func(s string) error {
		i := slices.IndexFunc(choices, func(one string) bool { return strings.EqualFold(one, s) })
		if i < 0 {
			return fmt.Errorf("%q is none of %s", s, strings.Join(choices, ", "))
		}
		chosen = choices[i]
		return nil
	})
	if err := c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(choices, cobra.ShellCompDirectiveNoFileComp)); err != nil {
		panic(err) // the flag was declared a line above
	}
	return &chosen
}

// printFlags declares the form, and the language, in which a command prints a page.
func (a *app) printFlags(c *cobra.Command) *string {
	a.sayFlag(c)
	return formatFlag(c)
}

// formatFlag declares the form in which findings are printed.
func formatFlag(c *cobra.Command) *string {
	return choiceFlag(c, "format", "`FORMAT` to print in: text, csv or json (default text)", []string{"text", "csv", "json"})
}

// sayFlag declares the flag for the language of what a command prints and writes for people.
func (a *app) sayFlag(c *cobra.Command) {
	c.Flags().Func("language", "the `LANGUAGE` of texts and pages, "+strings.Join(translation.Tags(), " or ")+"; CSV and JSON are the same in all (default en)", func(tag string) (err error) {
		a.language, err = translation.Of(tag)
		return err
	})
	if err := c.RegisterFlagCompletionFunc("language", cobra.FixedCompletions(translation.Tags(), cobra.ShellCompDirectiveNoFileComp)); err != nil {
		panic(err) // the flag was declared a line above
	}
}

// A reading says which state of a book is read, and how findings are made and
// printed.
type reading struct {
	book   *string
	asOf   *cohort.Day
	mature *int
	format *string
	quick  *bool
}

func (a *app) readingFlags(c *cobra.Command) reading {
	fs := c.Flags()
	return reading{
		book:   bookFlag(c),
		asOf:   asOfFlag(fs, "the `DAY` of the findings: what came later is not seen (default the newest day in the book)"),
		mature: wholeFlag(fs, "mature-days", "so many `DAYS` after shipping an order is mature (default: by how long reports took so far)", 1, 0),
		format: a.printFlags(c),
		quick:  fs.Bool("quick", false, "leave out the figures that take resampling"),
	}
}

// replicates is how often orders are resampled behind intervals that have no
// formula.
const replicates = 500

func (r reading) finding() workshop.Finding {
	f := workshop.Finding{AsOf: *r.asOf, MatureDays: *r.mature, Replicates: replicates}
	if *r.quick {
		f.Replicates = 0
	}
	return f
}

// costFlags declares what things cost, for where there is no costs sheet.
func costFlags(fs *pflag.FlagSet) *rules.Costs {
	c := &rules.Costs{}
	for _, f := range []struct {
		name, what string
		into       **float64
	}{
		{"cost-remake", "a remake", &c.Remake},
		{"cost-callback", "a call-back", &c.Callback},
		{"cost-adjustment", "an adjustment", &c.Adjustment},
		{"cost-day-of-delay", "a day of delay", &c.DayOfDelay},
	} {
		fs.Func(f.name, "the `AMOUNT` that "+f.what+" costs, where the costs sheet does not say", func(s string) error {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil || !(x >= 0 && x <= 1e12) {
				return fmt.Errorf("%q is not an amount, as 420 or 14.50", s)
			}
			*f.into = &x
			return nil
		})
	}
	return c
}
