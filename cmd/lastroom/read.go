package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/cache"
)

// An open book is a reader of its snapshot with the orders that analyses read.
type openBook struct {
	*orderbook.Reader
	orders *cohort.Cohort
	cache  cache.Dir
}

// open reads the book as the flags say. The caller closes it.
func (r reading) open(ctx context.Context, a *app) (*openBook, error) {
	b, err := openReader(ctx, *r.book, *r.asOf)
	if err != nil {
		return nil, err
	}
	a.show().at("reading the order book", 0, 0)
	c, err := b.Cohort(ctx)
	if err != nil {
		b.Close()
		return nil, err
	}
	return &openBook{b, c, cache.In(orderbook.FilesOf(*r.book).Cache())}, nil
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

// cached computes a finding, or finds it as it was computed before from the
// same book, day, program and parameters.
func cached[T any](b *openBook, name string, parameters any, compute func() (T, error)) (T, error) {
	key := cache.Key(name, fmt.Sprintf("%+v", parameters), b.AsOf().String(), b.ContentHash(), cache.Program())
	return cache.Of(b.cache, key, compute)
}
