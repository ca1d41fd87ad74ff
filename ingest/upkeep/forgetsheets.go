package upkeep

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sheets"
)

// fromSheets writes the kept sheets that hold rows of the person anew, without
// them, under the hash of what is left. It gives the old names with the new
// ones, "" for a sheet that is to go whole; the old ones are still there.
func (g *Forgotten) fromSheets(ctx context.Context, f orderbook.Files, ids personIDs) (map[string]string, error) {
	entries, err := os.ReadDir(f.Sheets())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	moved := map[string]string{}
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		left, err := leaveOut(ctx, filepath.Join(f.Sheets(), e.Name()), f.Work(), ids)
		if err != nil {
			return nil, fmt.Errorf("taking a person out of the kept sheet %s: %w", e.Name(), err)
		}
		switch {
		case !left.Known:
			moved[e.Name()] = ""
			g.SheetsRemoved++
		case left.Dropped > 0:
			name, err := keep(f, left.Path, filepath.Ext(e.Name()))
			if err != nil {
				return nil, err
			}
			moved[e.Name()] = name
			g.Sheets++
			g.SheetRows += left.Dropped
		}
	}
	return moved, durable.SyncFolder(f.Sheets())
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
	if err != nil || known {
		return leftover{to, n, known}, err
	}
	named, err := sheets.Mentions(ctx, path, filepath.Join(dir, "left-out.copy"), func(text string) bool {
		for _, set := range ids {
			if _, ok := set[text]; ok {
				return true
			}
		}
		return false
	})
	return leftover{Known: !named}, err
}

// keep moves a new sheet among the kept ones, under its hash.
func keep(f orderbook.Files, path, ext string) (name string, err error) {
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
	for _, c := range columns {
		set := ids[sheets.Fold(c)]
		if _, ok := ids[sheets.Fold(c)]; ok {
			left.Known = true
		}
		for id := range set {
			is = append(is, "trim("+engine.QuoteName(c)+"::VARCHAR) = "+engine.Quote(id))
		}
	}
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
