package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/asking"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/ingest/load"
	"lastroom/ingest/sheets"
	"lastroom/reports/letter"
	"lastroom/reports/page"
	"lastroom/reports/review"
	"lastroom/reports/translation"
)

// A checking says how forms are checked, and what is written.
type checking struct {
	book, rules, layout, settings *string
	letters, language, explain    *string
	out, format                   *string
	printLanguage                 *bool
	falseAlarms                   *float64
	holdShare                     **float64
	costs                         *rules.Costs
	asOf                          *cohort.Day
}

func (a *app) checkCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "check FORMS…",
		Short: "the form desk: may leather be cut from these forms?",
		Long: `FORMS are sheets: orders, forms, measurements. Each form is looked at for the
numbers its boot needs, the faults noted on it, and whether its numbers make a
human foot and leg; the verdict is cut, ask, or measure again. With --book also
by the shop's settings, its own way of measuring, its rules in force, and the
customer's earlier orders.

What leather can't be cut from, what is asked for the wearer's sake, and rules in
force hold a form in any case. Other doubts hold it where a call-back can be
expected to save more than it costs, by the remake risk of the order and the costs
in the book; where these are not known each doubt holds it. With --hold-share at
most so many, those where a call-back avoids most.

Without FORMS one form is asked for line by line.
Status 1 says that a form is held, or that rows could not be read.

What is said, and the letter that asks for numbers again, comes in English and
German (--language de); for a letter in another language print its words
(--print-language), translate them, and give the file to --language.`,
		Example: `lastroom check demo/sheets --format csv
lastroom check --book demo/shop.duckdb demo/sheets --letter letters --format json
lastroom check --print-language`,
	}
	fs := c.Flags()
	o := checking{
		book:          fileFlag(c, "book", "", "the order book, a `FILE` (default: none, published values alone)", "duckdb"),
		rules:         fileFlag(c, "rules", "", "a `FILE` of your own rules; those in force hold forms (default: the book's)", "yaml", "yml"),
		layout:        fileFlag(c, "map", "", "a `FILE` that says how your own spreadsheet is laid out", "yaml", "yml"),
		settings:      fileFlag(c, "settings", "", "a `FILE` of shop settings, over those of the book", "yaml", "yml"),
		letters:       folderFlag(c, "letter", "the `FOLDER` to write the call-back letters of held forms into"),
		language:      languageFlag(c, letter.Words, "the letter's words"),
		printLanguage: fs.Bool("print-language", false, "print the letter's words, to copy and translate for --language, and stop"),
		explain:       fs.String("explain", "", "say of one `FORM` why; without FORMS, of a form in the book"),
		out:           folderFlag(c, "out", "with --explain: the `FOLDER` to write the page with its figures into"),
		holdShare:     amountFlag(fs, "hold-share", "the `SHARE` of first forms that the desk may hold, counted on those of the past (default as many as pay by the costs)"),
		costs:         costFlags(fs),
		falseAlarms:   shareFlag(fs, "false-alarms", "the `SHARE` of good forms that may raise an alarm (default 0.01)", body.DefaultFalseAlarms),
		asOf:          asOfFlag(fs, "the `DAY` of the desk; nothing that came later is seen (default the newest)"),
		format:        formatFlag(c),
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		switch {
		case *o.printLanguage:
			return a.printLanguage(letter.Words)
		case *o.holdShare != nil && *o.book == "":
			return usageError(c, "--hold-share needs --book: it is counted on the forms of the past")
		case *o.holdShare != nil && !(**o.holdShare > 0 && **o.holdShare < 1):
			return usageError(c, "--hold-share %v is not a share between 0 and 1, as 0.2", **o.holdShare)
		case *o.language != "" && *o.letters == "" && !slices.Contains(translation.Tags(), *o.language):
			return usageError(c, "--language %s: a file of a letter's words needs --letter, the folder that letters are written into", *o.language)
		case *o.out != "" && *o.explain == "":
			return usageError(c, "--out needs --explain, the form that the page is about")
		case len(args) == 0 && *o.explain != "" && *o.book == "":
			return usageError(c, "say which sheets hold form %s, or give the book that has it (--book)", *o.explain)
		case len(args) == 0 && *o.explain == "" && !a.asks():
			return usageError(c, "say which sheets hold the forms; without them the form is asked for, which takes a terminal")
		}
		return a.check(c.Context(), o, args)
	}
	return c
}

// asks reports whether questions can be answered: by a person at a terminal,
// or whatever else is put in the place of one.
func (a *app) asks() bool {
	f, isFile := a.stdin.(*os.File)
	return !isFile || isTerminal(f)
}

