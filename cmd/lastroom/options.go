package main

import (
	"flag"
	"fmt"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
)

// dayFlag declares a flag that takes a day.
func dayFlag(fs *flag.FlagSet, name, usage string) *cohort.Day {
	d := cohort.NoDay
	fs.Func(name, usage, func(s string) (err error) {
		d, err = cohort.ParseDay(s)
		return err
	})
	return &d
}

// monthFlag declares a flag that takes a month; 0 where it isn't given.
func monthFlag(fs *flag.FlagSet, name, usage string) *cohort.Month {
	var m cohort.Month
	fs.Func(name, usage, func(s string) (err error) {
		m, err = cohort.ParseMonth(s)
		return err
	})
	return &m
}

// chooseFlag declares a flag that takes one of some words, the first unless
// said otherwise.
func chooseFlag(fs *flag.FlagSet, name, usage string, words ...string) *string {
	chosen := words[0]
	fs.Func(name, usage, func(s string) error {
		for _, w := range words {
			if s == w {
				chosen = s
				return nil
			}
		}
		return fmt.Errorf("%q is none of %s", s, strings.Join(words, ", "))
	})
	return &chosen
}

// atLeast declares a flag that takes a whole number not below least.
func atLeast(fs *flag.FlagSet, name, usage string, least, unlessGiven int) *int {
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

func bookFlag(fs *flag.FlagSet) *string {
	return fs.String("book", "shop.duckdb", "`FILE`: the order book (default shop.duckdb)")
}

func formatFlag(fs *flag.FlagSet) *string {
	return chooseFlag(fs, "format", "`FORMAT`: text, csv or json (default text)", "text", "csv", "json")
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

func readingFlags(fs *flag.FlagSet) reading {
	return reading{
		book:   bookFlag(fs),
		asOf:   dayFlag(fs, "as-of", "`DAY`: what came later is not seen (default the newest day in the book)"),
		mature: atLeast(fs, "mature-days", "`DAYS`: from so many days after shipping an order is mature (default: by how long reports took so far)", 1, 0),
		format: formatFlag(fs),
		quick:  fs.Bool("quick", false, "leave out the figures that take resampling"),
	}
}

// costFlags declares what things cost, for where there is no costs sheet.
func costFlags(fs *flag.FlagSet) *rules.Costs {
	c := &rules.Costs{}
	for _, f := range []struct {
		name, usage string
		into        **float64
	}{
		{"cost-remake", "what a remake costs", &c.Remake},
		{"cost-callback", "what a call-back costs", &c.Callback},
		{"cost-adjustment", "what an adjustment costs", &c.Adjustment},
		{"cost-day-of-delay", "what a day of delay costs", &c.DayOfDelay},
	} {
		fs.Func(f.name, "`AMOUNT`: "+f.usage+", where the costs sheet does not say", func(s string) error {
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

// fillCosts completes the book's costs with the command line's.
func fillCosts(book, line rules.Costs) rules.Costs {
	for _, p := range []struct{ have, other **float64 }{
		{&book.Remake, &line.Remake}, {&book.Callback, &line.Callback},
		{&book.Adjustment, &line.Adjustment}, {&book.DayOfDelay, &line.DayOfDelay},
	} {
		if *p.have == nil {
			*p.have = *p.other
		}
	}
	return book
}
