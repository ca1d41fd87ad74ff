package layout

import (
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// A spot is a column of numbers with the place of the form that they are of, as
// far as the header says it.
type spot struct {
	at int
	wording.Place
	unit form.Unit
}

// spots are the columns that a number of the mapping names.
func (h Head) spots(n number) (out []spot, err error) {
	one := spot{Place: n.Place, unit: n.Unit}
	if n.pattern == nil {
		if one.at, err = h.find(n.Column); err != nil || one.at < 0 {
			return nil, err
		}
		return []spot{one}, nil
	}
	seen := map[string]int{}
	for i, name := range h.Names {
		if name == "" {
			continue
		}
		seen[sheets.Fold(name)]++
		text := wording.Plain(name)
		if n.pattern.ofPath {
			text = wording.Plain(h.Paths[i])
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
				s.Side = wording.Sides[m[k]]
			case "point":
				s.Point = wording.Points[m[k]]
			case "height":
				s.Height, s.Point = strings.TrimSpace(m[k]), "leg"
			}
		}
		out = append(out, s)
	}
	return out, nil
}

// spotsOf finds the columns of numbers. Two of one place can't both be meant.
func (w *writer) spotsOf(s *sheet, used []bool) error {
	r := w.r
	for _, n := range s.Numbers {
		if n.Column == "" && n.pattern == nil { // a row a number
			if from, ok := w.columns["value"]; ok {
				w.spots = append(w.spots, spot{at: from.col})
			}
			continue
		}
		spots, err := r.head.spots(n)
		if err != nil {
			return &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: err.Error()}
		}
		if len(spots) == 0 {
			name := n.Column
			if name == "" {
				name = fmt.Sprintf("that fits the pattern in line %d of the mapping", n.at.Line)
			}
			r.lacking = append(r.lacking, name)
		}
		w.spots = append(w.spots, spots...)
	}
	taken := map[wording.Place]int{}
	for _, s := range w.spots {
		used[s.at] = true
		if other, ok := taken[s.Place]; ok {
			return &grid.FileError{File: r.grid.Where(), Line: int64(r.head.Row), Reason: fmt.Sprintf("the columns %s (%s) and %s (%s) both hold the number of one place (%s %s); say which by nth, by a side or by another pattern",
				grid.ColumnName(other), r.head.Paths[other], grid.ColumnName(s.at), r.head.Paths[s.at], strings.TrimSpace(s.Side+" "+s.Point), s.Height)}
		}
		taken[s.Place] = s.at
	}
	return nil
}

// numbers writes the numbers of a row.
func (w *writer) numbers(no int32, texts []string, key string) error {
	cell := func(name string) string {
		from, ok := w.columns[name]
		if !ok {
			return ""
		}
		c, _ := w.s.Column(name)
		if c.Kind == sheets.Length {
			c.Kind = sheets.Text // as written; its unit stands beside it
		}
		return w.r.value(c, from.what, from.col, texts, key)
	}
	base := wording.Place{Side: cell("side"), Point: cell("point"), Height: cell("height"), Clothing: cell("clothing")}
	formID := cell("form_id")
	unread := ""
	if w.place.col >= 0 && texts[w.place.col] != "" {
		said, rest := wording.ReadPlace(w.r.value(sheets.Column{Kind: sheets.Text}, w.place.what, w.place.col, texts, key))
		if rest != "" || said.Point == "" && base.Point == "" {
			unread = texts[w.place.col]
		}
		base = said.Or(base)
	}
	for _, s := range w.spots {
		value := w.r.value(sheets.Column{Kind: sheets.Text}, source{}, s.at, texts, key)
		if value == "" {
			continue
		}
		s.Place = s.Or(base)
		if s.Height != "" && s.Point == "" {
			s.Point = "leg"
		}
		if unread != "" {
			s.Point = unread
		}
		unit := s.unit
		if unit == form.NoUnit {
			unit = w.r.t.Unit
		}
		if from, ok := w.columns["value"]; ok && from.what.Unit != form.NoUnit {
			unit = from.what.Unit
		}
		heightUnit := w.r.t.Unit
		if from, ok := w.columns["height"]; ok && from.what.Unit != form.NoUnit {
			heightUnit = from.what.Unit
		}
		record := []string{}
		for _, name := range w.names {
			text := ""
			switch name {
			case "form_id":
				text = formID
			case "side":
				text = s.Side
			case "clothing":
				text = s.Clothing
			case "point":
				text = s.Point
			case "height":
				text = s.Height
			case "height_unit":
				if s.Height != "" {
					text = ownUnit(s.Height, heightUnit).String()
				}
			case "value":
				text = value
			case "unit":
				text = ownUnit(value, unit).String()
				if own := cell("unit"); own != "" {
					text = own
				}
			}
			record = append(record, text)
		}
		if w.r.c.views != nil {
			w.r.see(w.s.Sheet, "value", strings.Join(strings.Fields(s.Side+" "+s.Clothing+" "+s.Point+" "+s.Height), " "), s.at, texts[s.at], value, ownUnit(value, unit))
		}
		if w.r.broken == "" {
			w.froms = append(w.froms, int16(s.at))
		}
		if err := w.put(no, record); err != nil {
			return err
		}
	}
	return nil
}
