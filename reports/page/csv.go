package page

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

// Tables are all tables of a document in the order in which they stand, those
// behind its figures included: one CSV file each.
func Tables(d *Document) []Table {
	var out []Table
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			switch b := b.(type) {
			case Table:
				out = append(out, b)
			case Figure:
				if len(b.Data.Columns) > 0 {
					out = append(out, b.Data)
				}
			}
		}
	}
	return out
}

// CSV writes a table as RFC 4180 with one header row of keys. Numbers stand
// unrounded; a number that is not given is empty. A column of estimates
// becomes four: the point under the column's key, then _low, _high and _n.
// Text that a spreadsheet could take for a formula gets a leading apostrophe.
func CSV(w io.Writer, t *Table) error {
	cw := csv.NewWriter(w)
	wide := estimateColumns(t)
	var head []string
	for j, c := range t.Columns {
		head = append(head, c.Key)
		if wide[j] {
			head = append(head, c.Key+"_low", c.Key+"_high", c.Key+"_n")
		}
	}
	if err := cw.Write(head); err != nil {
		return err
	}
	for _, row := range t.Rows {
		rec := make([]string, 0, len(head))
		for j := range t.Columns {
			var c Cell
			if j < len(row) {
				c = row[j]
			}
			rec = append(rec, fields(c, wide[j])...)
		}
		if err := cw.Write(rec); err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}

func estimateColumns(t *Table) []bool {
	wide := make([]bool, len(t.Columns))
	for _, row := range t.Rows {
		for j := 0; j < len(row) && j < len(wide); j++ {
			if _, ok := row[j].Value.(stats.Estimate); ok {
				wide[j] = true
			}
		}
	}
	return wide
}

func fields(c Cell, wide bool) []string {
	if !wide {
		return []string{field(c.Value)}
	}
	e, ok := c.Value.(stats.Estimate)
	if !ok {
		return []string{field(c.Value), "", "", ""}
	}
	return []string{float(e.Point), float(e.Low), float(e.High), strconv.Itoa(e.N)}
}

func field(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return guard(v)
	case int:
		return strconv.Itoa(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return float(v)
	case bool:
		return strconv.FormatBool(v)
	case cohort.Day:
		return v.String()
	case cohort.Month:
		return v.String()
	case stats.Estimate:
		return float(v.Point)
	}
	return guard(fmt.Sprint(v))
}

func float(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// guard keeps a spreadsheet from reading text as a formula.
func guard(s string) string {
	if s == "" {
		return s
	}
	switch s[0] {
	case '=', '+', '-', '@', '\t', '\r', '\n':
		return "'" + s
	}
	return s
}
