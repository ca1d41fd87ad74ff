package main

import (
	"context"
	"flag"
	"time"

	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
)

var auditCommand = command{
	name:    "audit",
	summary: "judge the numbers of all forms in the book again",
	about: `A load judges the numbers of the forms it brings: do they make a human foot and
leg? This does it again for all forms, as after a new version of the program, so
that faults seen in the numbers mean the same in old forms and new ones.`,
	examples: []string{"lastroom audit --book demo/shop.duckdb"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, _ []string) error {
			if err := isBook(*book); err != nil {
				return err
			}
			const doing = "judging the numbers of all forms"
			p := a.show()
			p.at(doing, 0, 0)
			opt := orderbook.WriterOptions{Program: program(), Now: time.Now().UTC()}
			if err := load.Audit(ctx, *book, opt, func(done, total int) { p.at(doing, done, total) }); err != nil {
				return badInput(err)
			}
			p.at("getting the orders ready", 0, 0)
			warm(ctx, *book)
			p.done()
			r, err := openReader(ctx, *book, 0)
			if err != nil {
				return err
			}
			defer r.Close()
			info, err := r.Info(ctx)
			if err != nil {
				return err
			}
			return a.print(*format, info, infoPage(*book, info))
		}
	},
}
