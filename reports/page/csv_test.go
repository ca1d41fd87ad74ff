package page

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

func TestCSVKeepsNumbersAndGuardsText(t *testing.T) {
	tab := sample().Sections[1].Blocks[2].(Table)
	var b bytes.Buffer
	require.NoError(t, CSV(&b, &tab))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"fault", "orders", "rate", "rate_low", "rate_high", "rate_n", "day"}, rows[0])
	assert.Equal(t, []string{"tape marks missing", "1234", "0.08", "0.05", "0.12", "812", "2024-10-04"}, rows[1])
	assert.Equal(t, []string{`'=HYPERLINK("x")`, "-3", "", "", "", "4", ""}, rows[2], "a negative number stays a number")
	assert.Equal(t, hostile, rows[3][0])
	assert.Len(t, rows[3], 7, "a short row is filled up")
}

func TestCSVGuard(t *testing.T) {
	for in, want := range map[string]string{
		"=1": "'=1", "+1": "'+1", "-1": "'-1", "@a": "'@a", "\ta": "'\ta", "\ra": "'\ra", "\na": "'\na",
		"": "", "a=1": "a=1", "'x": "'x", "1": "1",
	} {
		assert.Equal(t, want, guard(in), "%q", in)
	}
}

func TestTablesOfADocument(t *testing.T) {
	ts := Tables(sample())
	require.Len(t, ts, 2, "the table and the one behind the figure")
	assert.Equal(t, "shares", ts[0].ID)
}

func TestJSONIsTheDocumentUnrounded(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, JSON(&b, sample()))
	assert.NotContains(t, b.String(), "NaN")
	var d struct {
		Title    string
		AsOf     string `json:"as_of"`
		Sections []struct {
			ID     string
			Sheet  int
			Blocks []struct {
				Kind string
				Rows []map[string]any
				Data struct{ Rows []map[string]any }
			}
		}
		Provenance struct {
			Hash string `json:"book_hash"`
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &d))
	assert.Equal(t, "2024-10-04", d.AsOf)
	assert.Equal(t, "0123456789abcdef", d.Provenance.Hash)
	var kinds []string
	for _, k := range d.Sections[1].Blocks {
		kinds = append(kinds, k.Kind)
	}
	assert.Equal(t, "prose prose table figure", strings.Join(kinds, " "))
	row := d.Sections[1].Blocks[2].Rows
	assert.Equal(t, 0.08, row[0]["rate"].(map[string]any)["point"])
	assert.Nil(t, row[1]["rate"].(map[string]any)["point"])
	assert.Nil(t, row[2]["orders"])
	assert.Equal(t, row, d.Sections[1].Blocks[3].Data.Rows)
}

func TestJSONNeverHoldsWhatIsNotANumber(t *testing.T) {
	d := &Document{Sections: []Section{{Blocks: []Block{Table{Columns: []Column{{Key: "a"}, {Key: "b"}}, Rows: [][]Cell{{{Value: nan}, {Value: stats.Missing(0, "m")}}}}}}}}
	var b bytes.Buffer
	require.NoError(t, JSON(&b, d))
	assert.True(t, json.Valid(b.Bytes()))
	assert.Contains(t, b.String(), `"a": null`)
}
