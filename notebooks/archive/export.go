package archive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

// The open notebook JSON format, version 4.5 (nbformat), as far as it is
// written here: https://nbformat.readthedocs.io/en/latest/format_description.html
type openNotebook struct {
	Cells         []openCell     `json:"cells"`
	Metadata      map[string]any `json:"metadata"`
	NBFormat      int            `json:"nbformat"`
	NBFormatMinor int            `json:"nbformat_minor"`
}

type openCell struct {
	ID, Type, Source string
	Outputs          []openOutput // of code cells
}

type openOutput struct {
	Type     string            `json:"output_type"`
	Data     map[string]string `json:"data"`
	Metadata map[string]any    `json:"metadata"`
}

// MarshalJSON writes what the format asks of each type of cell; a code cell has
// an execution_count, null here.
func (c openCell) MarshalJSON() ([]byte, error) {
	m := map[string]any{"id": c.ID, "cell_type": c.Type, "metadata": struct{}{}, "source": c.Source}
	if c.Type == "code" {
		m["outputs"], m["execution_count"] = c.Outputs, nil
	}
	return json.Marshal(m)
}

// OpenJSON writes a run as open notebook JSON, format 4.5, for reading in other
// programs. It is never read back.
func OpenJSON(w io.Writer, r *execution.Run) error {
	nb := openNotebook{NBFormat: 4, NBFormatMinor: 5, Metadata: map[string]any{
		"title":    r.Doc.Title,
		"lastroom": map[string]any{"as_of": r.Facts.AsOf.String(), "book_hash": r.Facts.Hash, "parameters": r.Doc.Provenance.Parameters},
	}}
	add := func(c openCell) {
		c.ID = fmt.Sprintf("part-%d", len(nb.Cells)+1)
		nb.Cells = append(nb.Cells, c)
	}
	add(openCell{Type: "markdown", Source: "# " + r.Doc.Title})
	for _, p := range r.Notebook.Parts {
		switch {
		case p.Heading != nil:
			add(openCell{Type: "markdown", Source: "## " + strings.Join(p.Heading.Text(r.Fill(p.Heading)), " ")})
		case p.Prose != nil:
			add(openCell{Type: "markdown", Source: string(p.Prose.HTML(r.Fill(p.Prose)))})
		case p.Cell != nil:
			out, err := openOutputs(r.Cell(p.Cell.Name))
			if err != nil {
				return err
			}
			add(openCell{Type: "code", Source: sourceOf(p.Cell), Outputs: out})
		}
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(nb)
}

// sourceOf is what a cell says.
func sourceOf(c *notebooks.Cell) string {
	if c.Kind == notebooks.SQL {
		return strings.TrimSuffix(c.Body, "\n")
	}
	words := []string{string(c.Kind), "name=" + c.Name}
	for _, k := range slices.Sorted(maps.Keys(c.Keys)) {
		words = append(words, fmt.Sprintf("%s=%q", k, c.Keys[k]))
	}
	return strings.Join(words, " ")
}

func openOutputs(c *execution.CellRun) ([]openOutput, error) {
	out := []openOutput{}
	blocks := c.Blocks
	switch c.State {
	case execution.Failed:
		blocks = []page.Block{execution.Alert(c.Err.Error())}
	case execution.NotRun, execution.Stopped:
		blocks = []page.Block{execution.Alert(c.Why)}
	}
	if c.Cell != nil && c.Cell.Keys["hide"] == "yes" {
		blocks = nil
	}
	for _, b := range blocks {
		var h, t bytes.Buffer
		if err := page.BlockHTML(&h, b, nil); err != nil {
			return nil, err
		}
		doc := &page.Document{Sections: []page.Section{{Blocks: []page.Block{b}}}}
		if err := page.WriteText(&t, doc, page.TextOptions{Width: 100}); err != nil {
			return nil, err
		}
		out = append(out, openOutput{"display_data", map[string]string{"text/html": h.String(), "text/plain": strings.TrimSpace(t.String())}, map[string]any{}})
	}
	return out, nil
}
