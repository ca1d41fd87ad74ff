package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"strconv"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/reports/letter"
	"lastroom/reports/review"
)

var checkCommand = command{
	name:    "check",
	args:    "FORMS…",
	summary: "the form desk: may leather be cut from these forms?",
	about: `FORMS are sheets: orders, forms, measurements. Each form is looked at for the
numbers its boot needs, the faults noted on it, and whether its numbers make a
human foot and leg; the verdict is cut, ask, or measure again. With --book also
by the shop's settings, its own way of measuring, its rules in force, and the
customer's earlier orders. Without FORMS one form is asked for line by line.
Status 1 says that a form is held, or that rows could not be read.`,
	examples: []string{
		"lastroom check demo/sheets --format csv",
		"lastroom check --book demo/shop.duckdb demo/sheets --letter letters --format json",
	},
	flags: func(fs *flag.FlagSet) action {
		o := checkFlags(fs)
		return func(ctx context.Context, a *app, args []string) error { return a.check(ctx, o, args) }
	},
}

// A checking says how forms are checked, and what is written.
type checking struct {
	book, rules, mapFile, settings *string
	letters, language, explain     *string
	out                            *string
	falseAlarms                    *float64
	asOf                           *cohort.Day
	format                         *string
}

func checkFlags(fs *flag.FlagSet) checking {
	return checking{
		book:        fs.String("book", "", "the order book, a `FILE` (default: none, published values alone)"),
		rules:       fs.String("rules", "", "`FILE`: your own rules; those in force hold forms (default: the book's)"),
		mapFile:     fs.String("map", "", "a `FILE` that says how your own spreadsheet is laid out"),
		settings:    fs.String("settings", "", "a `FILE` of shop settings, over those of the book"),
		letters:     fs.String("letter", "", "write the call-back letters of held forms into a `DIR`"),
		language:    fs.String("language", "", "a `FILE` with the letter's words in another language"),
		explain:     fs.String("explain", "", "say of one `FORM` why; without FORMS, of a form in the book"),
		out:         fs.String("out", "", "with --explain: write the page with its figures into a `DIR`"),
		falseAlarms: shareFlag(fs, "false-alarms", "`SHARE` of good forms that may raise an alarm (default 0.01)", 0.01),
		asOf:        dayFlag(fs, "as-of", "the `DAY` of the desk; nothing that came later is seen (default the newest)"),
		format:      formatFlag(fs),
	}
}

// shareFlag declares a flag that takes a share between 0 and 1.
func shareFlag(fs *flag.FlagSet, name, usage string, unlessGiven float64) *float64 {
	x := unlessGiven
	fs.Func(name, usage, func(s string) error {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v > 0 && v < 0.5) {
			return fmt.Errorf("%q is not a share between 0 and 0.5, as 0.01", s)
		}
		x = v
		return nil
	})
	return &x
}

// check is the whole command.
func (a *app) check(ctx context.Context, o checking, args []string) error {
	if *o.language != "" && *o.letters == "" {
		return usageError("check", "--language needs --letter, the folder that letters are written into")
	}
	if *o.out != "" && *o.explain == "" {
		return usageError("check", "--out needs --explain, the form that the page is about")
	}
	lang, err := a.languageOf(*o.language)
	if err != nil {
		return err
	}
	d, err := a.openDesk(ctx, o)
	if err != nil {
		return err
	}
	defer d.close()
	list, keptOut, err := a.checkedForms(ctx, d, o, args)
	if err != nil {
		return err
	}
	if *o.letters != "" {
		if err := a.writeLetters(*o.letters, lang, d, list); err != nil {
			return err
		}
	}
	if err := a.answer(o, d, list); err != nil {
		return err
	}
	if documentOf(list).Held() || keptOut > 0 {
		return held
	}
	return nil
}

// answer prints what the desk says.
func (a *app) answer(o checking, d *openDesk, list []checkedForm) error {
	doc := documentOf(list)
	if *o.explain == "" {
		return a.print(*o.format, doc, review.CheckPage(doc))
	}
	p := d.explain(list[0])
	if *o.out != "" {
		file, err := writePage(*o.out, "form-"+fileName(list[0].ID)+".html", p)
		if err != nil {
			return err
		}
		fmt.Fprintf(a.stderr, "the page is in %s\n", file)
	}
	return a.print(*o.format, doc, p)
}

// An openDesk is a checker with the book it reads.
type openDesk struct {
	*checker
	scratch string
	forms   *orderbook.Reader // of the forms that are checked
	undo    []func() error
}

