package layout

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
)

// A File is a file that came, as it was kept.
type File struct {
	Table *sheets.Table
	Path  string
}

// A Part is the rows of one order sheet out of one table of a shop's: a text
// with the sheet's own columns, which is read like any order sheet.
type Part struct {
	Sheet  *sheets.Sheet
	Table  *sheets.Table
	Path   string   // of the file that came
	Unused []string // columns of the shop's table that the mapping does not name; of its first part
	Broken []Broken // what it makes of lines that can't be split; not in the text
}

// A Broken is what a mapping makes of a line that can't be split into cells,
// cut at every separator: a row that a person must look at before it is taken.
type Broken struct {
	Line   int64
	Cells  []string // by the columns of the part's table
	Reason string
}

// A Converted is what a mapping makes of files.
type Converted struct {
	Parts   []Part
	Rejects []sheets.Reject // lines that can't be split into cells, each told once
	Notes   []string        // for people: what was passed over, and what was taken how
	Taken   map[string]bool // files of which any table was taken, by path
}

// Convert reads the tables of files that the mapping describes and writes the
// rows of each order sheet to texts in the folder dir. What a cell should hold
// and does not is written as it stands: whoever reads the sheet refuses it with
// its reason and its place.
func (m *Mapping) Convert(ctx context.Context, files []File, dir string) (*Converted, error) {
	return newConverter(m, dir).convert(ctx, files)
}

func newConverter(m *Mapping, dir string) *converter {
	return &converter{m: m, dir: dir, out: &Converted{Taken: map[string]bool{}}, keys: map[string]map[string]bool{}}
}

func (c *converter) convert(ctx context.Context, files []File) (*Converted, error) {
	m := c.m
	// Tables that others look orders up in come first.
	named := map[string]bool{}
	for _, t := range m.Tables {
		for _, s := range t.Sheets {
			for _, from := range s.Columns {
				named[from.ListedIn] = true
			}
		}
	}
	order := slices.Clone(m.Tables)
	slices.SortStableFunc(order, func(a, b *table) int {
		switch {
		case named[a.Name] && a.Name != "" && !(named[b.Name] && b.Name != ""):
			return -1
		case named[b.Name] && b.Name != "" && !(named[a.Name] && a.Name != ""):
			return 1
		}
		return 0
	})
	for _, t := range order {
		if err := c.table(ctx, t, files); err != nil {
			return nil, err
		}
	}
	return c.out, nil
}

type converter struct {
	m     *Mapping
	dir   string
	out   *Converted
	keys  map[string]map[string]bool // by a table's name, the orders in it
	texts int
	views map[viewKey]*View // of a preview
}

func (c *converter) note(format string, args ...any) {
	c.out.Notes = append(c.out.Notes, fmt.Sprintf(format, args...))
}

// table converts all tables that t describes. Where files overlap they are
// read from the last to the first, and an order that was seen is passed over.
func (c *converter) table(ctx context.Context, t *table, files []File) error {
	if t.Name != "" && c.keys[t.Name] == nil {
		c.keys[t.Name] = map[string]bool{}
	}
	type one struct {
		file File
		grid *grid.Grid
	}
	var list []one
	for _, f := range files {
		if !t.takesFile(f.Path) && len(t.From) == 0 {
			continue
		}
		grids, err := f.Table.Grids()
		if err != nil {
			return err
		}
		for _, g := range grids {
			visible := 0
			for _, other := range grids {
				if !other.Hidden {
					visible++
				}
			}
			if !t.takes(f.Path, g.Tab, visible) {
				continue
			}
			if g.Hidden && !t.HiddenTabs {
				c.note("the tab %s of %s is hidden and was not read; hidden_tabs: read in the mapping reads it", g.Tab, g.File)
				continue
			}
			list = append(list, one{f, g})
		}
	}
	if len(list) == 0 {
		return nil
	}
	if t.Overlap {
		slices.Reverse(list)
	}
	first := len(c.out.Parts)
	seen, before := map[string]bool{}, map[string]bool{}
	lacking := map[string][]string{}
	for _, o := range list {
		r := &rows{c: c, t: t, grid: o.grid, file: o.file, before: before, seen: seen}
		if err := r.read(ctx); err != nil {
			return err
		}
		c.out.Taken[o.file.Path] = true
		for _, name := range r.lacking {
			lacking[name] = append(lacking[name], o.grid.Where())
		}
		if t.Overlap {
			maps.Copy(before, seen)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(lacking)) {
		if len(lacking[name]) == len(list) {
			return &grid.FileError{File: list[0].grid.Where(), Reason: fmt.Sprintf("lacks the column %s that the mapping names", name)}
		}
		c.note("%s: no column %s there; what the book has of it stays", strings.Join(lacking[name], ", "), name)
	}
	if t.Overlap {
		slices.Reverse(c.out.Parts[first:])
	}
	return nil
}
