package layout

import (
	"context"
	"encoding/csv"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// Six invented shops with their files, and what they say as order sheets, are
// the workshop's development data (../shared/spreadsheets, nobody is real).
const shops = "../../../shared/spreadsheets"

var shopNames = []string{"shop-a", "shop-b", "shop-c", "shop-d", "shop-e", "shop-f"}

// filesOf keeps the files of a shop as a load does.
func filesOf(t testing.TB, root string) (files []File) {
	t.Helper()
	dir := t.TempDir()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.Contains(path, "truth") || strings.HasSuffix(path, ".md") {
			return err
		}
		table, err := sheets.Intake(context.Background(), path, filepath.Join(dir, fmt.Sprint(len(files), filepath.Ext(path))))
		files = append(files, File{table, path})
		return err
	})
	if os.IsNotExist(err) {
		t.Skip("the six shops' files are not here: " + root)
	}
	require.NoError(t, err)
	return files
}

// said are rows of order sheets by their keys: what a load would take.
type said map[string]string

// readParts reads the rows of converted parts, by key, with their values as a
// book has them. Problems are the cells that would be refused.
func readParts(t testing.TB, parts []Part) (rows map[string]said, problems []string) {
	t.Helper()
	rows = map[string]said{}
	for _, p := range parts {
		f, err := os.Open(p.Table.Read)
		require.NoError(t, err)
		r := csv.NewReader(f)
		r.Comma = rune(p.Table.Sep)
		records, err := r.ReadAll()
		require.NoError(t, err)
		f.Close()
		header := records[0]
		require.Len(t, p.Table.RowNo, len(records)-1, "a place for every row")
		for no, record := range records[1:] {
			row := map[string]string{}
			for i, text := range record {
				row[header[i]] = text
			}
			for _, name := range header {
				c, ok := p.Sheet.Column(name)
				require.True(t, ok, name)
				unit := form.NoUnit
				if name == "value" {
					unit, _ = lengths.ParseUnit(row["unit"])
				}
				if name == "height" {
					unit, _ = lengths.ParseUnit(row["height_unit"])
				}
				v, err := c.Parse(row[name], unit, lengths.Options{DecimalComma: p.Table.Sep != ','})
				cell, _ := p.Table.Place(int64(no), name)
				if err != nil {
					problems = append(problems, fmt.Sprintf("%s %s row %d %s %s %q %s", p.Table.Name, p.Table.Tab, p.Table.RowNo[no], cell, name, row[name], err))
				}
				row[name] = valueText(c, v)
			}
			key, value := keyed(p.Sheet.Name, row)
			if rows[p.Sheet.Name] == nil {
				rows[p.Sheet.Name] = said{}
			}
			if old, ok := rows[p.Sheet.Name][key]; ok && old != value {
				problems = append(problems, fmt.Sprintf("%s %s is said twice: %s, and %s", p.Sheet.Name, key, old, value))
			}
			rows[p.Sheet.Name][key] = value
		}
	}
	return rows, problems
}

func valueText(c sheets.Column, v sheets.Value) string {
	if !v.Known {
		return ""
	}
	switch c.Kind {
	case sheets.Day:
		return v.Day.Format("2006-01-02")
	case sheets.YesNo:
		return map[bool]string{true: "yes", false: "no"}[v.Yes]
	case sheets.Whole, sheets.Money, sheets.Length:
		return strconv.FormatFloat(math.Round(v.Number*100)/100, 'f', -1, 64)
	}
	return v.Text
}

var orderColumns = []string{"customer_id", "received_on", "cut_on", "shipped_on", "shaft_height", "closure", "worn_tucked", "sock", "orthotic", "channel", "sex", "earlier_order_id", "remake_of_order_id"}
var formColumns = []string{"order_id", "form_no", "received_on", "cut_from", "measurer_id", "self_measured", "ball_mark_left", "ball_mark_right", "instep_mark_left", "instep_mark_right", "irregularities"}

