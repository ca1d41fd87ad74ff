package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/bookpages"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/upkeep"
	"lastroom/reports/page"
)

func (a *app) bookInfoCommand() *cobra.Command {
	c := &cobra.Command{
		Use:     "info",
		Short:   "what an order book holds, and where it came from",
		Long:    "Counts, shop settings, what limits what can be learned, and the ledger of loads.",
		Example: "lastroom book info --book demo/shop.duckdb",
		Args:    noArguments,
	}
	book := bookFlag(c)
	asOf := asOfFlag(c.Flags(), "the `DAY`: what was known at its end is counted (default the newest in the book)")
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error { return a.printInfo(c.Context(), *book, *asOf, *format, "") }
	return c
}

// printInfo says what a book holds; did, where it is not "", what was done with it.
func (a *app) printInfo(ctx context.Context, book string, asOf cohort.Day, format, did string) error {
	r, err := workshop.OpenReader(ctx, book, asOf)
	if err != nil {
		return err
	}
	defer r.Close()
	info, err := r.Info(ctx)
	if err != nil {
		return err
	}
	d := bookpages.Info(book, info)
	if did != "" {
		d.Title, d.Lead = did, fmt.Sprintf("%s with numbers, %s judged by the model.", page.Counted(info.Keyed, "form", "forms"), page.Thousands(info.Judged))
	}
	return a.print(format, info, d)
}

func (a *app) bookVerifyCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "verify",
		Short: "read all of an order book and say whether it is sound",
		Long: `Reads every column of every table, compares the ledger with its copy, the
content with its checksum, and the kept sheets and runs with their hashes. It changes
nothing, but finishes to forget a person where that was cut short. A load that
was cut short after its book was in place leaves a sound book; what the next
command will finish is listed. Status 3 says that something is wrong.`,
		Example: "lastroom book verify --book demo/shop.duckdb",
		Args:    noArguments,
	}
	book := bookFlag(c)
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := workshop.NeedBook(*book); err != nil {
			return err
		}
		a.show()("reading all of the order book", 0, 0)
		v, err := workshop.Verify(c.Context(), *book)
		if err != nil {
			return err
		}
		if err := a.print(*format, v, bookpages.Verification(v)); err != nil || v.Sound() {
			return err
		}
		return workshop.BadInput(errors.New("the order book is not sound; restore a backup (lastroom book restore), or build it again from the kept sheets beside it"))
	}
	return c
}

func (a *app) bookBackupCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "backup [FOLDER]",
		Short: "copy all of an order book into a folder, with hashes",
		Long: `Everything that is in the book and beside it: tables with their history as
Parquet, kept sheets, notebooks, runs. FOLDER must be new or empty; without it,
the book's name with -backup. Keep it elsewhere, as carefully as the book: it
holds the same private data.`,
		Example: "lastroom book backup --book demo/shop.duckdb safe",
	}
	return a.folderCommand(c, "Order book backed up", "out", "-backup", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
		if err := workshop.NoteCopy(book, "backup", dir); err != nil {
			return nil, "", err
		}
		m, err := upkeep.Backup(ctx, book, dir, workshop.Program())
		return m, "written to " + dir, err
	})
}

func (a *app) bookRestoreCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "restore [FOLDER]",
		Short: "make an order book from a backup",
		Long: `Checks every file of the backup against its hash and puts the book in place only
when its content is that of the backup. A book that is there already is never
touched: restore under another name, or move the old one away first. One that
was cut short is finished by doing it again.`,
		Example: "lastroom book restore --book again.duckdb safe",
	}
	return a.folderCommand(c, "Order book restored", "from", "-backup", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
		m, err := upkeep.Restore(ctx, dir, book, workshop.Program())
		return m, "restored to " + book, err
	})
}

func (a *app) bookExportCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "export [FOLDER]",
		Short: "write an order book as Parquet files that any engine reads",
		Long: `One folder a table, parted by year. The way out to a shared or distributed
database; README.txt in FOLDER says what the columns mean. FOLDER must be new or
empty; without it, the book's name with -export.`,
		Example: "lastroom book export --book demo/shop.duckdb parquet",
	}
	return a.folderCommand(c, "Order book exported", "out", "-export", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
		if err := workshop.NoteCopy(book, "export", dir); err != nil {
			return nil, "", err
		}
		m, err := upkeep.Export(ctx, book, dir, workshop.Program())
		return m, "written to " + dir, err
	})
}

// folderCommand completes a command that works between a book and a folder.
// title says afterwards what was done. The folder is an argument, or the flag's, or named after the book.
func (a *app) folderCommand(c *cobra.Command, title, flag, suffix string, do func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error)) *cobra.Command {
	book := bookFlag(c)
	dir := folderFlag(c, flag, "the `FOLDER`, if not given as an argument")
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		switch {
		case len(args) > 1 || len(args) == 1 && *dir != "":
			return usageError(c, "%s takes one folder", nameOf(c))
		case len(args) == 1:
			*dir = args[0]
		case *dir == "":
			*dir = strings.TrimSuffix(*book, filepath.Ext(*book)) + suffix
		}
		if flag == "out" {
			if err := workshop.NeedBook(*book); err != nil {
				return err
			}
		}
		a.show()("working on "+*dir, 0, 0)
		m, done, err := do(c.Context(), *book, *dir)
		if err != nil {
			return workshop.BadInput(err)
		}
		return a.print(*format, m, bookpages.Manifest(m, title, done))
	}
	return c
}

func (a *app) bookForgetCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "forget CUSTOMER",
		Short: "remove a person from an order book for good",
		Long: `CUSTOMER is the customer_id of your sheets. Their orders, forms, measurements and
reports go from the tables, the history, the kept sheets, the snapshot and the
stored runs. There is no way back. What still holds the person is named: what you
wrote yourself in notebooks and decisions, and backups, exports and files of
rejects made before, which are yours to remove. Cut short at any moment it is
finished by the next command, whichever it is.`,
		Example: "lastroom book forget --book demo/shop.duckdb P00007",
	}
	book := bookFlag(c)
	format := a.printFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) != 1 {
			return usageError(c, "name one customer, by the customer_id of your sheets")
		}
		if err := workshop.NeedBook(*book); err != nil {
			return err
		}
		a.show()("rewriting the order book", 0, 0)
		g, err := upkeep.Forget(c.Context(), *book, args[0], bookfile.WriterOptions{Program: workshop.Program(), Now: time.Now().UTC()})
		if err != nil {
			return workshop.BadInput(err)
		}
		return a.print(*format, g, bookpages.Forgotten(g))
	}
	return c
}
