package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lastroom/analysis/rules"
	"lastroom/ingest/demo"
	"lastroom/ingest/load"
)

var demoCommand = command{
	name:    "demo",
	summary: "an invented workshop: its sheets, its order book, its review",
	about: `Invents three years of orders (nobody in them is real), loads them and writes the
review of the last month. Good for trying every other command without risk. The
same seed gives the same workshop.`,
	examples: []string{"lastroom demo --dir demo"},
	flags: func(fs *flag.FlagSet) action {
		dir := fs.String("dir", "", "`FOLDER`: where to write (default a new one among the temporary files)")
		seed := fs.Uint64("seed", 1, "`NUMBER`: another number, another workshop (default 1)")
		orders := atLeast(fs, "orders", "`NUMBER`: orders in three years (default 1500)", 1, 1500)
		return func(ctx context.Context, a *app, _ []string) error {
			return a.demo(ctx, *dir, demo.Options{Seed: *seed, Orders: *orders})
		}
	},
}

func (a *app) demo(ctx context.Context, dir string, o demo.Options) (err error) {
	if dir == "" {
		if dir, err = os.MkdirTemp("", "lastroom-demo-"); err != nil {
			return err
		}
	}
	sheets, book := filepath.Join(dir, "sheets"), filepath.Join(dir, "shop.duckdb")
	a.show().at("inventing a workshop", 0, 0)
	truth, err := demo.Write(sheets, o)
	if err != nil {
		return err
	}
	report, err := a.load(ctx, book, load.Options{Paths: []string{sheets}})
	if err != nil {
		return err
	}
	if err := os.WriteFile(rulesBeside(book), demoRules(truth), 0o666); err != nil {
		return err
	}
	r := readingFlags(flag.NewFlagSet("", flag.ContinueOnError))
	r.book = &book
	s, err := newShop(book, "", rules.Costs{})
	if err != nil {
		return err
	}
	d, err := a.review(ctx, r, 0, s)
	if err != nil {
		return err
	}
	if err := writeReview(dir, d); err != nil {
		return err
	}
	a.progress.done()
	var rows int64
	for _, s := range report.Sheets {
		rows += s.Read
	}
	_, err = fmt.Fprintf(a.stdout, `An invented workshop, three years to %s. Nobody in it is real.

    %s    the order sheets, as a shop would keep them (%d rows)
    %s    the order book made from them
    %s    its monthly review: open it in a browser

Next:
    lastroom faults --book %s
    lastroom rules  --book %s
    lastroom load   --help      to read your own sheets
`, demo.AsOf, pad(sheets, dir), rows, pad(book, dir), pad(filepath.Join(dir, "review.html"), dir), book, book)
	return err
}

// demoRules are the default rules with the day on which the invented shop
// switched some of them on.
func demoRules(t demo.Truth) []byte {
	text := string(rules.DefaultYAML())
	for _, id := range t.RuleFaults {
		line := "- id: " + id + "\n"
		text = strings.Replace(text, line, line+"  from: "+t.RuleFrom.String()+"\n", 1)
	}
	return []byte(text)
}

// pad sets the paths of the demo's folder to one width.
func pad(path, dir string) string { return fmt.Sprintf("%-*s", len(dir)+len("/review.html"), path) }
