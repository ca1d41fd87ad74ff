package main

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

var bookInfoCommand = command{
	name:     "book info",
	summary:  "what an order book holds, and where it came from",
	about:    "Counts, shop settings, what limits what can be learned, and the ledger of loads.",
	examples: []string{"lastroom book info --book demo/shop.duckdb"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		asOf := dayFlag(fs, "as-of", "`DAY`: count what was known at its end (default the newest in the book)")
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, _ []string) error {
			r, err := openReader(ctx, *book, *asOf)
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

func infoPage(book string, i *orderbook.Info) *page.Document {
	facts := [][2]string{{"as-of day", orNone(i.AsOf)}, {"newest day in the book", orNone(i.Newest)}}
	for _, c := range []struct {
		name string
		n    int
	}{
		{"orders", i.Orders}, {"shipped", i.Shipped}, {"followed up after shipping", i.Followed}, {"of them remade", i.Remade},
		{"forms", i.Forms}, {"forms with measurements", i.Keyed}, {"forms judged by the model", i.Judged}, {"measurements", i.Numbers},
		{"reports of fit", i.Outcomes}, {"call-backs", i.CallBacks}, {"measurers", i.Measurers}, {"repeated measurements", i.Repeats},
		{"superseded rows kept as history", i.Superseded},
	} {
		facts = append(facts, [2]string{c.name, page.Thousands(c.n)})
	}
	for _, x := range i.LeftOut {
		facts = append(facts, [2]string{"orders not followed: " + x.Reason, page.Thousands(x.Orders)})
	}
	for _, name := range slices.Sorted(maps.Keys(i.Settings)) {
		facts = append(facts, [2]string{"shop setting " + name, i.Settings[name]})
	}
	facts = append(facts, [2]string{"schema version", fmt.Sprint(i.Schema)}, [2]string{"content hash", i.Hash})
	d := review.FactsPage("Order book "+book, "", facts, loadsTable(i.Loads))
	if len(i.Notes) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "notes", Title: "To bear in mind", Blocks: []page.Block{page.Prose(i.Notes)}})
	}
	return d
}

func orNone(d cohort.Day) string {
	if !d.Known() {
		return "none"
	}
	return d.String()
}

// shownLoads is how many loads a page shows; the newest.
const shownLoads = 20

func loadsTable(loads []orderbook.LedgerLine) page.Table {
	t := page.Table{ID: "loads", Caption: "Loads, newest first", Total: len(loads), Columns: []page.Column{
		{Key: "load", Title: "Load", Numeric: true}, {Key: "at", Title: "At (UTC)"}, {Key: "program", Title: "By"},
		{Key: "files", Title: "Files"}, {Key: "taken", Title: "Rows taken", Numeric: true}, {Key: "kept_out", Title: "Kept out", Numeric: true},
	}}
	for _, l := range slices.Backward(loads) {
		if len(t.Rows) == shownLoads {
			break
		}
		var names []string
		var taken, out int64
		for _, f := range l.Files {
			names = append(names, f.File)
			taken, out = taken+f.Taken, out+f.KeptOut
		}
		t.Rows = append(t.Rows, []page.Cell{page.Count(int(l.Load)), page.Text(l.At.UTC().Format("2006-01-02 15:04")), page.Text(l.Program),
			page.Text(strings.Join(names, ", ")), page.Count(int(taken)), page.Count(int(out))})
	}
	return t
}