// keyed is the key of a row of an order sheet, and what else it says.
func keyed(sheet string, row map[string]string) (key, value string) {
	join := func(names ...string) string {
		var out []string
		for _, n := range names {
			out = append(out, row[n])
		}
		return strings.Join(out, "|")
	}
	switch sheet {
	case "orders":
		return row["order_id"], join(orderColumns...)
	case "forms":
		return row["form_id"], join(formColumns...)
	case "measurements":
		if row["clothing"] == "" {
			row["clothing"] = "bare"
		}
		return join("form_id", "side", "clothing", "point", "height"), row["value"]
	case "outcomes":
		return join("order_id", "reported_on", "result"), join("zone", "direction", "side", "cause", "cost")
	}
	return join("item"), join("value")
}

// truthOf reads a shop's truth.
func truthOf(t testing.TB, shop string) map[string]said {
	rows := map[string]said{}
	for _, name := range []string{"orders", "forms", "measurements", "outcomes"} {
		f, err := os.Open(filepath.Join(shops, shop, "truth", name+".csv"))
		require.NoError(t, err)
		records, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		f.Close()
		rows[name] = said{}
		for _, record := range records[1:] {
			row := map[string]string{}
			for i, h := range records[0] {
				h = strings.TrimSuffix(h, "_mm")
				row[h] = record[i]
				if x, err := strconv.ParseFloat(record[i], 64); err == nil && (h == "value" || h == "height" || h == "shaft_height" || h == "cost") {
					row[h] = strconv.FormatFloat(x, 'f', -1, 64)
				}
			}
			key, value := keyed(name, row)
			rows[name][key] = value
		}
	}
	return rows
}

// differences compares what was read with what is true.
func differences(got, want map[string]said) (out []string) {
	for _, sheet := range []string{"orders", "forms", "measurements", "outcomes"} {
		for key, value := range want[sheet] {
			if has, ok := got[sheet][key]; !ok {
				out = append(out, fmt.Sprintf("%s %s is missing (%s)", sheet, key, value))
			} else if !sameNumber(has, value) {
				out = append(out, fmt.Sprintf("%s %s: read %s, is %s", sheet, key, has, value))
			}
		}
		for key, value := range got[sheet] {
			if _, ok := want[sheet][key]; !ok {
				out = append(out, fmt.Sprintf("%s %s is invented (%s)", sheet, key, value))
			}
		}
	}
	sort.Strings(out)
	return out
}

// withinMM is how far a number may be from the truth, which is rounded to
// 0.01 mm.
const withinMM = 0.02

func sameNumber(a, b string) bool {
	if a == b {
		return true
	}
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return err1 == nil && err2 == nil && math.Abs(x-y) <= withinMM
}

// Every order, form, number and report of six shops is read through a mapping
// made by hand: none missing, none invented, none on another side.
func TestSixShops(t *testing.T) {
	for _, shop := range shopNames {
		t.Run(shop, func(t *testing.T) {
			m, err := Read("../../testdata/layouts/" + shop + ".yaml")
			require.NoError(t, err)
			lines := strings.Count(string(m.Text), "\n")
			assert.LessOrEqual(t, lines, 60, "lines of the mapping")
			files := filesOf(t, filepath.Join(shops, shop))
			c, err := m.Convert(context.Background(), files, t.TempDir())
			require.NoError(t, err)
			rows, problems := readParts(t, c.Parts)
			for _, n := range c.Notes {
				t.Log(n)
			}
			for _, p := range c.Parts {
				if len(p.Unused) > 0 {
					t.Log(p.Table.Name, p.Table.Tab, "not used:", p.Unused)
				}
			}
			assert.Empty(t, c.Rejects)
			assert.Empty(t, head10(problems))
			assert.Empty(t, head10(differences(rows, truthOf(t, shop))))
		})
	}
}

func head10(list []string) []string {
	if len(list) > 12 {
		return append(list[:12:12], fmt.Sprint("… of ", len(list)))
	}
	return list
}
