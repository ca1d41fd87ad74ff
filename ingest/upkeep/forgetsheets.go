package upkeep

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// fromSheets writes the kept sheets that hold rows of the person anew, without
// them, under the hash of what is left. It gives the old names with the new
// ones, "" for a sheet that is to go whole; the old ones are still there.
func (g *Forgotten) fromSheets(ctx context.Context, w *bookfile.Writer, ids personIDs) (map[string]string, error) {
	kept, err := keptSheetsOf(w.Files)
	if err != nil {
		return nil, err
	}
	mappings, err := mapsOf(ctx, w.Conn)
	if err != nil {
		return nil, err
	}
	moved := map[string]string{}
	for _, name := range kept {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		theirs, err := mappedRows(ctx, w.Files, name, mappings[keptName(name)], ids)
		if err != nil {
			return nil, err
		}
		if theirs {
			moved[name] = ""
			g.SheetsRemoved++
			continue
		}
		left, err := leaveOut(ctx, filepath.Join(w.Files.Sheets(), name), w.Files.Work(), ids)
		if err != nil {
			return nil, fmt.Errorf("taking a person out of the kept sheet %s: %w", name, err)
		}
		switch {
		case !left.Known:
			moved[name] = ""
			g.SheetsRemoved++
		case left.Dropped > 0:
			if moved[name], err = keep(w.Files, left.Path, filepath.Ext(name)); err != nil {
				return nil, err
			}
			g.Sheets++
			g.SheetRows += left.Dropped
		}
	}
	return moved, durable.SyncFolder(w.Files.Sheets())
}

// mappedRows reports whether a sheet that came through a mapping holds a row of
// the person: the ids may be made up of what stands in its cells.
func mappedRows(ctx context.Context, f bookfile.Files, name string, m mapped, ids personIDs) (theirs bool, err error) {
	if m.sha256 == "" {
		return false, nil
	}
	err = eachOwner(ctx, f, name, m, func(row map[string]string) error {
		for column, cell := range row {
			theirs = theirs || ids.has(column, cell)
		}
		return nil
	})
	return theirs, err
}

// A leftover is a sheet without a person's rows.
type leftover struct {
	Path    string // the new file; only where Dropped > 0
	Dropped int64
	Known   bool // the columns that say who a row belongs to were found
}

// leaveOut writes a copy of a sheet without the person's rows into dir. A file
// without any of the person's ids is known to have no such row, whatever its
// layout.
func leaveOut(ctx context.Context, path, dir string, ids personIDs) (leftover, error) {
	to := filepath.Join(dir, "left-out"+filepath.Ext(path))
	if strings.EqualFold(filepath.Ext(path), ".parquet") {
		return leaveOutParquet(ctx, path, to, ids)
	}
	if ext := strings.ToLower(filepath.Ext(path)); ext == ".yaml" || ext == ".yml" {
		return leftover{Known: true}, nil // a mapping: it says how sheets are laid out
	}
	n, known, err := sheets.LeaveOut(ctx, path, to, filepath.Join(dir, "left-out.copy"), ids.has)
	if err != nil {
		return leftover{}, err
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".xlsx", ".xlsm", ".ods":
		if hidden, err := ids.inHiddenParts(path); hidden || err != nil {
			return leftover{}, err
		}
	}
	if known {
		return leftover{to, n, known}, nil
	}
	named, err := sheets.Mentions(ctx, path, filepath.Join(dir, "left-out.copy"), func(text string) bool { return ids.has("", text) })
	return leftover{Known: !named}, err
}

// keep moves a new sheet among the kept ones, under its hash.
func keep(f bookfile.Files, path, ext string) (name string, err error) {
	sum, err := durable.Hash(path)
	if err != nil {
		return "", err
	}
	name = sum + ext
	return name, errors.Join(durable.Sync(path), os.Rename(path, filepath.Join(f.Sheets(), name)))
}

// leaveOutParquet does the same for Parquet, with the engine.
func leaveOutParquet(ctx context.Context, path, to string, ids personIDs) (left leftover, err error) {
	db, err := engine.Open(ctx, "", false)
	if err != nil {
		return left, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return left, err
	}
	defer conn.Close()
	columns, err := engine.Columns(ctx, conn, "SELECT * FROM read_parquet("+engine.Quote(path)+") LIMIT 0")
	if err != nil {
		return left, err
	}
	var is []string
	for i, name := range sheets.WhoseColumns(columns) {
		left.Known = true
		for id := range ids[name] {
			is = append(is, "trim("+engine.QuoteName(columns[i])+"::VARCHAR) = "+engine.Quote(id))
		}
	}
	slices.Sort(is)
	if len(is) == 0 {
		return left, nil
	}
	where := "coalesce(" + strings.Join(is, " OR ") + ", false)"
	from := " FROM read_parquet(" + engine.Quote(path) + ") WHERE "
	if err := conn.QueryRowContext(ctx, "SELECT count(*)"+from+where).Scan(&left.Dropped); err != nil || left.Dropped == 0 {
		return left, err
	}
	left.Path = to
	_, err = conn.ExecContext(ctx, "COPY (SELECT *"+from+"NOT "+where+") TO "+engine.Quote(to)+" (FORMAT parquet)")
	return left, err
}
