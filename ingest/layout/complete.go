package layout

import (
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/yaml"
)

// complete gives keys that are not mapped the order's number, and checks that
// each sheet has what its rows need.
func (r reader) complete(m *Mapping, t *table) error {
	at := yaml.Node{Line: max(1, t.at.Line), Column: max(1, t.at.Column)}
	if len(t.Sheets) == 0 {
		return r.Wrong(at, "describes no sheet; it needs at least one of orders, forms, measurements, outcomes")
	}
	for _, s := range t.Sheets {
		for _, c := range s.Sheet.Columns {
			_, ok := s.Columns[c.Name]
			if ok || c.Kind != sheets.ID && !s.IsKey(c.Name) {
				continue
			}
			if !t.Order.given() || c.Name != "order_id" && c.Name != "form_id" {
				return r.Wrong(at, "the sheet %s needs its column %s", s.Name, c.Name)
			}
			s.Columns[c.Name] = t.Order
		}
		if s.Name == "measurements" {
			if err := r.completeNumbers(at, t, s); err != nil {
				return err
			}
		}
		if s.Name == "outcomes" && !s.Columns["result"].given() {
			return r.Wrong(at, "the sheet outcomes needs its column result; where a row is always a remake, write result: {always: remade}")
		}
		for _, from := range s.Columns {
			if from.ListedIn != "" && m.named(from.ListedIn) == nil {
				return r.Wrong(from.at, "there is no table with the name %q", from.ListedIn)
			}
		}
	}
	if !t.Order.given() {
		t.Order = t.Sheets[0].Columns["order_id"]
		if !t.Order.given() {
			t.Order = t.Sheets[0].Columns["form_id"]
		}
	}
	return nil
}

func (m *Mapping) named(name string) *table {
	for _, t := range m.Tables {
		if t.Name == name {
			return t
		}
	}
	return nil
}

func (r reader) completeNumbers(at yaml.Node, t *table, s *sheet) error {
	if len(s.Numbers) == 0 {
		if !s.Columns["value"].given() {
			return r.Wrong(at, "the sheet measurements needs its numbers, a list of {column or columns, side, point}, or the column value of a table with a row a number")
		}
		s.Numbers = []number{{}}
	}
	for _, n := range s.Numbers {
		here := at
		if n.at.Line > 0 {
			here = n.at
		}
		if n.Side == "" && !n.pattern.says("side") && !s.Columns["side"].given() {
			return r.Wrong(here, "a number needs its side: here, in the pattern as {side}, or as a column of the sheet")
		}
		if n.Point == "" && !n.pattern.says("point") && !n.pattern.says("height") && !s.Columns["point"].given() && !s.Place.given() {
			return r.Wrong(here, "a number needs its point: here, in the pattern as {point} or {height}, or as a column of the sheet")
		}
		if n.Point == "leg" && n.Height == "" && !n.pattern.says("height") && !s.Columns["height"].given() && !s.Place.given() {
			return r.Wrong(here, "a leg girth needs its height, and no other point has one")
		}
		if n.Point != "" && n.Point != "leg" && n.Height != "" {
			return r.Wrong(here, "a leg girth needs its height, and no other point has one")
		}
		if n.Height != "" {
			if _, err := lengths.Parse(n.Height, ownUnit(n.Height, t.Unit), lengths.Options{DecimalComma: true}); err != nil {
				return r.Wrong(here, "the height %q %s", n.Height, err)
			}
		}
	}
	return nil
}

// ownUnit is NoUnit for a text that names its unit, else the unit given.
func ownUnit(text string, unit form.Unit) form.Unit {
	if lengths.WrittenIn(text, form.NoUnit) != form.NoUnit {
		return form.NoUnit
	}
	return unit
}
