package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

var runCommand = command{
	name:    "run",
	args:    "NOTEBOOK",
	summary: "run a notebook: one that comes with the program, the shop's own, or a file",
	about: `Runs it whole, top to bottom, on one snapshot of the book. NOTEBOOK is a name
(monthly-review, intake-rules, one-fault, one-measurer, measurements, or one in
the folder notebooks beside the book) or a file. The run is kept beside the book;
the same notebook, book and day give the same bytes. With --out the page, every
table as CSV, the open notebook JSON and, where Chromium is found, a PDF are written.
Status 1 says that a sentence of the notebook is not supported by the data, 3 that
a cell failed.`,
	examples: []string{
		"lastroom run monthly-review --book demo/shop.duckdb --set month=2026-09 --set resampled=0 --out september",
		"lastroom run measurements --book demo/shop.duckdb",
	},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		asOf := dayFlag(fs, "as-of", "`DAY`: of the extract; nothing that came later is seen (default the newest day in the book)")
		set := map[string]string{}
		fs.Func("set", "`NAME=VALUE`: a parameter of the notebook; may stand several times", func(s string) error {
			name, value, ok := strings.Cut(s, "=")
			if !ok || name == "" {
				return fmt.Errorf("%q is not of the form name=value", s)
			}
			set[name] = value
			return nil
		})
		out := fs.String("out", "", "`FOLDER`: where to write (default: print it as text)")
		rulesFile := fs.String("rules", "", "`FILE`: your own rules (default: as the rules command)")
		costs := costFlags(fs)
		format := formatFlag(fs)
		fresh := fs.Bool("fresh", false, "compute everything anew, read nothing kept")
		return func(ctx context.Context, a *app, args []string) error {
			if len(args) != 1 {
				return usageError("run", "say which notebook to run: one name or file")
			}
			s, err := newShop(*book, *rulesFile, *costs)
			if err != nil {
				return err
			}
			n, err := s.notebook(args[0])
			if err != nil {
				return err
			}
			run, rec, err := a.runNotebook(ctx, s, n, notebooks.Options{Set: set, AsOf: dayText(*asOf), Fresh: *fresh})
			if err != nil {
				return err
			}
			if *out == "" {
				err = a.print(*format, rec, run.Doc)
			} else {
				err = a.writeRun(ctx, *out, run)
			}
			return errors.Join(err, a.tellRun(run, rec))
		}
	},
}

func dayText(d cohort.Day) string { return d.String() }

// notebook finds a notebook by name or file.
func (s *shop) notebook(name string) (*notebooks.Notebook, error) {
	text, err := s.shelf().Read(name)
	src := text.Source
	if errors.Is(err, notebooks.ErrNoNotebook) {
		src, err = os.ReadFile(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, badInput(s.noNotebook(name))
		}
		name = strings.TrimSuffix(filepath.Base(name), ".md")
	}
	if err != nil {
		return nil, badInput(err)
	}
	n, err := notebooks.Parse(name, src, notebooks.Analyses)
	if err != nil {
		return nil, badInput(err)
	}
	return n, nil
}

func (s *shop) noNotebook(name string) error {
	entries, err := s.shelf().List(notebooks.Analyses)
	if err != nil {
		return err
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name)
	}
	return fmt.Errorf("there is no notebook and no file %q%s; there are: %s", name, didYouMean(name, names, "%s"), strings.Join(names, ", "))
}

// runNotebook runs a notebook with progress and keeps the run beside the book.
func (a *app) runNotebook(ctx context.Context, s *shop, n *notebooks.Notebook, o notebooks.Options) (*notebooks.Run, notebooks.Record, error) {
	p := a.show()
	o.Progress = func(now notebooks.Progress) {
		if now.Cell != "" {
			p.at(fmt.Sprintf("cell %d of %d, %s", now.Done+1, now.Cells, now.Cell), now.Done, now.Cells)
		}
	}
	run, err := s.runner().Run(ctx, n, o)
	p.done()
	if err != nil {
		return nil, notebooks.Record{}, badInput(err)
	}
	store := notebooks.Store{Dir: orderbook.FilesOf(s.book).Runs(), Clock: time.Now}
	rec, err := store.Save(run, version(), "command line")
	return run, rec, err
}