func (d *openDesk) close() error {
	var errs []error
	for i := len(d.undo) - 1; i >= 0; i-- {
		errs = append(errs, d.undo[i]())
	}
	return errors.Join(errs...)
}

func (a *app) openDesk(ctx context.Context, o checking) (*openDesk, error) {
	d := &openDesk{}
	var book *orderbook.Reader
	if *o.book != "" {
		var err error
		if book, err = openReader(ctx, *o.book, *o.asOf); err != nil {
			return nil, err
		}
		d.undo = append(d.undo, book.Close)
		a.show().at("looking at the shop's own way of measuring", 0, 0)
	}
	list, _, err := readRules(*o.book, *o.rules)
	if err != nil {
		return nil, errors.Join(err, d.close())
	}
	if *o.book == "" && *o.rules == "" {
		list = nil // the rules that come with the program are in force nowhere
	}
	if d.checker, err = newChecker(ctx, book, list, *o.falseAlarms); err != nil {
		return nil, errors.Join(err, d.close())
	}
	if d.scratch, err = os.MkdirTemp("", "lastroom-check-"); err != nil {
		return nil, errors.Join(err, d.close())
	}
	d.undo = append(d.undo, func() error { return os.RemoveAll(d.scratch) })
	return d, nil
}

// checkedForms gives the forms to speak of: those of the sheets, the one typed
// in, or one that is in the book. keptOut counts rows that could not be read.
func (a *app) checkedForms(ctx context.Context, d *openDesk, o checking, args []string) (list []checkedForm, keptOut int, err error) {
	where, what := "", []any(nil)
	if *o.explain != "" {
		where, what = "form_id = ?", []any{*o.explain}
	}
	switch {
	case len(args) > 0:
		keptOut, err = a.loadForms(ctx, d, o, args)
	case *o.explain != "" && d.book != nil:
		d.forms = d.book
	case *o.explain != "":
		return nil, 0, usageError("check", "say which sheets hold form %s, or give the book that has it (--book)", *o.explain)
	default:
		err = a.typeIn(ctx, d, o)
	}
	if err != nil {
		return nil, keptOut, err
	}
	a.show().at("checking forms", 0, 0)
	list, err = d.checker.forms(ctx, d.forms, where, what...)
	if err == nil && len(list) == 0 {
		err = badInput(errors.New("there is no form to check"))
		if *o.explain != "" {
			err = badInput(fmt.Errorf("there is no form %q among them", *o.explain))
		}
	}
	return list, keptOut, err
}

// loadForms reads sheets into a book in memory and names the rows kept out.
func (a *app) loadForms(ctx context.Context, d *openDesk, o checking, paths []string) (int, error) {
	opt := load.Options{Paths: paths, Map: *o.mapFile, Settings: *o.settings, Shop: d.settings, Program: program(),
		Now: time.Now().UTC(), Need: []string{"orders", "forms", "measurements"}}
	p := a.show()
	opt.Progress = func(doing string, done float64) { p.at(doing, int(done*1000), 1000) }
	report, err := d.load(ctx, opt, *o.asOf)
	p.done()
	if report != nil {
		for _, r := range report.KeptOut {
			fmt.Fprintf(a.stderr, "kept out: %s\n", rejectLine(r))
		}
	}
	if err != nil {
		return 0, badInput(err)
	}
	return len(report.KeptOut), nil
}

// load reads sheets into a book in memory, which the desk then reads.
func (d *openDesk) load(ctx context.Context, opt load.Options, asOf cohort.Day) (*load.Report, error) {
	db, report, err := load.InMemory(ctx, d.scratch, opt)
	if err != nil {
		return report, err
	}
	d.undo = append(d.undo, db.Close)
	if d.forms, err = orderbook.NewReader(ctx, db, orderbook.Options{AsOf: asOf, Program: program()}); err != nil {
		return report, err
	}
	if d.settings, err = d.forms.Settings(ctx); err != nil || opt.Settings == "" {
		return report, err
	}
	return report, d.fit(ctx) // the file may say which heel and ankle girths these are
}

// languageOf reads the letter's words and says which stay English.
func (a *app) languageOf(file string) (*letter.Language, error) {
	if file == "" {
		return letter.English(), nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, badInput(fmt.Errorf("can't read the letter's words: %w", err))
	}
	l, err := letter.ReadLanguage(text)
	if err != nil {
		return nil, badInput(fmt.Errorf("%s: %w", file, err))
	}
	for _, key := range l.Missing {
		fmt.Fprintf(a.stderr, "%s: no text %q; it stays English\n", file, key)
	}
	return l, nil
}
