package main

import (
	"bytes"
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

var reviewCommand = command{
	name:    "review",
	summary: "the monthly review: one page to read, print and decide on",
	about: `Writes review.html (one file, nothing is fetched from outside; two printed sheets
and an annex), and beside it the same as text and JSON, each table as CSV, each
figure as SVG. A month is a shipping month. The review is the notebook monthly-review: each run of it is kept
beside the book, and compare says what changed between two.`,
	examples: []string{"lastroom review --book demo/shop.duckdb --month 2026-09 --out review"},
	flags: func(fs *flag.FlagSet) action {
		r := readingFlags(fs)
		costs := costFlags(fs)
		month := monthFlag(fs, "month", "`MONTH`: of shipping, as 2026-09 (default the newest that ended 30 days before the as-of day)")
		out := fs.String("out", "", "`FOLDER`: where to write (default: print it, write nothing)")
		file := fs.String("rules", "", "`FILE`: your own rules (default: as the rules command)")
		return func(ctx context.Context, a *app, _ []string) error {
			s, err := newShop(*r.book, *file, *costs)
			if err != nil {
				return err
			}
			d, err := a.review(ctx, r, *month, s)
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

// reviewNotebook is the notebook that makes the review.
const reviewNotebook = "monthly-review"

// review runs the review's notebook for a month (0: its own default) and keeps
// the run beside the book.
func (a *app) review(ctx context.Context, r reading, month cohort.Month, s *shop) (*page.Document, error) {
	n, err := s.notebook(reviewNotebook)
	if err != nil {
		return nil, err
	}
	o := notebooks.Options{AsOf: r.asOf.String(), Set: map[string]string{"mature": strconv.Itoa(*r.mature), "resampled": strconv.Itoa(r.replicates())}}
	if month != 0 {
		o.Set["month"] = month.String()
	}
	run, _, err := a.runNotebook(ctx, s, n, o)
	if err != nil {
		return nil, err
	}
	for _, f := range run.Failures() {
		return nil, badInput(f)
	}
	return run.Doc, nil
}

// writeReview writes a review in every form, each file whole or not at all.
func writeReview(dir string, d *page.Document) error {
	files := map[string]func(io.Writer) error{
		"review.html": func(w io.Writer) error { return page.HTML(w, d) },
		"review.txt":  func(w io.Writer) error { return page.WriteText(w, d, page.TextOptions{}) },
		"review.json": func(w io.Writer) error { return page.JSON(w, d) },
	}
	for _, t := range page.Tables(d) {
		files[filepath.Join("tables", t.ID+".csv")] = func(w io.Writer) error { return page.CSV(w, &t) }
	}
	for _, f := range page.Figures(d) {
		files[filepath.Join("figures", f.ID+".svg")] = func(w io.Writer) error { return page.SVG(w, &f) }
	}
	names := slices.Sorted(maps.Keys(files))
	errs := make([]error, len(names))
	stats.Parallel(0, len(names), func(i int) { errs[i] = writeWhole(filepath.Join(dir, names[i]), files[names[i]]) })
	return cmp.Or(errs...)
}

// writeWhole writes a file beside its place and moves it there.
func writeWhole(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	next := path + ".new"
	if err := os.WriteFile(next, b.Bytes(), 0o666); err != nil {
		return err
	}
	return os.Rename(next, path)
}
