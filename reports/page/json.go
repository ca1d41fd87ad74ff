package page

import (
	"encoding/json"
	"io"
	"math"

	"lastroom/analysis/stats"
)

// JSON writes the document alone, unrounded, with null for what is not given.
// Each block says its kind: prose, finding, table, figure (its data; the
// drawing is left out) or value.
func JSON(w io.Writer, d *Document) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

type docJSON struct {
	Title      string        `json:"title"`
	Lead       string        `json:"lead"`
	AsOf       string        `json:"as_of"`
	Sections   []sectionJSON `json:"sections"`
	Cautions   []string      `json:"cautions"`
	Provenance provJSON      `json:"provenance"`
}

type sectionJSON struct {
	ID     string `json:"id"`
	Title  string `json:"title"`
	Sheet  int    `json:"sheet"`
	Blocks []any  `json:"blocks"`
}

type provJSON struct {
	AsOf       string      `json:"as_of"`
	BookHash   string      `json:"book_hash"`
	Version    string      `json:"version"`
	Parameters []paramJSON `json:"parameters"`
}

type paramJSON struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

type tableJSON struct {
	Kind    string           `json:"kind"`
	ID      string           `json:"id"`
	Caption string           `json:"caption"`
	Total   int              `json:"total"`
	Rows    []map[string]any `json:"rows"`
	Notes   []string         `json:"notes"`
}

// MarshalJSON writes the document as JSON describes it.
func (d *Document) MarshalJSON() ([]byte, error) {
	out := docJSON{
		Title: d.Title, Lead: d.Lead, AsOf: d.Provenance.AsOf.String(),
		Sections: []sectionJSON{}, Cautions: list(d.Cautions),
		Provenance: provJSON{d.Provenance.AsOf.String(), d.Provenance.BookHash, d.Provenance.Version, []paramJSON{}},
	}
	for _, p := range d.Provenance.Parameters {
		out.Provenance.Parameters = append(out.Provenance.Parameters, paramJSON{p[0], p[1]})
	}
	for _, s := range d.Sections {
		j := sectionJSON{s.ID, s.Title, s.Sheet, []any{}}
		for _, b := range s.Blocks {
			j.Blocks = append(j.Blocks, blockJSON(b))
		}
		out.Sections = append(out.Sections, j)
	}
	return json.Marshal(out)
}

func blockJSON(b Block) any {
	switch b := b.(type) {
	case Prose:
		return map[string]any{"kind": "prose", "paragraphs": list(b)}
	case Markup:
		return map[string]any{"kind": "prose", "paragraphs": list(b.Text)}
	case Finding:
		return map[string]any{"kind": "finding", "id": b.ID, "headline": b.Headline, "detail": list(b.Detail),
			"certainty": b.Certainty, "action": b.Action, "warnings": list(b.Warnings), "orders": list(b.Orders.IDs)}
	case Table:
		return tableOf(b)
	case Figure:
		return map[string]any{"kind": "figure", "id": b.ID, "title": b.Title, "desc": b.Desc, "data": tableOf(b.Data)}
	case Value:
		return map[string]any{"kind": "value", "name": b.Name, "text": b.Text, "estimate": b.E}
	}
	return nil
}

func tableOf(t Table) tableJSON {
	out := tableJSON{"table", t.ID, t.Caption, max(t.Total, len(t.Rows)), []map[string]any{}, list(t.Notes)}
	for _, row := range t.Rows {
		m := map[string]any{}
		for j, c := range t.Columns {
			if j < len(row) {
				m[c.Key] = valueJSON(row[j].Value)
			} else {
				m[c.Key] = nil
			}
		}
		out.Rows = append(out.Rows, m)
	}
	return out
}

func valueJSON(v any) any {
	if x, ok := v.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
		return nil
	}
	if e, ok := v.(*stats.Estimate); ok && e == nil {
		return nil
	}
	return v
}

func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}
