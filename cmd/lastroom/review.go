package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

var reviewCommand = command{
	name:    "review",
	summary: "the monthly review: one page to read, print and decide on",
	about: `Writes review.html (one file, nothing is fetched from outside; two printed sheets
and an annex), and beside it the same as text, JSON and one CSV a table. A month is
a shipping month.`,
	examples: []string{"lastroom review --book demo/shop.duckdb --month 2026-09 --out review"},
	flags: func(fs *flag.FlagSet) action {
		r := readingFlags(fs)
		costs := costFlags(fs)
		month := monthFlag(fs, "month", "`MONTH`: of shipping, as 2026-09 (default the newest that ended 30 days before the as-of day)")
		out := fs.String("out", "", "`FOLDER`: where to write (default: print it, write nothing)")
		file := fs.String("rules", "", "`FILE`: your own rules (default: as the rules command)")
		return func(ctx context.Context, a *app, _ []string) error {
			list, _, err := readRules(*file)
			if err != nil {
				return err
			}
			d, err := a.review(ctx, r, *month, list, *costs)
			if err != nil {
				return err
			}
			if *out == "" {
				return a.print(*r.format, d, d)
			}
			if err := writeReview(*out, d); err != nil {
				return err
			}
			a.progress.done()
			_, err = fmt.Fprintf(a.stdout, "%s\n%s\n", d.Lead, filepath.Join(*out, "review.html"))
			return err
		}
	},
}

// youngest is how many days before the as-of day a month must have ended to be
// reviewed unasked: before that hardly any report is in.
const youngest = 30

// review computes the review of a month.
func (a *app) review(ctx context.Context, r reading, month cohort.Month, list []rules.Rule, costs rules.Costs) (*page.Document, error) {
	b, err := r.open(ctx, a)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	if !b.AsOf().Known() {
		return nil, badInput(fmt.Errorf("the order book %s is empty; load your sheets first: lastroom load --book %s SHEETS…", *r.book, *r.book))
	}
	if month == 0 {
		month = (b.AsOf() - youngest + 1).Month() - 1
	}
	in := review.Input{Cohort: b.orders, Month: month, BookHash: b.ContentHash(), Version: version(), Parameters: r.parameters(month)}
	if in.Faults, err = faultsOf(a, r, b); err != nil {
		return nil, err
	}
	if in.Rules, err = rulesOf(ctx, a, r, b, list, costs); err != nil {
		return nil, err
	}
	if in.Trend, err = trendOf(a, r, b); err != nil {
		return nil, err
	}
	a.show().at("laying the numbers over the published ranges", 0, 0)
	if in.Spreads, err = b.Spreads(ctx); err != nil {
		return nil, err
	}
	if in.RangeMonths, err = b.RangeMonths(ctx); err != nil {
		return nil, err
	}
	return review.Make(in).Document(), nil
}

// parameters are what a review depends on besides the book and the day.
func (r reading) parameters(month cohort.Month) [][2]string {
	p := [][2]string{{"month", month.String()}}
	if *r.mature > 0 {
		p = append(p, [2]string{"mature days", strconv.Itoa(*r.mature)})
	}
	return append(p, [2]string{"resampled", strconv.Itoa(r.replicates())})
}

// writeReview writes a review in every form, each file whole or not at all.
func writeReview(dir string, d *page.Document) error {
	if err := os.MkdirAll(filepath.Join(dir, "tables"), 0o777); err != nil {
		return err
	}
	files := map[string]func(io.Writer) error{
		"review.html": func(w io.Writer) error { return page.HTML(w, d) },
		"review.txt":  func(w io.Writer) error { return page.WriteText(w, d, page.TextOptions{}) },
		"review.json": func(w io.Writer) error { return page.JSON(w, d) },
	}
	for _, t := range page.Tables(d) {
		files[filepath.Join("tables", t.ID+".csv")] = func(w io.Writer) error { return page.CSV(w, &t) }
	}
	for name, write := range files {
		if err := writeWhole(filepath.Join(dir, name), write); err != nil {
			return err
		}
	}
	return nil
}

// writeWhole writes a file beside its place and moves it there.
func writeWhole(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	next := path + ".new"
	if err := os.WriteFile(next, b.Bytes(), 0o666); err != nil {
		return err
	}
	return os.Rename(next, path)
}
