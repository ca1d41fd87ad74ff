package workshop

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop/ruling"
	"lastroom/ingest/demo"
	"lastroom/ingest/durable"
	"lastroom/ingest/load"
	"lastroom/notebooks"
	"lastroom/reports/translation"
)

// Invented are the places of an invented workshop.
type Invented struct {
	Sheets, Book, Review string
	Rows                 int64 // of the sheets
}

// Invent makes an invented workshop in a folder: its sheets, its order book and
// the review of its last month, in a language; nil: English.
func Invent(ctx context.Context, dir string, o demo.Options, f Finding, l *translation.Language, clock notebooks.Clock, p Progress) (Invented, error) {
	made := Invented{Sheets: filepath.Join(dir, "sheets"), Book: filepath.Join(dir, "shop.duckdb"), Review: filepath.Join(dir, "review.html")}
	if err := claimFolder(dir); err != nil {
		return made, err
	}
	p("inventing a workshop", 0, 0)
	truth, err := demo.Write(made.Sheets, o)
	if err != nil {
		return made, err
	}
	w, err := Open(Setup{Book: made.Book, Clock: clock})
	if err != nil {
		return made, err
	}
	report, err := w.LoadSheets(ctx, load.Options{Paths: []string{made.Sheets}}, p)
	if err != nil {
		return made, err
	}
	for _, s := range report.Sheets {
		made.Rows += s.Read
	}
	if err := durable.Write(ruling.Beside(made.Book), 0o666, inventedRules(truth)); err != nil {
		return made, err
	}
	if w, err = Open(Setup{Book: made.Book, Clock: clock}); err != nil { // with the rules
		return made, err
	}
	d, err := w.Review(ctx, f, 0, p)
	if err != nil {
		return made, err
	}
	return made, WriteReview(dir, d, l)
}

// inventedMark is the file that says that all in a folder is invented.
const inventedMark = "invented.txt"

// claimFolder takes a folder for an invented workshop: a new or empty one, or
// one that was taken before. Anything else may be somebody's own sheets or book,
// and is left alone.
func claimFolder(dir string) error {
	there, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	mark := filepath.Join(dir, inventedMark)
	if _, err := os.Stat(mark); len(there) > 0 && err != nil {
		return BadInput(fmt.Errorf("the folder %s holds other files; an invented workshop wants a folder of its own, so that it never mixes with yours", dir))
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	return os.WriteFile(mark, []byte("Everything in this folder is invented: nobody in it is real. It may be written over.\n"), 0o666)
}

// inventedRules are the default rules with the day on which the invented shop
// switched some of them on.
func inventedRules(t demo.Truth) []byte {
	text := string(rules.DefaultYAML())
	for _, id := range t.RuleFaults {
		line := "- id: " + id + "\n"
		text = strings.Replace(text, line, line+"  from: "+t.RuleFrom.String()+"\n", 1)
	}
	return []byte(text)
}
