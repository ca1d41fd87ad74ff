package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// A bomb is a workbook that is small packed and large unpacked.
type bomb struct {
	ending string
	bytes  func() []byte
}

type parts map[string]func(w io.Writer)

// packed are parts in a zip file, in the order of their names.
func (p parts) packed() []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	var names []string
	for name := range p {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		w, err := z.Create(name)
		if err != nil {
			panic(err)
		}
		p[name](w)
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func texts(list ...string) func(io.Writer) {
	return func(w io.Writer) {
		for _, s := range list {
			_, _ = io.WriteString(w, s)
		}
	}
}

// times writes a text n times between two others.
func times(before, text string, n int, after string) func(io.Writer) {
	return func(w io.Writer) {
		_, _ = io.WriteString(w, before)
		block := strings.Repeat(text, 1+min(n, 1000)-1)
		for ; n >= 1000; n -= 1000 {
			_, _ = io.WriteString(w, block)
		}
		_, _ = io.WriteString(w, strings.Repeat(text, n)+after)
	}
}

const (
	sheetStart = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>order_id</t></is></c><c r="B1" t="inlineStr"><is><t>customer_id</t></is></c></row>`
	sheetEnd   = `</sheetData></worksheet>`
	relType    = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	odsStart   = `<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x"><office:body><office:spreadsheet><table:table table:name="orders"><table:table-row><table:table-cell office:value-type="string"><text:p>order_id</text:p></table:table-cell></table:table-row>`
	odsEnd     = `</table:table></office:spreadsheet></office:body></office:document-content>`
)

// xlsx is a workbook of so many tabs, all of one sheet, with other parts besides.
func xlsx(tabs int, sheet func(io.Writer), more parts) func() []byte {
	return func() []byte {
		p := parts{"xl/worksheets/sheet1.xml": sheet}
		var list, rels strings.Builder
		for i := range tabs {
			name := "orders"
			if i > 0 {
				name = fmt.Sprintf("orders%d", i)
			}
			fmt.Fprintf(&list, `<sheet name="%s" sheetId="%d" r:id="r%d"/>`, name, i+1, i)
			fmt.Fprintf(&rels, `<Relationship Id="r%d" Type="%s/worksheet" Target="worksheets/sheet1.xml"/>`, i, relType)
		}
		p["xl/workbook.xml"] = texts(`<workbook xmlns:r="`+relType+`"><sheets>`, list.String(), `</sheets></workbook>`)
		p["xl/_rels/workbook.xml.rels"] = texts(`<Relationships>`, rels.String(), `</Relationships>`)
		p["[Content_Types].xml"] = texts(`<Types/>`)
		for name, f := range more {
			p[name] = f
		}
		return p.packed()
	}
}

func ods(body func(io.Writer)) func() []byte {
	return func() []byte {
		return parts{"mimetype": texts("application/vnd.oasis.opendocument.spreadsheet"), "content.xml": body}.packed()
	}
}

func odsRows(text string, n int) func() []byte {
	return ods(times(odsStart, text, n, odsEnd))
}

func shared(f func(io.Writer)) parts { return parts{"xl/sharedStrings.xml": f} }

var fewRows = times(sheetStart, `<row><c t="s"><v>0</v></c></row>`, 10, sheetEnd)

var workbookBombs = map[string]bomb{
	"short shared texts":       {"xlsx", xlsx(1, fewRows, shared(times("<sst>", "<si><t>a</t></si>", 1_900_000, "</sst>")))},
	"long shared texts":        {"xlsx", xlsx(1, fewRows, shared(times("<sst>", "<si><t>"+strings.Repeat("a", 30_000)+"</t></si>", 2000, "</sst>")))},
	"shared texts read often":  {"xlsx", xlsx(1500, fewRows, shared(times("<sst>", "<si><t>a</t></si>", 500_000, "</sst>")))},
	"one shared text, used":    {"xlsx", xlsx(1, times(sheetStart, `<row><c t="s"><v>0</v></c><c t="s"><v>0</v></c></row>`, 200_000, sheetEnd), shared(texts("<sst><si><t>", strings.Repeat("a", 32_000), "</t></si></sst>")))},
	"shared texts in pieces":   {"xlsx", xlsx(1, fewRows, shared(times("<sst><si>", "<r><t>a</t></r>", 3_000_000, "</si></sst>")))},
	"a shared text of 50 MB":   {"xlsx", xlsx(1, fewRows, shared(times("<sst><si><t>", "a", 50_000_000, "</t></si></sst>")))},
	"rows":                     {"xlsx", xlsx(1, times(sheetStart, `<row><c><v>1</v></c></row>`, 1_040_000, sheetEnd), nil)},
	"empty rows":               {"xlsx", xlsx(1, times(sheetStart, `<row/>`, 8_000_000, sheetEnd), nil)},
	"wide rows":                {"xlsx", xlsx(1, times(sheetStart, `<row><c r="ALL5"><v>1</v></c></row>`, 300_000, sheetEnd), nil)},
	"rows far apart":           {"xlsx", xlsx(1, texts(sheetStart, `<row r="1048576"><c r="XFD1048576"><v>1</v></c></row><row r="99999999999999999999"><c r="ZZZZZZZZZZ9"><v>1</v></c></row>`, sheetEnd), nil)},
	"the last column":          {"xlsx", xlsx(1, times(sheetStart, `<row><c r="ALL2"/></row>`, 500_000, sheetEnd), nil)},
	"a header of 1,000":        {"xlsx", xlsx(1, func(w io.Writer) { wideSheet(w, 1000, 10_000) }, nil)},
	"many tabs":                {"xlsx", xlsx(9000, fewRows, nil)},
	"many tabs of many rows":   {"xlsx", xlsx(200, times(sheetStart, `<row><c><v>1</v></c></row>`, 100_000, sheetEnd), nil)},
	"deep tags":                {"xlsx", xlsx(1, times(sheetStart, `<a>`, 10_000_000, sheetEnd), nil)},
	"many attributes":          {"xlsx", xlsx(1, times(sheetStart+`<row `, `a="b" `, 150_000, `/>`+sheetEnd), nil)},
	"a long attribute":         {"xlsx", xlsx(1, times(sheetStart+`<row r="`, `1`, 40_000_000, `"/>`+sheetEnd), nil)},
	"a long cell":              {"xlsx", xlsx(1, times(sheetStart+`<row><c t="inlineStr"><is><t>`, `a`, 40_000_000, `</t></is></c></row>`+sheetEnd), nil)},
	"a cell in pieces":         {"xlsx", xlsx(1, times(sheetStart+`<row><c t="inlineStr"><is>`, `<t>a</t>`, 6_000_000, `</is></c></row>`+sheetEnd), nil)},
	"merged cells":             {"xlsx", xlsx(1, times(strings.TrimSuffix(sheetStart, "")+`</sheetData><mergeCells>`, `<mergeCell ref="A1:ALL1048576"/>`, 1_000_000, `</mergeCells></worksheet>`), nil)},
	"number formats":           {"xlsx", xlsx(1, fewRows, parts{"xl/styles.xml": times(`<styleSheet><numFmts>`, `<numFmt numFmtId="170" formatCode="0.0&quot; cm&quot;"/>`, 900_000, `</numFmts></styleSheet>`)})},
	"styles":                   {"xlsx", xlsx(1, fewRows, parts{"xl/styles.xml": times(`<styleSheet><cellXfs>`, `<xf numFmtId="170"/>`, 2_500_000, `</cellXfs></styleSheet>`)})},
	"a long number format":     {"xlsx", xlsx(1, fewRows, parts{"xl/styles.xml": times(`<styleSheet><numFmts><numFmt numFmtId="170" formatCode="`, `[`, 900_000, `"/></numFmts></styleSheet>`)})},
	"relationships":            {"xlsx", xlsx(1, fewRows, parts{"xl/_rels/workbook.xml.rels": times("<Relationships>", `<Relationship Id="r0" Target="worksheets/sheet1.xml"/>`, 1_000_000, "</Relationships>")})},
	"names of tabs":            {"xlsx", xlsx(1, fewRows, parts{"xl/workbook.xml": times(`<workbook><sheets>`, `<sheet name="orders" r:id="r0"/>`, 1_500_000, `</sheets></workbook>`)})},
	"a name of a megabyte":     {"xlsx", xlsx(1, fewRows, parts{"xl/workbook.xml": times(`<workbook><sheets><sheet r:id="r0" name="`, `n`, 900_000, `"/></sheets></workbook>`)})},
	"comments":                 {"xlsx", xlsx(1, times(sheetStart+`<!--`, `-`, 50_000_000, `-->`+sheetEnd), nil)},
	"directives":               {"xlsx", xlsx(1, times(`<!DOCTYPE a [`, `<!ENTITY a "b">`, 3_000_000, `]>`+sheetStart+sheetEnd), nil)},
	"spaces":                   {"xlsx", xlsx(1, times(sheetStart, ` `, 60_000_000, sheetEnd), nil)},
	"many parts":               {"xlsx", func() []byte { return manyParts(8_000) }},
	"a part twice":             {"xlsx", func() []byte { return append(xlsx(1, fewRows, nil)(), xlsx(1, fewRows, nil)()...) }},
	"different numbers":        {"xlsx", xlsx(1, func(w io.Writer) { differentNumbers(w) }, nil)},
	"repeated cells":           {"ods", odsRows(`<table:table-row><table:table-cell office:value-type="string" table:number-columns-repeated="16384"><text:p>a</text:p></table:table-cell></table:table-row>`, 1000)},
	"repeated rows":            {"ods", odsRows(`<table:table-row table:number-rows-repeated="1048576"><table:table-cell office:value-type="string"><text:p>a</text:p></table:table-cell></table:table-row>`, 1)},
	"rows repeated 1000 times": {"ods", odsRows(`<table:table-row table:number-rows-repeated="1000"><table:table-cell office:value-type="string" table:number-columns-repeated="900"><text:p>a</text:p></table:table-cell></table:table-row>`, 200)},
	"tables of repeated rows":  {"ods", ods(odsTables)},
	"rows without a number":    {"xlsx", xlsx(1, times(sheetStart, `<row><c/><c><v>1</v></c></row>`, 800_000, sheetEnd), nil)},
	"huge repeats":             {"ods", odsRows(`<table:table-row table:number-rows-repeated="9223372036854775807"><table:table-cell table:number-columns-repeated="9223372036854775807"/></table:table-row>`, 1000)},
	"a text of 50 MB":          {"ods", ods(times(odsStart+`<table:table-row><table:table-cell office:value-type="string"><text:p>`, "a", 50_000_000, `</text:p></table:table-cell></table:table-row>`+odsEnd))},
	"spaces in a text":         {"ods", odsRows(`<table:table-row><table:table-cell office:value-type="string"><text:p><text:s text:c="99999999"/></text:p></table:table-cell></table:table-row>`, 1000)},
	"paragraphs":               {"ods", ods(times(odsStart+`<table:table-row><table:table-cell office:value-type="string">`, `<text:p>a</text:p>`, 3_000_000, `</table:table-cell></table:table-row>`+odsEnd))},
	"deep spans":               {"ods", ods(times(odsStart, `<text:span>`, 5_000_000, odsEnd))},
	"tables":                   {"ods", ods(times(odsStart, odsEnd[:len("</table:table>")]+`<table:table table:name="orders">`, 1_200_000, odsEnd))},
	"rows of cells":            {"ods", odsRows(`<table:table-row><table:table-cell office:value="1" office:value-type="float"><text:p>1</text:p></table:table-cell></table:table-row>`, 380_000)},
}

// odsTables are tables that look like orders, of millions of repeated cells each.
func odsTables(w io.Writer) {
	_, _ = io.WriteString(w, odsStart[:strings.Index(odsStart, "<table:table ")])
	cell := `<table:table-cell office:value-type="string"><text:p>%s</text:p></table:table-cell>`
	head := `<table:table-row>` + fmt.Sprintf(cell, "Order") + fmt.Sprintf(cell, "Customer") + `</table:table-row>`
	rows := `<table:table-row table:number-rows-repeated="1000"><table:table-cell office:value-type="string" table:number-columns-repeated="900"><text:p>a</text:p></table:table-cell></table:table-row>`
	for i := range 40 {
		fmt.Fprintf(w, `<table:table table:name="t%d">%s%s</table:table>`, i, head, strings.Repeat(rows, 5))
	}
	_, _ = io.WriteString(w, odsEnd[len("</table:table>"):])
}

func wideSheet(w io.Writer, columns, rows int) {
	_, _ = io.WriteString(w, `<worksheet><sheetData><row r="1">`)
	for i := range columns {
		fmt.Fprintf(w, `<c t="inlineStr"><is><t>c%d</t></is></c>`, i)
	}
	_, _ = io.WriteString(w, `</row>`)
	row := `<row>` + strings.Repeat(`<c/>`, columns-1) + `<c><v>1</v></c></row>`
	for range rows {
		_, _ = io.WriteString(w, row)
	}
	_, _ = io.WriteString(w, sheetEnd)
}

func differentNumbers(w io.Writer) {
	_, _ = io.WriteString(w, sheetStart)
	for i := range 150_000 {
		fmt.Fprintf(w, `<row><c><v>%d</v></c><c><v>%d</v></c></row>`, i, i)
	}
	_, _ = io.WriteString(w, sheetEnd)
}

func manyParts(n int) []byte {
	p := parts{}
	for i := range n {
		p[fmt.Sprintf("x/%d", i)] = texts("")
	}
	return p.packed()
}

// No page takes over 5 s or 300 MB for a request under 1 MB. What a run tries of files is
// the request that once cost most, a wide one a few, -campaign all.
func TestSmallRequestsCostLittle(t *testing.T) {
	if _, err := os.Stat("/proc/self/clear_refs"); err != nil {
		t.Skip("what a process used can't be read here")
	}
	t.Parallel()
	own := ownDemo(t)
	w := watchedService(t, filepath.Join(own, "shop.duckdb"))
	const form = "application/x-www-form-urlencoded"
	long := strings.Repeat("x", 900_000)
	fields := func(n int) []byte {
		var b bytes.Buffer
		for i := range n {
			fmt.Fprintf(&b, "n%d=1&", i)
		}
		return b.Bytes()
	}
	// Every page that takes a form: each long field, and many fields.
	for path, names := range formsOf {
		if !breadth.Campaign() && path != "/desk" && path != "/find" {
			continue
		}
		for _, name := range names {
			w.ask("long "+name+" to "+path, path, form, []byte(name+"="+long), nil)
			if !breadth.Campaign() {
				break
			}
		}
		w.ask("many fields to "+path, path, form, fields(90_000), nil)
		if breadth.Campaign() {
			w.ask("one field often to "+path, path, form, bytes.Repeat([]byte(names[0]+"=1&"), 60_000), nil)
			w.ask("escapes to "+path, path, form, []byte(names[0]+"="+strings.Repeat("%00", 300_000)), nil)
			w.ask("semicolons to "+path, path, form, bytes.Repeat([]byte(";"), 900_000), nil)
			w.ask("parts to "+path, path, "multipart/form-data; boundary=b", bytes.Repeat([]byte("--b\r\nContent-Disposition: form-data; name=\"x\"\r\n\r\n\r\n"), 17_000), nil)
		}
	}
	desk := url.Values{"unit": {"in"}, "shaft_unit": {"in"}, "shaft": {"14"}}
	for _, side := range []string{"left", "right"} {
		for _, point := range []string{"length", "ball", "instep", "heel"} {
			desk.Set("n-"+side+"-bare-"+point, strings.Repeat("9", 110_000))
		}
	}
	w.ask("long numbers at the desk", "/desk", form, []byte(desk.Encode()), nil)
	big := strings.Repeat("y", 25_000)
	for _, path := range []string{"/", "/runs", "/compare?before=" + big, "/compare?before=a&after=" + big, "/decisions?run=" + big, "/order/" + big, "/form/" + big, "/run/" + big, "/notebook/" + big, "/edit/" + big, "/job/" + big, "/" + strings.Repeat("a/", 12_000), "/?" + strings.Repeat("a=b&", 6_000)} {
		w.ask("GET "+path[:min(len(path), 30)], path, "", nil, nil)
	}
	w.ask("cookies", "/", "", nil, func(r *http.Request) {
		for i := range 2000 {
			r.AddCookie(&http.Cookie{Name: fmt.Sprint("c", i), Value: "x"})
		}
	})
	w.ask("headers", "/", "", nil, func(r *http.Request) {
		for i := range 900 {
			r.Header.Add(fmt.Sprint("X-", i), "x")
		}
	})
	always := []string{"notebook: a table without ends", "sheet: workbook of many tabs of many rows", "notebook: front matter, deep", "sheet: workbook of different numbers"}
	if !breadth.Wide() {
		always = always[:2]
	}
	for _, in := range sortedKeys(hostileFiles()) {
		f := hostileFiles()[in]
		if !breadth.Campaign() && !slices.Contains(always, in) {
			continue
		}
		switch f.kind {
		case "notebook":
			w.ask("preview: "+in, "/edit/hostile", form, []byte(url.Values{"do": {"preview"}, "text": {string(f.text(""))}}.Encode()), nil)
		case "sheet":
			if f.name != "orders.parquet" {
				t.Run(in, func(t *testing.T) {
					w := w
					if breadth.Wide() { // loads add up in a book, so each of several has one of its own
						w = watchedService(t, filepath.Join(ownDemo(t), "shop.duckdb"))
					}
					body, typ := upload(f.name, f.text(""))
					w.ask("upload: "+in, "/sheets/load", typ, body, nil)
					w.ask("spreadsheet: "+in, "/spreadsheets", typ, body, nil)
				})
			}
		case "yaml":
			body, typ := upload("mapping.yaml", f.text(""))
			w.ask("mapping: "+in, "/sheets/load", typ, body, nil)
		}
	}
}

// formsOf are the pages that take a form, with its fields.
var formsOf = map[string][]string{
	"/enter": {"token"}, "/leave": {"x"}, "/notebook/measurements/run": {"as_of"}, "/job/x/stop": {"x"}, "/find": {"order"}, "/practice/old": {"order", "answer"}, "/practice": {"name", "forms", "seed"},
	"/session":  {"id", "day", "instructor", "measurers", "subjects", "spot", "lot"},
	"/edit/new": {"text", "name", "version", "do"}, "/decisions": {"words", "rule", "who", "run", "revisit", "looks_at"}, "/sheets/load": {"sheets"}, "/demo": {"x"},
	"/desk": {"shaft", "irregularities", "form_id", "unit"}, "/desk/doubts": {"shaft"}, "/desk/letter": {"irregularities"},
}

func sortedKeys[T any](m map[string]T) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func upload(name string, text []byte) ([]byte, string) {
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	w, err := m.CreateFormFile("sheets", name)
	if err == nil {
		_, err = w.Write(text)
	}
	if err != nil || m.Close() != nil {
		panic("a form in memory can't be written")
	}
	return b.Bytes(), m.FormDataContentType()
}

// watchedService starts the service in a process of its own.
func watchedService(t *testing.T, book string) watched {
	t.Helper()
	c := exec.Command("/bin/sh", "-c", fmt.Sprintf(`ulimit -d %d; exec lastroom serve --book "$1" --addr 127.0.0.1:0`, 4*mostMemory<<10), "sh", book)
	var out, errs lockedBuffer
	c.Stdout, c.Stderr = &out, &errs
	require.NoError(t, c.Start())
	t.Cleanup(func() {
		_ = c.Process.Signal(os.Interrupt)
		require.NoError(t, c.Wait(), errs.String())
		require.NotContains(t, errs.String(), "goroutine ")
	})
	address := regexp.MustCompile(`http://127\.0\.0\.1:\d+`)
	for range 600 {
		if a := address.FindString(out.String()); a != "" {
			w := watched{t, a, c.Process.Pid}
			requireOK(t, a, "/practice/old") // the book is open, the desk is ready
			return w
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the service did not start: " + errs.String())
	return watched{}
}
