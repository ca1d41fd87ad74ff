package main

import (
	"context"
	"flag"
	"time"

	"lastroom/ingest/orderbook"
	"lastroom/ingest/upkeep"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

var bookForgetCommand = command{
	name:    "book forget",
	args:    "CUSTOMER",
	summary: "remove a person from an order book for good",
	about: `CUSTOMER is the customer_id of your sheets. Their orders, forms, measurements and
reports go from the tables, the history, the kept sheets, the snapshot and the
stored runs. There is no way back; backups and exports made before are yours to
remove.`,
	examples: []string{"lastroom book forget --book demo/shop.duckdb P00007"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, args []string) error {
			if len(args) != 1 {
				return usageError("book forget", "name one customer, by the customer_id of your sheets")
			}
			if err := isBook(*book); err != nil {
				return err
			}
			a.show().at("rewriting the order book", 0, 0)
			g, err := upkeep.Forget(ctx, *book, args[0], orderbook.WriterOptions{Program: program(), Now: time.Now().UTC()})
			if err != nil {
				return badInput(err)
			}
			return a.print(*format, g, forgottenPage(g))
		}
	},
}

func forgottenPage(g *upkeep.Forgotten) *page.Document {
	facts := [][2]string{}
	for _, f := range []struct {
		name string
		n    int
	}{
		{"orders", g.Orders}, {"forms", g.Forms}, {"rows removed, history included", int(g.Rows)},
		{"rows left out of kept sheets", int(g.SheetRows)}, {"kept sheets removed whole (a layout of your own)", g.SheetsRemoved}, {"stored runs removed", g.Runs},
	} {
		facts = append(facts, [2]string{f.name, page.Thousands(f.n)})
	}
	return review.FactsPage("Forgotten", "The person is gone from the book. Remove backups and exports that were made before, and the rows in your own sheets: loading them again would bring the person back.", facts)
}
