package workshop

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/ingest/durable"
	"lastroom/notebooks/analyses"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

// A Finding says how a finding of the book is made.
type Finding struct {
	AsOf       cohort.Day // NoDay: the newest in the book
	MatureDays int        // 0: by how long reports took so far
	Replicates int        // of intervals that have no formula; 0: without
}

// Findings opens the book for its main analyses. Close their Source.
func (w *Workshop) Findings(ctx context.Context, f Finding, p Progress) (analyses.Findings, error) {
	p("reading the order book", 0, 0)
	s, err := w.Look(ctx, f.AsOf)
	if err != nil {
		return analyses.Findings{}, err
	}
	if err := s.facts.Ordered(); err != nil {
		return analyses.Findings{}, errors.Join(BadInput(err), s.Close())
	}
	return w.FindingsOf(s, f, p), nil
}

// FindingsOf is Findings of a state of the book that is open already.
func (w *Workshop) FindingsOf(s *State, f Finding, p Progress) analyses.Findings {
	return analyses.Findings{Input: w.Runner().Over(s), MatureDays: f.MatureDays, Replicates: f.Replicates,
		Progress: func(done, total int) { p("resampling orders", done, total) }}
}

// reviewNotebook is the notebook that makes the review.
const reviewNotebook = "monthly-review"

// Review runs the review's notebook for a month (0: its own default) and keeps
// the run beside the book.
func (w *Workshop) Review(ctx context.Context, f Finding, month cohort.Month, p Progress) (*page.Document, error) {
	n, err := w.Notebook(reviewNotebook)
	if err != nil {
		return nil, err
	}
	o := execution.Options{AsOf: f.AsOf.String(), Set: map[string]string{"mature": strconv.Itoa(f.MatureDays), "resampled": strconv.Itoa(f.Replicates)}}
	if month != 0 {
		o.Set["month"] = month.String()
	}
	run, _, err := w.Run(ctx, n, o, p)
	if err != nil {
		return nil, err
	}
	for _, failed := range run.Failures() {
		return nil, BadInput(failed)
	}
	return run.Doc, nil
}

// WriteReview writes a review in every form, each file whole or not at all; page, text and
// figures in a language, nil: English.
func WriteReview(dir string, d *page.Document, l *translation.Language) error {
	said := l.Document(d)
	files := map[string]func(io.Writer) error{
		"review.html": func(w io.Writer) error { return l.HTML(w, d) },
		"review.txt": func(w io.Writer) error {
			return page.WriteText(w, said, page.TextOptions{Width: page.UsualWidth, Say: l.Text})
		},
		"review.json": func(w io.Writer) error { return page.JSON(w, d) },
	}
	for _, t := range page.Tables(d) {
		files[filepath.Join("tables", t.ID+".csv")] = func(w io.Writer) error { return page.CSV(w, &t) }
	}
	for _, f := range page.Figures(said) {
		files[filepath.Join("figures", f.ID+".svg")] = func(w io.Writer) error { return page.SVG(w, &f) }
	}
	names := slices.Sorted(maps.Keys(files))
	errs := make([]error, len(names))
	stats.Parallel(0, len(names), func(i int) { errs[i] = WriteFile(filepath.Join(dir, names[i]), files[names[i]]) })
	return cmp.Or(errs...)
}

// WriteHTML writes a page as one file, in a language; nil: English.
func WriteHTML(path string, d *page.Document, l *translation.Language) error {
	return WriteFile(path, func(w io.Writer) error { return l.HTML(w, d) })
}

// WriteFile writes a file whole or not at all, with the folders that it needs.
func WriteFile(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	return durable.Write(path, 0o666, b.Bytes())
}
