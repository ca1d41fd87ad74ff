package layout

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/yaml"
)

func TestMappingErrorsNameTheirPlace(t *testing.T) {
	for text, want := range map[string]string{
		"orders:\n  order_id: Order\n  shoe: X\n":                                                         `line 3, column 3: "shoe" is no column of the sheet orders`,
		"odrers:\n  order_id: Order\n":                                                                    `line 1, column 1: "odrers" is neither`,
		"orders:\n  channel: Who\n":                                                                       "the sheet orders needs its column order_id",
		"measurements:\n  form_id: F\n  numbers:\n    - {column: L, side: up}\n":                          `"up" is none of left, right`,
		"measurements:\n  form_id: F\n  numbers:\n    - {column: L, side: left, point: leg}\n":            "a leg girth needs its height",
		"measurements:\n  form_id: F\n  numbers:\n    - {column: L, side: left, point: leg, height: 7}\n": "has no unit",
		"measurements:\n  form_id: F\n  numbers:\n    - {columns: Ball, side: left}\n":                    "holds {point}, {side} or {height}",
		"measurements:\n  form_id: F\n  numbers:\n    - {columns: '{foot}'}\n":                            "{foot} is none of",
		"days: MM.YY\norders:\n  order_id: O\n":                                                           "no way to write days",
		"orders: [a, b]\n":                                                                                "needs a table of its columns",
		"orders:\n  order_id: {column: O, always: x}\n":                                                   "needs either column or always",
		"order: O\noutcomes:\n  reported_on: D\n":                                                         "needs its column result",
		"order: O\norders:\n  worn_tucked: {listed_in: x}\n":                                              "no table with the name",
		"skip: {column: X}\norders:\n  order_id: O\n":                                                     "either is or not",
		"from: x\n":    "describes no sheet",
		"tables: x\n":  "must be a list",
		"!0 000":       "",
		"a: &x [*x]\n": "",
	} {
		path := filepath.Join(t.TempDir(), "map.yaml")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		_, err := Read(path)
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), want, text)
		assert.Contains(t, err.Error(), "map.yaml")
	}
}

func FuzzMapping(f *testing.F) {
	f.Add("from: book\nunit: in\norders:\n  order_id: Order\n  channel: {column: Who, words: {us: shop}}\n")
	f.Add("measurements:\n  form_id: F\n  numbers:\n    - {column: L, side: left, point: leg, height: 7 in}\n")
	f.Add("order: No\ntables:\n- file: x\n  levels: 2\n  measurements: {numbers: [{columns: '{side} / {height}'}]}\n")
	f.Add("!0 000")
	f.Add("a: &a [*a, *a]")
	f.Fuzz(func(t *testing.T, text string) {
		y, err := yaml.Parse("map.yaml", []byte(text))
		if err == nil {
			var m *Mapping
			if m, err = parse(y); err == nil {
				require.NotEmpty(t, m.Tables)
				require.NotEmpty(t, m.Tables[0].Sheets)
			}
		}
		if err != nil {
			require.NotEmpty(t, err.Error())
		}
	})
}
