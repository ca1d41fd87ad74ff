package workshop

import (
	"context"
	"os"

	"lastroom/ingest/layout"
	"lastroom/ingest/layout/propose"
	"lastroom/ingest/load"
	"lastroom/ingest/sheets"
)

// ProposeLayout looks at a shop's own spreadsheets and proposes a mapping. unpack is
// that of load.Options.
func ProposeLayout(ctx context.Context, paths []string, unpack int64) (*propose.Proposal, error) {
	dir, err := os.MkdirTemp("", "lastroom-layout-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	files, notes, err := gather(ctx, paths, dir, unpack)
	if err != nil {
		return nil, err
	}
	p, err := propose.Propose(ctx, files, dir)
	if err != nil {
		return nil, BadInput(err)
	}
	p.Notes = append(notes, p.Notes...)
	return p, nil
}

// gather keeps copies of files to look at in the folder dir, Parquet files as texts.
func gather(ctx context.Context, paths []string, dir string, unpack int64) (files []layout.File, notes []string, err error) {
	found, notes, err := propose.Gather(ctx, paths, dir)
	if err != nil {
		return nil, nil, BadInput(err)
	}
	for _, f := range found {
		f.Table.Unpack = unpack
		if f.Table.Format == sheets.Parquet {
			if err := load.ParquetAsText(ctx, f.Table, f.Table.Kept+".csv"); err != nil {
				notes = append(notes, err.Error())
				continue
			}
		}
		files = append(files, f)
	}
	return files, notes, nil
}

// Templates writes empty order sheets into a folder.
func Templates(dir string) ([]string, error) {
	paths, err := sheets.WriteTemplates(dir)
	return paths, BadInput(err)
}
