// Package readback reads what a mapping makes of files as a book would have it,
// and compares it with what is true. Tests of mappings and of their proposals
// share it.
package readback

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

	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/ingest/layout"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// Six invented Shops with their files, and what they say as order sheets, are
// the workshop's development data (../shared/spreadsheets, nobody is real). They
// stand beside the project, however deep the package lies that tests with them.
var Shops = func() string {
	up := "."
	for range 8 {
		if _, err := os.Stat(filepath.Join(up, "go.mod")); err == nil {
			break
		}
		up = filepath.Join(up, "..")
	}
	return filepath.Join(up, "..", "shared", "spreadsheets")
}()

var ShopNames = []string{"shop-a", "shop-b", "shop-c", "shop-d", "shop-e", "shop-f"}

// Shop is the folder of a shop; its test is skipped where the shops are not beside the
// project.
func Shop(t testing.TB, name string) string {
	t.Helper()
	if _, err := os.Stat(Shops); os.IsNotExist(err) {
		t.Skip("the six shops' files are not here: " + Shops)
	}
	return filepath.Join(Shops, name)
}

// Sources are the paths of a folder's files that a shop itself would load.
func Sources(t testing.TB, folder string) (paths []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.Contains(path, "truth") && !strings.HasSuffix(path, ".md") {
			paths = append(paths, path)
		}
		return err
	}))
	return paths
}

// Files keeps the files of a folder as a load does.
func Files(t testing.TB, folder string) (files []layout.File) {
	t.Helper()
	dir := t.TempDir()
	for i, path := range Sources(t, folder) {
		table, err := sheets.Intake(context.Background(), path, filepath.Join(dir, fmt.Sprint(i, filepath.Ext(path))))
		require.NoError(t, err)
		files = append(files, layout.File{Table: table, Path: path})
	}
	return files
}

// Said are rows of order sheets by their keys: what a load would take.
type Said map[string]string

// Parts reads the rows of converted parts, by key, with their values as a
// book has them. Problems are the cells that would be refused.
func Parts(t testing.TB, parts []layout.Part) (rows map[string]Said, problems []string) {
	t.Helper()
	rows = map[string]Said{}
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
				rows[p.Sheet.Name] = Said{}
			}
			if old, ok := rows[p.Sheet.Name][key]; ok && old != value {
				problems = append(problems, fmt.Sprintf("%s %s is Said twice: %s, and %s", p.Sheet.Name, key, old, value))
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

var OrderColumns = []string{"customer_id", "received_on", "cut_on", "shipped_on", "shaft_height", "closure", "worn_tucked", "sock", "orthotic", "channel", "sex", "earlier_order_id", "remake_of_order_id"}
var FormColumns = []string{"order_id", "form_no", "received_on", "cut_from", "measurer_id", "self_measured", "ball_mark_left", "ball_mark_right", "instep_mark_left", "instep_mark_right", "irregularities"}

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
		return row["order_id"], join(OrderColumns...)
	case "forms":
		return row["form_id"], join(FormColumns...)
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

// Truth reads a shop's truth.
func Truth(t testing.TB, shop string) map[string]Said {
	rows := map[string]Said{}
	for _, name := range []string{"orders", "forms", "measurements", "outcomes"} {
		f, err := os.Open(filepath.Join(Shops, shop, "truth", name+".csv"))
		require.NoError(t, err)
		records, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		f.Close()
		rows[name] = Said{}
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

// Differences compares what was read with what is true.
func Differences(got, want map[string]Said) (out []string) {
	for _, sheet := range []string{"orders", "forms", "measurements", "outcomes"} {
		for key, value := range want[sheet] {
			if has, ok := got[sheet][key]; !ok {
				out = append(out, fmt.Sprintf("%s %s is missing (%s)", sheet, key, value))
			} else if !SameNumber(has, value) {
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

func SameNumber(a, b string) bool {
	if a == b {
		return true
	}
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return err1 == nil && err2 == nil && math.Abs(x-y) <= withinMM
}

func Some(list []string) []string {
	if len(list) > 12 {
		return append(list[:12:12], fmt.Sprint("… of ", len(list)))
	}
	return list
}
