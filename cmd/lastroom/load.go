package main

import (
	"context"
	"errors"
	"flag"
	"time"

	"lastroom/ingest/load"
)

var loadCommand = command{
	name:    "load",
	args:    "SHEETS…",
	summary: "read order sheets (CSV, XLSX, Parquet) into an order book",
	about: `SHEETS are files, or folders of them: orders, forms, measurements, outcomes, and
if you have them callbacks, measurers, repeats, costs. All rows that can be read
are taken in one step; a row that can't is kept out, with the reason. The same
sheets again change nothing; a corrected row takes the older one's place.
Status 1 says that rows were kept out, 3 that nothing was loaded.`,
	examples: []string{
		"lastroom load --book mine.duckdb demo/sheets",
		"lastroom load --book mine.duckdb --rejects kept-out.csv demo/sheets",
	},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		o := load.Options{}
		fs.StringVar(&o.Map, "map", "", "`FILE`: says how your own spreadsheet is laid out")
		fs.StringVar(&o.Settings, "settings", "", "`FILE`: shop settings (leg heights, which heel and ankle girth)")
		fs.StringVar(&o.Rejects, "rejects", "", "`FILE`: write the rows kept out to it, to mend and load again")
		fs.BoolVar(&o.JudgeLater, "judge-later", false, "leave the numbers unjudged by the body model; lastroom audit does it")
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, args []string) error {
			if len(args) == 0 {
				return usageError("load", "say which sheets to load: files or folders")
			}
			o.Paths = args
			report, err := a.load(ctx, *book, o)
			if err == nil && len(report.KeptOut) > 0 {
				err = held
			}
			if err != nil && len(report.KeptOut) == 0 {
				return err
			}
			return errors.Join(a.print(*format, report, loadPage(report, o.Rejects)), err)
		}
	},
}

// load loads sheets into a book and shows how far it is.
func (a *app) load(ctx context.Context, book string, o load.Options) (*load.Report, error) {
	o.Program, o.Now = program(), time.Now().UTC()
	p := a.show()
	o.Progress = func(doing string, done float64) { p.at(doing, int(done*1000), 1000) }
	report, err := load.Sheets(ctx, book, o)
	if err == nil && report.Load > 0 {
		p.at("getting the orders ready", 1000, 1000)
		warm(ctx, book)
	}
	p.done()
	if err != nil {
		return report, badInput(err)
	}
	return report, nil
}

// program is what ledgers and pages call this program.
func program() string { return "lastroom " + version() }
