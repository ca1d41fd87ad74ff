package workshop

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lastroom/analysis/nearest"
	"lastroom/notebooks"
	"lastroom/notebooks/analyses"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

// Notebook finds a notebook by name or file.
func (w *Workshop) Notebook(name string) (*notebooks.Notebook, error) {
	text, err := w.bookshelf().Read(name)
	src := text.Source
	if errors.Is(err, notebooks.ErrNoNotebook) {
		src, err = os.ReadFile(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, BadInput(w.noNotebook(name))
		}
		name = strings.TrimSuffix(filepath.Base(name), ".md")
	}
	if err != nil {
		return nil, BadInput(err)
	}
	n, err := notebooks.Parse(name, src, analyses.All)
	if err != nil {
		return nil, BadInput(err)
	}
	return n, nil
}

// Notebooks are the names of those that come with the program and the shop's own.
func (w *Workshop) Notebooks() (names []string, err error) {
	entries, err := w.bookshelf().List(analyses.All)
	for _, e := range entries {
		names = append(names, e.Name)
	}
	return names, err
}

func (w *Workshop) noNotebook(name string) error {
	names, err := w.Notebooks()
	if err != nil {
		return err
	}
	return fmt.Errorf("there is no notebook and no file %q%s; there are: %s", name, nearest.Hint(name, names), strings.Join(names, ", "))
}

// Run runs a notebook and keeps the run beside the book.
func (w *Workshop) Run(ctx context.Context, n *notebooks.Notebook, o execution.Options, p Progress) (*execution.Run, archive.Record, error) {
	o.Progress = func(now execution.Progress) {
		if now.Cell != "" {
			p(fmt.Sprintf("working out part %d of %d", now.Done+1, now.Cells), now.Done, now.Cells)
		}
	}
	run, err := w.Runner().Run(ctx, n, o)
	if err != nil {
		return nil, archive.Record{}, BadInput(err)
	}
	rec, err := w.runs().Save(run, Version(), "command line")
	return run, rec, err
}

func (w *Workshop) runs() archive.Store {
	return archive.Store{Dir: w.files().Runs(), Clock: w.clock}
}

// Compare says what changed between two kept runs: the two newest of the
// notebook named, or two runs by their names.
func (w *Workshop) Compare(ctx context.Context, names ...string) (*page.Document, error) {
	one, two, err := w.runsNamed(names)
	if err != nil {
		return nil, err
	}
	if one.Notebook != two.Notebook {
		return nil, BadInput(errors.New("these are runs of different notebooks"))
	}
	src, err := w.At(ctx, two.Facts.AsOf)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	changes, err := src.Changes(ctx, one.Facts)
	if err != nil {
		return nil, err
	}
	return archive.Compare(one, two, changes), nil
}

// runsNamed are two kept runs, by their names or the newest whole ones of a notebook.
func (w *Workshop) runsNamed(names []string) (one, two archive.Record, err error) {
	store := w.runs()
	if len(names) == 2 {
		for i, into := range []*archive.Record{&one, &two} {
			if *into, err = store.Record(names[i]); err != nil {
				return one, two, BadInput(fmt.Errorf("%s: %w", names[i], err))
			}
		}
		return one, two, nil
	}
	all, err := store.List()
	if err != nil {
		return one, two, err
	}
	var of []archive.Record
	for _, r := range all {
		if r.Notebook == names[0] && !r.Failed() {
			of = append(of, r)
		}
	}
	if len(of) < 2 {
		return one, two, BadInput(fmt.Errorf("of %q %s kept, and two are needed to compare: run it again after the next load", names[0], page.Counted(len(of), "whole run is", "whole runs are")))
	}
	return of[1], of[0], nil
}
