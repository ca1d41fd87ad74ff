package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
	"lastroom/reports/review"
)

var rulesCommand = command{
	name:    "rules",
	summary: "the scorecard of intake rules: what each would hold, catch and save",
	about: `A rule says which first forms to hold and call back over. For each: how many it
would hold, how many of the remakes it would have caught, and what that is worth
per 100 orders. The rules are a small file: print it (--print), edit it, and keep it
as rules.yaml in the folder beside the book (shop.files for shop.duckdb).`,
	examples: []string{
		"lastroom rules --book demo/shop.duckdb",
		"lastroom rules --print",
	},
	flags: func(fs *flag.FlagSet) action {
		r := readingFlags(fs)
		costs := costFlags(fs)
		file := fs.String("rules", "", "`FILE`: your own rules (default rules.yaml beside the book, or one rule a fault)")
		show := fs.Bool("print", false, "print the rules file that is used, to copy and edit, and stop")
		return func(ctx context.Context, a *app, _ []string) error {
			if *show {
				_, text, err := readRules(*r.book, *file)
				if err == nil {
					_, err = a.stdout.Write(text)
				}
				return err
			}
			s, err := newShop(*r.book, *file, *costs)
			if err != nil {
				return err
			}
			f, err := r.findings(ctx, a, s)
			if err != nil {
				return err
			}
			defer f.Close()
			d, err := f.Rules(ctx)
			if err != nil {
				return badInput(err) // a condition that is none
			}
			return a.print(*r.format, d, review.RulesPage(d))
		}
	},
}

// readRules reads a rules file; without one, the shop's own that stands beside
// the book, or else the embedded one. It gives the text too.
func readRules(book, file string) ([]rules.Rule, []byte, error) {
	own := file == ""
	if own {
		file = rulesBeside(book)
	}
	text, err := os.ReadFile(file)
	if own && errors.Is(err, fs.ErrNotExist) {
		return rules.Default(), rules.DefaultYAML(), nil
	}
	if err != nil {
		return nil, nil, badInput(fmt.Errorf("can't read the rules: %w", err))
	}
	list, err := rules.Parse(text)
	if err != nil {
		return nil, nil, badInput(fmt.Errorf("%s: %w", file, err))
	}
	return list, text, nil
}

// rulesBeside is where a shop keeps its own rules.
func rulesBeside(book string) string {
	return filepath.Join(orderbook.FilesOf(book).Dir, "rules.yaml")
}

// costText spells out costs: a pointer's address says nothing of its value.
func costText(c rules.Costs) string {
	s := ""
	for _, p := range []*float64{c.Remake, c.Adjustment, c.Callback, c.DayOfDelay} {
		if p == nil {
			s += "- "
		} else {
			s += fmt.Sprint(*p, " ")
		}
	}
	return s
}
