// Package workbooks writes small workbooks for tests, part by part, with what
// spreadsheet programs put in them: hidden tabs and rows, number formats,
// formulas with their values, repeated cells, comments.
package workbooks

import (
	"archive/zip"
	"fmt"
	"html"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A Tab is a table of cells: texts, float64 numbers, or Cells.
type Tab struct {
	Name       string
	Hidden     bool
	Rows       [][]any
	HiddenRows []int // from 0
}

// A Cell is a number as a format shows it, or what a formula gave.
type Cell struct {
	Value   float64
	Style   int // Day, Centimetres
	Formula string
}

// Number formats.
const (
	Day         = 1
	Centimetres = 2 // 0.0" cm"
)

// File writes a zip file of parts.
func File(t testing.TB, path string, parts map[string]string) {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	z := zip.NewWriter(f)
	for name, text := range parts {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write([]byte(text))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	require.NoError(t, f.Close())
}

// XLSX writes a workbook (ECMA-376 part 1).
func XLSX(t testing.TB, path string, tabs ...Tab) {
	var list, links strings.Builder
	parts := map[string]string{"xl/styles.xml": `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="0.0&quot; cm&quot;"/></numFmts>` +
		`<cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/></cellXfs></styleSheet>`}
	for i, tab := range tabs {
		state := ""
		if tab.Hidden {
			state = ` state="hidden"`
		}
		fmt.Fprintf(&list, `<sheet name="%s" sheetId="%d" r:id="r%d"%s/>`, html.EscapeString(tab.Name), i+1, i, state)
		fmt.Fprintf(&links, `<Relationship Id="r%d" Target="worksheets/sheet%d.xml"/>`, i, i)
		var b strings.Builder
		for r, row := range tab.Rows {
			fmt.Fprintf(&b, `<row r="%d"`, r+1)
			for _, h := range tab.HiddenRows {
				if h == r {
					b.WriteString(` hidden="1"`)
				}
			}
			b.WriteByte('>')
			for c, v := range row {
				xlsxCell(&b, string(rune('A'+c))+fmt.Sprint(r+1), v)
			}
			b.WriteString("</row>")
		}
		parts[fmt.Sprintf("xl/worksheets/sheet%d.xml", i)] = "<worksheet><sheetData>" + b.String() + "</sheetData></worksheet>"
	}
	parts["xl/workbook.xml"] = `<workbook xmlns:r="r"><sheets>` + list.String() + `</sheets></workbook>`
	parts["xl/_rels/workbook.xml.rels"] = "<Relationships>" + links.String() + "</Relationships>"
	File(t, path, parts)
}

func xlsxCell(b *strings.Builder, at string, v any) {
	switch v := v.(type) {
	case string:
		if v != "" {
			fmt.Fprintf(b, `<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, at, html.EscapeString(v))
		}
	case float64:
		fmt.Fprintf(b, `<c r="%s"><v>%v</v></c>`, at, v)
	case Cell:
		formula := ""
		if v.Formula != "" {
			formula = "<f>" + html.EscapeString(v.Formula) + "</f>"
		}
		fmt.Fprintf(b, `<c r="%s" s="%d">%s<v>%v</v></c>`, at, v.Style, formula, v.Value)
	}
}

// ODS writes a workbook of one tab (ISO/IEC 26300): texts and numbers, each with
// how it is shown.
func ODS(t testing.TB, path, tab, rows string) {
	File(t, path, map[string]string{"content.xml": `<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x" xmlns:style="s"><office:body><office:spreadsheet>` +
		`<table:table table:name="` + tab + `">` + rows + `</table:table></office:spreadsheet></office:body></office:document-content>`})
}
