package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// printFinding is the action of a command that prints one finding of the book.
func printFinding[T any](r reading, find func(*notebooks.Findings, context.Context) (T, error), pageOf func(T) *page.Document) action {
	return func(ctx context.Context, a *app, _ []string) error {
		s, err := newShop(*r.book, "", rules.Costs{})
		if err != nil {
			return err
		}
		f, err := r.findings(ctx, a, s)
		if err != nil {
			return err
		}
		defer f.Close()
		d, err := find(f, ctx)
		if err != nil {
			return err
		}
		return a.print(*r.format, d, pageOf(d))
	}
}

// findings opens the shop's book for its main analyses, as the flags say. The
// caller closes it.
func (r reading) findings(ctx context.Context, a *app, s *shop) (*notebooks.Findings, error) {
	a.show().at("reading the order book", 0, 0)
	return s.runner().Findings(ctx, notebooks.FindingOptions{
		AsOf: *r.asOf, MatureDays: *r.mature, Replicates: r.replicates(),
		Progress: func(done, total int) { a.progress.at("resampling orders", done, total) },
	})
}

// openReader opens a book for reading.
func openReader(ctx context.Context, book string, asOf cohort.Day) (*orderbook.Reader, error) {
	if err := isBook(book); err != nil {
		return nil, err
	}
	return orderbook.OpenReader(ctx, book, orderbook.Options{AsOf: asOf, Program: program()})
}

// isBook says what to do where there is no book.
func isBook(book string) error {
	if _, err := os.Stat(book); !errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return badInput(fmt.Errorf("there is no order book %s; make one with: lastroom load --book %s SHEETS…\nOr look at an invented one first: lastroom demo", book, book))
}

// replicates is how often orders are resampled behind intervals that have no
// formula.
const replicates = 500

func (r reading) replicates() int {
	if *r.quick {
		return 0
	}
	return replicates
}
