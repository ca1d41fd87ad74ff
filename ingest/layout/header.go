package layout

import (
	"fmt"
	"regexp"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
)

// A head is the header of a table: its columns by name and by path.
type head struct {
	row   int32    // the row it ends on
	names []string // of the last row
	paths []string // with the names above, "LEFT / Ball"
}

var nthOf = regexp.MustCompile(`^(.*\S)\s*\[(\d+)\]$`)

// headOf joins the rows of a header: a name above stands over its column and
// all to the right of it up to the next one.
func headOf(rows [][]string, row int32) head {
	last := rows[len(rows)-1]
	h := head{row: row, names: make([]string, len(last)), paths: make([]string, len(last))}
	for i, n := range last {
		h.names[i] = strings.Join(strings.Fields(n), " ")
		h.paths[i] = h.names[i]
	}
	for level := len(rows) - 2; level >= 0; level-- {
		above := ""
		for i := range last {
			if i < len(rows[level]) && strings.TrimSpace(rows[level][i]) != "" {
				above = strings.Join(strings.Fields(rows[level][i]), " ")
			}
			if above != "" && h.names[i] != "" {
				h.paths[i] = above + " / " + h.paths[i]
			}
		}
	}
	return h
}

// find is the place of the column that a header names, -1 for none. A name
// that several columns have must say which: `Ball [2]`, or by its path.
func (h head) find(ref string) (int, error) {
	nth := 0
	name := ref
	if m := nthOf.FindStringSubmatch(ref); m != nil {
		name = m[1]
		fmt.Sscan(m[2], &nth)
	}
	var found []int
	for i := range h.names {
		if h.names[i] != "" && (sheets.Fold(h.paths[i]) == sheets.Fold(name) || sheets.Fold(h.names[i]) == sheets.Fold(name)) {
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
			at[i] = sheets.ColumnName(f)
		}
		return -1, fmt.Errorf("the header %q stands %d times, in the columns %s; write %s [1] for the first of them, %s [2] for the second",
			ref, len(found), strings.Join(at, ", "), name, name)
	}
	return -1, nil
}

// A spot is a column of numbers with the place of the form that they are of, as
// far as the header says it.
type spot struct {
	at                            int
	side, point, height, clothing string
	unit                          form.Unit
}

// spots are the columns that a number of the mapping names.
func (h head) spots(n Number, t *Table) (out []spot, err error) {
	one := spot{side: n.Side, point: n.Point, height: n.Height, clothing: n.Clothing, unit: n.Unit}
	if n.pattern == nil {
		if one.at, err = h.find(n.Column); err != nil || one.at < 0 {
			return nil, err
		}
		return []spot{one}, nil
	}
	seen := map[string]int{}
	for i, name := range h.names {
		if name == "" {
			continue
		}
		seen[sheets.Fold(name)]++
		text := plain(name)
		if n.path {
			text = plain(h.paths[i])
		}
		m := n.pattern.FindStringSubmatch(text)
		if m == nil || n.Nth > 0 && seen[sheets.Fold(name)] != n.Nth {
			continue
		}
		s := one
		s.at = i
		for k, group := range n.pattern.SubexpNames() {
			switch group {
			case "side":
				s.side = sideWords[m[k]]
			case "point":
				s.point = pointWords[m[k]]
			case "height":
				s.height, s.point = strings.TrimSpace(m[k]), "leg"
			}
		}
		out = append(out, s)
	}
	return out, nil
}

// readPlace reads a text that says a point, a height, a side or several of
// them: `ball`, `7"`, `length (tracing)`, `über Hose 18 cm L`. rest is what was
// not understood.
func readPlace(text string) (s spot, rest string) {
	text = plain(text)
	if i := strings.IndexByte(text, '('); i > 0 { // what stands in brackets explains
		text = strings.TrimSpace(text[:i] + " " + text[strings.LastIndexByte(text, ')')+1:])
	}
	take := func(words map[string]string, into *string) {
		for _, p := range byLength(words) {
			if rest, ok := cut(text, p); ok && *into == "" {
				*into, text = words[p], rest
			}
		}
	}
	if m := heightAnywhere.FindStringIndex(text); m != nil {
		s.height, s.point = strings.TrimSpace(text[m[0]:m[1]]), "leg"
		text = strings.TrimSpace(text[:m[0]] + " " + text[m[1]:])
	}
	take(clothingWords, &s.clothing)
	if s.point == "" {
		take(pointWords, &s.point)
	}
	take(sideWords, &s.side)
	return s, strings.Trim(text, " .:-–/·")
}

var heightAnywhere = regexp.MustCompile(`\b` + heightText)

func byLength(words map[string]string) []string {
	var list []phrase
	for w := range words {
		list = append(list, phrase{says: w})
	}
	sortPhrases(list)
	out := make([]string, len(list))
	for i, p := range list {
		out[i] = p.says
	}
	return out
}
