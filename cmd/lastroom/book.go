package main

import (
	"context"
	"flag"
	"fmt"
	"path/filepath"
	"strings"

	"lastroom/ingest/upkeep"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

var bookVerifyCommand = command{
	name:    "book verify",
	summary: "read all of an order book and say whether it is sound",
	about: `Reads every column of every table, compares the ledger with its copy, the content
with its checksum, and the kept sheets with their hashes. It changes nothing.
A load that was cut short after its book was in place leaves a sound book; what the
next command will finish is listed. Status 3 says that something is wrong.`,
	examples: []string{"lastroom book verify --book demo/shop.duckdb"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, _ []string) error {
			if err := isBook(*book); err != nil {
				return err
			}
			a.show().at("reading all of the order book", 0, 0)
			v, err := upkeep.Verify(ctx, *book)
			if err != nil {
				return err
			}
			if err := a.print(*format, v, verifyPage(v)); err != nil || v.Sound() {
				return err
			}
			return &failure{status: statusBadInput, message: "the order book is not sound; restore a backup (lastroom book restore), or build it again from the kept sheets beside it"}
		}
	},
}

func verifyPage(v *upkeep.Verification) *page.Document {
	lead := fmt.Sprintf("Sound: every row of %d tables was read, %s and %s agree.", len(v.Tables), counted(v.Loads, "load", "loads"), counted(v.Sheets, "kept sheet", "kept sheets"))
	if !v.Sound() {
		lead = fmt.Sprintf("Not sound: %s found.", counted(len(v.Problems), "problem was", "problems were"))
	}
	t := page.Table{ID: "tables", Caption: "Rows read", Columns: []page.Column{{Key: "table", Title: "Table"}, {Key: "rows", Title: "Rows", Numeric: true}}}
	for _, c := range v.Tables {
		t.Rows = append(t.Rows, []page.Cell{page.Text(c.Name), page.Count(int(c.Rows))})
	}
	var tables []page.Table
	if len(t.Rows) > 0 {
		tables = append(tables, t)
	}
	d := review.FactsPage("Check of "+v.Book, lead, nil, tables...)
	if len(v.Problems) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "problems", Title: "What is wrong", Blocks: []page.Block{page.Prose(v.Problems)}})
	}
	if len(v.Unfinished) > 0 {
		d.Sections = append(d.Sections, page.Section{ID: "unfinished", Title: "What a load that was cut short left, and the next command finishes", Blocks: []page.Block{page.Prose(v.Unfinished)}})
	}
	return d
}

var bookBackupCommand = command{
	name:    "book backup",
	args:    "[FOLDER]",
	summary: "copy all of an order book into a folder, with hashes",
	about: `Everything that is in the book and beside it: tables with their history as Parquet,
kept sheets, notebooks, runs. FOLDER must be new or empty; without it, the book's
name with -backup. Keep it elsewhere, as carefully as the book: it holds the same
private data.`,
	examples: []string{"lastroom book backup --book demo/shop.duckdb safe"},
	flags: func(fs *flag.FlagSet) action {
		return folderAction(fs, "out", "-backup", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
			m, err := upkeep.Backup(ctx, book, dir, program())
			return m, "written to " + dir, err
		})
	},
}

var bookRestoreCommand = command{
	name:    "book restore",
	args:    "[FOLDER]",
	summary: "make an order book from a backup",
	about: `Checks every file of the backup against its hash and puts the book in place only
when its content is that of the backup. A book that is there already is never
touched: restore under another name, or move the old one away first.`,
	examples: []string{"lastroom book restore --book again.duckdb safe"},
	flags: func(fs *flag.FlagSet) action {
		return folderAction(fs, "from", "-backup", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
			m, err := upkeep.Restore(ctx, dir, book, program())
			return m, "restored to " + book, err
		})
	},
}

var bookExportCommand = command{
	name:    "book export",
	args:    "[FOLDER]",
	summary: "write an order book as Parquet files that any engine reads",
	about: `One folder a table, parted by year. The way out to a shared or distributed
database; README.txt in FOLDER says what the columns mean. FOLDER must be new or
empty; without it, the book's name with -export.`,
	examples: []string{"lastroom book export --book demo/shop.duckdb parquet"},
	flags: func(fs *flag.FlagSet) action {
		return folderAction(fs, "out", "-export", func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error) {
			m, err := upkeep.Export(ctx, book, dir, program())
			return m, "written to " + dir, err
		})
	},
}

// folderAction declares the flags of a command that works between a book and
// a folder. The folder is an argument, or the flag's, or named after the book.
func folderAction(fs *flag.FlagSet, flagName, suffix string, do func(ctx context.Context, book, dir string) (*upkeep.Manifest, string, error)) action {
	book := bookFlag(fs)
	dir := fs.String(flagName, "", "`FOLDER`: the folder, if not given as an argument")
	format := formatFlag(fs)
	return func(ctx context.Context, a *app, args []string) error {
		switch {
		case len(args) > 1 || len(args) == 1 && *dir != "":
			return usageError(fs.Name(), "%s takes one folder", fs.Name())
		case len(args) == 1:
			*dir = args[0]
		case *dir == "":
			*dir = strings.TrimSuffix(*book, filepath.Ext(*book)) + suffix
		}
		if flagName == "out" {
			if err := isBook(*book); err != nil {
				return err
			}
		}
		a.show().at("working on "+*dir, 0, 0)
		m, done, err := do(ctx, *book, *dir)
		if err != nil {
			return badInput(err)
		}
		return a.print(*format, m, manifestPage(m, done))
	}
}

func manifestPage(m *upkeep.Manifest, done string) *page.Document {
	t := page.Table{ID: "files", Caption: "Files", Columns: []page.Column{
		{Key: "path", Title: "File"}, {Key: "rows", Title: "Rows", Numeric: true}, {Key: "bytes", Title: "Bytes", Numeric: true}, {Key: "sha256", Title: "SHA-256"},
	}}
	for _, f := range m.Files {
		rows := page.Cell{}
		if m.Kind == "backup" && strings.HasSuffix(f.Path, ".parquet") {
			rows = page.Count(int(f.Rows))
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(f.Path), rows, page.Count(int(f.Bytes)), page.Text(f.SHA256[:min(12, len(f.SHA256))])})
	}
	lead := fmt.Sprintf("%s of %s, %s.", counted(len(m.Files), "file", "files"), counted(m.Loads, "load", "loads"), done)
	return review.FactsPage(strings.ToUpper(m.Kind[:1])+m.Kind[1:], lead, nil, t)
}

// counted is "1 load" or "3 loads".
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return page.Thousands(n) + " " + many
}