// tellRun says on standard error what a run came to, and gives its status.
func (a *app) tellRun(run *notebooks.Run, rec notebooks.Record) error {
	for _, c := range run.Cells {
		if !c.Cached.IsZero() {
			fmt.Fprintf(a.stderr, "cell %s: as computed %s\n", c.Cell.Name, c.Cached.Format("2006-01-02 15:04"))
		}
	}
	if n := len(rec.Repeated); n > 0 {
		fmt.Fprintf(a.stderr, "run %s: made again, the same page as on %s\n", rec.ID, rec.Finished.Format("2006-01-02"))
	} else {
		fmt.Fprintf(a.stderr, "run %s: kept\n", rec.ID)
	}
	if fails := run.Failures(); len(fails) > 0 {
		words := make([]string, len(fails))
		for i, f := range fails {
			words[i] = f.Error()
		}
		return badInput(errors.New(strings.Join(words, "\n")))
	}
	if lost := run.Unsupported(); len(lost) > 0 {
		for _, c := range lost {
			fmt.Fprintf(a.stderr, "%s.md:%d: “%s”: %s\n", run.Notebook.Name, c.Line, c.Text, c.Verdict)
		}
		return held
	}
	return nil
}

// writeRun writes a run's files, and the PDF where Chromium is found.
func (a *app) writeRun(ctx context.Context, dir string, run *notebooks.Run) error {
	if _, err := run.WriteDir(dir, version()); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s\n%s\n", run.Doc.Lead, filepath.Join(dir, "page.html"))
	browser := findBrowser()
	if browser == "" {
		fmt.Fprintln(a.stderr, "no PDF was written: Chromium is not found here")
		return nil
	}
	return printPDF(ctx, browser, filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf"))
}

func findBrowser() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// printPDF prints a page with the browser, in a profile of its own that is
// thrown away.
func printPDF(ctx context.Context, browser, html, pdf string) error {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	profile, err := os.MkdirTemp("", "lastroom-print-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(profile)
	from, err := filepath.Abs(html)
	if err != nil {
		return err
	}
	args := []string{"--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--user-data-dir=" + profile,
		"--no-pdf-header-footer", "--print-to-pdf=" + pdf, "file://" + from}
	if os.Geteuid() == 0 { // Chromium's sandbox refuses the root user
		args = append([]string{"--no-sandbox"}, args...)
	}
	if out, err := exec.CommandContext(ctx, browser, args...).CombinedOutput(); err != nil {
		return fmt.Errorf("the PDF could not be printed: %w\n%s", err, lastLine(string(out)))
	}
	return nil
}

func lastLine(s string) string {
	s = strings.TrimSpace(s)
	return s[strings.LastIndexByte(s, '\n')+1:]
}

var compareCommand = command{
	name:    "compare",
	args:    "NOTEBOOK | BEFORE AFTER",
	summary: "say what changed between two runs of a notebook, and why",
	about: `With the name of a notebook: its two newest kept runs. BEFORE and AFTER are the
names of kept runs (the folders in runs beside the book). Says what went into the
book in between, which rules changed, which sentences and numbers are others now.`,
	examples: []string{"lastroom compare --book demo/shop.duckdb monthly-review"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		format := formatFlag(fs)
		return func(ctx context.Context, a *app, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return usageError("compare", "name a notebook, or two runs")
			}
			one, two, err := runsNamed(*book, args)
			if err != nil {
				return err
			}
			d, err := compareRuns(ctx, *book, one, two)
			if err != nil {
				return err
			}
			return a.print(*format, page.Tables(d)[0], d)
		}
	},
}

// runsNamed are two kept runs, by their names or the newest of a notebook.
func runsNamed(book string, args []string) (one, two notebooks.Record, err error) {
	store := notebooks.Store{Dir: orderbook.FilesOf(book).Runs()}
	if len(args) == 2 {
		for i, into := range []*notebooks.Record{&one, &two} {
			if *into, err = store.Record(args[i]); err != nil {
				return one, two, badInput(fmt.Errorf("%s: %w", args[i], err))
			}
		}
		return one, two, nil
	}
	all, err := store.List()
	if err != nil {
		return one, two, err
	}
	var of []notebooks.Record
	for _, r := range all {
		if r.Notebook == args[0] {
			of = append(of, r)
		}
	}
	if len(of) < 2 {
		return one, two, badInput(fmt.Errorf("there are %d kept runs of %q; two are needed", len(of), args[0]))
	}
	return of[1], of[0], nil
}

func compareRuns(ctx context.Context, book string, one, two notebooks.Record) (*page.Document, error) {
	if one.Notebook != two.Notebook {
		return nil, badInput(errors.New("these are runs of different notebooks"))
	}
	s := &shop{book: book}
	src, err := s.At(ctx, two.Facts.AsOf)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	ch, err := src.Changes(ctx, one.Facts)
	if err != nil {
		return nil, err
	}
	return notebooks.Compare(one, two, ch), nil
}