// check is the whole command.
func (a *app) check(ctx context.Context, o checking, args []string) error {
	words, err := a.languageOf(letter.Words, *o.language)
	if err != nil {
		return err
	}
	if slices.Contains(translation.Tags(), *o.language) {
		if a.language, err = translation.Of(*o.language); err != nil {
			return err
		}
	}
	setup := judging.Setup{Book: *o.book, Rules: *o.rules, Costs: *o.costs, AsOf: *o.asOf, FalseAlarms: *o.falseAlarms}
	if *o.holdShare != nil {
		setup.HoldShare = **o.holdShare
	}
	d, err := judging.Open(ctx, setup, a.show())
	if err != nil {
		return err
	}
	defer d.Close()
	list, rejected, err := a.judge(ctx, d, o, args)
	if err != nil {
		return err
	}
	for what, dir := range map[string]string{"letters": *o.letters, "page about a form": *o.out} {
		if dir == "" || *o.book == "" {
			continue
		}
		if err := workshop.NoteCopy(*o.book, what, dir); err != nil {
			return err
		}
	}
	if *o.letters != "" {
		if err := a.writeLetters(*o.letters, words, d, list); err != nil {
			return err
		}
	}
	doc := judging.CheckedOf(list)
	if err := a.answer(o, d, list, review.CheckPage(doc)); err != nil {
		return err
	}
	if doc.Held() || rejected > 0 {
		return workshop.ErrHeld
	}
	return nil
}

// judge gives the forms to speak of, judged: those of the sheets, the one typed
// in, or one that is in the book. rejected counts rows that could not be read.
func (a *app) judge(ctx context.Context, d *judging.Desk, o checking, args []string) (list []judging.Judged, rejected int, err error) {
	switch {
	case len(args) > 0:
		read := load.Options{Paths: args, Map: *o.layout, Settings: *o.settings, Now: time.Now().UTC()}
		forms, report, err := d.ReadSheets(ctx, read, *o.asOf, a.show())
		a.progress.done()
		if report != nil {
			rejected = len(report.KeptOut)
			for _, r := range report.KeptOut {
				fmt.Fprintf(a.stderr, "kept out: %s\n", rejectLine(r))
			}
		}
		if err != nil {
			return nil, rejected, err
		}
		defer forms.Close()
		a.show()("checking forms", 0, 0)
		if list, err = d.Judge(ctx, forms.Reader, *o.explain); err != nil {
			return nil, rejected, err
		}
	case *o.explain != "":
		a.show()("checking forms", 0, 0)
		if list, err = d.JudgeInBook(ctx, *o.explain); err != nil {
			return nil, 0, err
		}
	default:
		a.progress.done()
		typed, err := asking.Form(a.stdin, a.stderr, d.Scheme())
		if err != nil {
			return nil, 0, err
		}
		judged, err := d.JudgeTyped(ctx, typed)
		if err != nil {
			return nil, 0, err
		}
		list = []judging.Judged{judged}
	}
	switch {
	case len(list) == 0 && *o.explain != "":
		err = workshop.BadInput(fmt.Errorf("there is no form %q among them", *o.explain))
	case len(list) == 0:
		err = workshop.BadInput(errors.New("there is no form to check"))
	}
	return list, rejected, err
}

// answer prints what the desk says of the forms, or of one why.
func (a *app) answer(o checking, d *judging.Desk, list []judging.Judged, all *page.Document) error {
	doc := judging.CheckedOf(list)
	if *o.explain == "" {
		return a.print(*o.format, doc, all)
	}
	why := d.Explain(list[0])
	if *o.out != "" {
		file := filepath.Join(*o.out, "form-"+fileName(list[0].ID)+".html")
		if err := workshop.WriteHTML(file, why, a.language); err != nil {
			return err
		}
		a.progress.done()
		fmt.Fprintf(a.stderr, "the page is in %s\n", file)
	}
	return a.print(*o.format, doc, why)
}

// writeLetters writes the letters of the held forms into a folder, as text and
// as a page to print.
func (a *app) writeLetters(dir string, words *letter.Language, d *judging.Desk, list []judging.Judged) error {
	written := 0
	for _, f := range list {
		l, ok := d.Letter(words, f)
		if !ok {
			continue
		}
		name := filepath.Join(dir, "letter-"+fileName(f.ID))
		if err := workshop.WriteFile(name+".txt", l.Text); err != nil {
			return err
		}
		if err := workshop.WriteFile(name+".html", l.HTML); err != nil {
			return err
		}
		written++
	}
	a.progress.done()
	switch {
	case written == 0:
		fmt.Fprintln(a.stderr, "no letter to write: nothing has to be taken again")
	case written == 1:
		fmt.Fprintf(a.stderr, "1 letter is in %s, as text and to print\n", dir)
	default:
		fmt.Fprintf(a.stderr, "%d letters are in %s, as text and to print\n", written, dir)
	}
	return nil
}

// fileName makes a file name of an id: letters, digits, '-' and '_' stay,
// anything else is spelt out, so that no two ids share a file.
func fileName(id string) string {
	var b strings.Builder
	for _, r := range id {
		if r == '-' || r == '_' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "~%x~", r)
		}
	}
	return b.String()
}

// rejectLine says on one line what was kept out and why.
func rejectLine(r sheets.Reject) string {
	s := r.File
	if r.Line > 0 {
		s += fmt.Sprintf(", line %d", r.Line)
	}
	if r.Column != "" {
		s += ", column " + r.Column
	}
	if r.Text != "" {
		s += fmt.Sprintf(", %q", r.Text)
	}
	return s + ": " + r.Reason
}
