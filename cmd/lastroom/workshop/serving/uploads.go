package serving

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/analysis/sketch"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/bookpages"
	"lastroom/ingest/demo"
	"lastroom/ingest/layout/propose"
	"lastroom/ingest/load"
	"lastroom/notebooks/service"
)

// Sketch looks at the spreadsheets of a folder with what was chosen about them.
func (p *Pages) Sketch(ctx context.Context, dir string, answers sketch.Answers) (*sketch.Sketch, error) {
	scratch, err := os.MkdirTemp("", "lastroom-layout-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(scratch)
	// Each file was chosen by a person: one of another kind is named for what it is.
	var paths []string
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			paths = append(paths, path)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	files, notes, err := propose.Gather(ctx, paths, scratch)
	if err != nil {
		return nil, workshop.BadInput(err)
	}
	found, err := propose.ForPage(ctx, files, answers, scratch)
	if err != nil {
		return nil, workshop.BadInput(err)
	}
	found.Sketch.Notes = slices.Concat(notes, found.Sketch.Notes, found.Tidy)
	return found.Sketch, nil
}

// Load loads the sheets of a folder, as the command does. A mapping file among
// them is used.
func (p *Pages) Load(ctx context.Context, in service.Incoming, say service.Say) (*service.LoadResult, error) {
	beside := filepath.Clean(in.Dir)
	rejects, mapping := beside+"-rejects.csv", beside+"-mapping.yaml"
	defer os.Remove(rejects)
	defer os.Remove(mapping)
	o := load.Options{Rejects: rejects, DryRun: in.Try}
	if in.Mapping != "" {
		if err := os.WriteFile(mapping, []byte(in.Mapping), 0o600); err != nil {
			return nil, err
		}
		o.Map, o.Paths = mapping, []string{in.Dir}
	} else {
		entries, err := os.ReadDir(in.Dir)
		if err != nil {
			return nil, err
		}
		// Each file was chosen by a person, so its name need not be a sheet's.
		for _, e := range entries {
			switch path := filepath.Join(in.Dir, e.Name()); strings.ToLower(filepath.Ext(path)) {
			case ".yaml", ".yml":
				o.Map = path
			default:
				o.Paths = append(o.Paths, path)
			}
		}
	}
	report, err := p.LoadApart(ctx, o, workshop.Progress(say))
	if err == nil && !in.Try {
		_ = p.Ready(ctx) // or the first who asks makes it, and is told what is wrong
	}
	if err != nil && (report == nil || len(report.KeptOut) == 0) {
		return nil, err
	}
	hints := bookpages.Hints{Dry: "This was a trial: nothing was changed.", KeptOut: "Mend the rows kept out in the file of them, or in your own sheets, and load that again: only what is new or changed is taken."}
	if in.Try {
		hints.KeptOut = "What is kept out can be mended in your own sheets, by other choices, or after loading in a file of these rows."
	}
	res := &service.LoadResult{Report: bookpages.Loaded(report, hints), KeptOut: len(report.KeptOut), Nothing: err != nil || !report.Loaded()}
	if in.Try {
		res.Report.Title = "What would be taken"
	}
	if err != nil {
		_, res.Report.Lead = workshop.Failure(err)
	}
	if res.Rejects, err = os.ReadFile(rejects); errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return res, err
}

// Demo makes the invented workshop's book.
func (p *Pages) Demo(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "lastroom-invented-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if _, err := demo.Write(dir, demo.Options{Seed: 1}); err != nil {
		return err
	}
	if _, err = p.LoadApart(ctx, load.Options{Paths: []string{dir}}, workshop.Silent); err != nil {
		return err
	}
	return p.Ready(ctx)
}
