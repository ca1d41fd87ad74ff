package layout

import (
	"fmt"
	"regexp"
	"strings"

	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
)

// A Head is the header of a table: its columns by name and by path.
type Head struct {
	Row   int32    // the row it ends on
	Names []string // of the last row
	Paths []string // with the names above, "LEFT / Ball"
}

var nthOf = regexp.MustCompile(`^(.*\S)\s*\[(\d+)\]$`)

// HeadOf joins the rows of a header: a name above stands over its column and
// all to the right of it up to the next one.
func HeadOf(rows [][]string, row int32) Head {
	last := rows[len(rows)-1]
	h := Head{Row: row, Names: make([]string, len(last)), Paths: make([]string, len(last))}
	for i, n := range last {
		h.Names[i] = strings.Join(strings.Fields(n), " ")
		h.Paths[i] = h.Names[i]
	}
	for level := len(rows) - 2; level >= 0; level-- {
		above := ""
		for i := range last {
			if i < len(rows[level]) && strings.TrimSpace(rows[level][i]) != "" {
				above = strings.Join(strings.Fields(rows[level][i]), " ")
			}
			if above != "" && h.Names[i] != "" {
				h.Paths[i] = above + " / " + h.Paths[i]
			}
		}
	}
	return h
}

// find is the place of the column that a header names, -1 for none. A name
// that several columns have must say which: `Ball [2]`, or by its path.
func (h Head) find(ref string) (int, error) {
	nth := 0
	name := ref
	if m := nthOf.FindStringSubmatch(ref); m != nil {
		name = m[1]
		fmt.Sscan(m[2], &nth)
	}
	var found []int
	for i := range h.Names {
		if h.Names[i] != "" && (sheets.Fold(h.Paths[i]) == sheets.Fold(name) || sheets.Fold(h.Names[i]) == sheets.Fold(name)) {
			found = append(found, i)
		}
	}
	switch {
	case nth > 0 && nth <= len(found):
		return found[nth-1], nil
	case nth > 0:
		return -1, nil
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		at := make([]string, len(found))
		for i, f := range found {
			at[i] = grid.ColumnName(f)
		}
		return -1, fmt.Errorf("the header %q stands %d times, in the columns %s; write %s [1] for the first of them, %s [2] for the second",
			ref, len(found), strings.Join(at, ", "), name, name)
	}
	return -1, nil
}
