package judging

import (
	"context"
	"errors"
	"os"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
)

// Forms are forms in a book in memory, ready to be judged.
type Forms struct {
	*orderbook.Reader
	close func() error
}

// Close gives the memory back.
func (f *Forms) Close() error { return errors.Join(f.Reader.Close(), f.close()) }

// ReadSheets reads sheets into a book in memory. Settings that come with them
// go over the shop's: the desk judges by them from then on. Rows that can't be
// read are in the report, with an error or without.
func (d *Desk) ReadSheets(ctx context.Context, o load.Options, asOf cohort.Day, p workshop.Progress) (*Forms, *load.Report, error) {
	scratch, err := os.MkdirTemp("", "lastroom-check-")
	if err != nil {
		return nil, nil, err
	}
	o.Shop, o.Program, o.Need, o.Progress = d.settings, workshop.Program(), []string{"orders", "forms", "measurements"}, p.Share()
	db, report, err := load.InMemory(ctx, scratch, o)
	if err != nil {
		return nil, report, workshop.BadInput(errors.Join(err, os.RemoveAll(scratch)))
	}
	f := &Forms{close: func() error { return errors.Join(db.Close(), os.RemoveAll(scratch)) }}
	if f.Reader, err = orderbook.NewReader(ctx, db, orderbook.Options{AsOf: asOf, Program: workshop.Program()}); err != nil {
		return nil, report, errors.Join(err, f.close())
	}
	if d.settings, err = f.Settings(ctx); err == nil && o.Settings != "" {
		err = d.fit(ctx, nil) // the file may say which heel and ankle girths these are
	}
	if err != nil {
		return nil, report, errors.Join(err, f.Close())
	}
	return f, report, nil
}
