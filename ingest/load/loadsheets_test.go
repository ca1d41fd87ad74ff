package load

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/audit"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// small are order sheets of two orders.
var small = readSmall()

func readSmall() map[string]string {
	out := map[string]string{}
	for _, name := range []string{"orders.csv", "forms.csv", "measurements.csv", "outcomes.csv"} {
		text, err := os.ReadFile(filepath.Join("testdata", "small", name))
		if err != nil {
			panic(err)
		}
		out[name] = string(text)
	}
	return out
}

// writeSheets writes small with some files replaced; an empty text leaves a
// file out.
func writeSheets(t testing.TB, changed map[string]string) string {
	dir := t.TempDir()
	all := map[string]string{}
	for name, text := range small {
		all[name] = text
	}
	for name, text := range changed {
		all[name] = text
	}
	for name, text := range all {
		if text != "" {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
		}
	}
	return dir
}

func newBook(t testing.TB) string { return filepath.Join(t.TempDir(), "shop.duckdb") }

func checksum(t testing.TB, book string) string {
	return ask(t, book, "SELECT checksum FROM loads ORDER BY load_id DESC LIMIT 1")[0]
}

func counts(r *Report) string {
	var parts []string
	for _, s := range r.Sheets {
		parts = append(parts, fmt.Sprintf("%s %d/%d/%d/%d/%d", s.Sheet, s.Read, s.Taken, s.Unchanged, s.Superseded, s.KeptOut))
	}
	return strings.Join(parts, ", ")
}

func TestLoadValues(t *testing.T) {
	r, err := smallLoaded()
	require.NoError(t, err)
	book := filepath.Join(loadedSmall, "shop.duckdb")
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, "forms 2/2/0/0/0, measurements 6/6/0/0/0, orders 2/2/0/0/0, outcomes 1/1/0/0/0", counts(r))
	assert.Equal(t, []string{"F1 left bare ball - 231.775 9 1/8 in", `F1 left bare leg 177.8 295.275 11 5/8" in`,
		"F1 left tucked leg 177.8 304.8 12 in", "F1 right bare ball - 231.775 9.125 in",
		"F1 right bare leg 177.8 292.1 11-1/2 in", "F2 left bare heel - 345.0 34.5 cm"},
		ask(t, book, "SELECT concat_ws(' ', form_id, side, clothing, point, coalesce(height_mm::VARCHAR, '-'), value_mm, value_written, unit) FROM measurements ORDER BY form_id, side, clothing, point"))
	assert.Equal(t, []string{"O1 2026-02-01 279.4 11 true", "O2 - 228.6 9 false"},
		ask(t, book, "SELECT concat_ws(' ', order_id, coalesce(shipped_on::VARCHAR, '-'), shaft_height_mm, shaft_written, worn_tucked) FROM orders ORDER BY order_id"))
	assert.Equal(t, []string{"F1 false yes", "F2 unknown yes"},
		ask(t, book, "SELECT concat_ws(' ', form_id, coalesce(ball_mark_left::VARCHAR, 'unknown'), CASE WHEN cut_from THEN 'yes' END) FROM forms ORDER BY form_id"))
	assert.Equal(t, []string{"F1 5 4 4 1 1 1 2 1", "F2 1 16 0 0 0 0 0 0"},
		ask(t, book, "SELECT concat_ws(' ', form_id, numbers, foot_left, foot_right, leg_left, leg_right, tucked, paired, paired_equal) FROM form_numbers ORDER BY form_id"))
	assert.Equal(t, []string{"2"}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_evidence"))
}

// Each bad row is told with its file, line, column, text and reason, in every
// shape a record can have: quoted line ends before it, blank lines, a
// byte-order mark, Windows line ends. With CI=true they are mended and loaded; every day
// TestMapping does that.
func TestRejects(t *testing.T) {
	forms := "\xef\xbb\xbfForm ID;Order-ID;form_no;received_on;cut_from;irregularities\r\n" +
		"F1;O1;1;2026-01-05;yes;\"bunion,\r\nleft\"\r\n" +
		"\r\n" +
		"F2;O2;one;2026-01-06;perhaps;\r\n" +
		";;;;;\r\n" +
		"F3;O9;1;2026-01-06;yes;\r\n" +
		";O2;2;06.01.2026;no;\r\n" +
		"F4;O2;2\r\n" +
		"F5;O1;2;2026-01-07;no;\r\n" +
		"F5;O1;3;2026-01-07;no;\r\n" +
		"F6;O1;2;2026-01-07;no;\r\n" +
		"F6;O1;2;2026-01-07;no;\r\n"
	measurements := `form_id,side,clothing,point,height,height_unit,value,unit
F1,left,bare,ball,,,nine,in
F1,Right,bare,ball,,,9.125,IN
F1,left,bare,leg,,,11,in
F1,left,tucked,heel,,,11,in
F1,middle,bare,heel,,,11,in
F1,left,bare,instep,,,11,ell
F2,left,bare,heel,,,34.5,cm
F2,left,bare,heel,,,34.6,cm
F9,left,bare,heel,,,34.6,cm
F2,right,bare,heel,7,in,34.6,cm
F2,right,bare,ball,,,14 5/8",in
F2,right,bare,instep,,,"14 5/8"",in
F2,right,bare,ankle,,,23,cm
`
	hostile := strings.NewReplacer("pull-on", "'; DROP TABLE orders; --", "lace-up", `"<script>alert(""1"")</script>"`, "C1", "=1+1")
	dir := writeSheets(t, map[string]string{"orders.csv": hostile.Replace(small["orders.csv"]), "forms.csv": forms, "measurements.csv": measurements})
	opt := options(dir)
	opt.Rejects = filepath.Join(t.TempDir(), "rejects.csv")
	book := newBook(t)
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	var got []string
	for _, k := range r.KeptOut {
		got = append(got, fmt.Sprintf("%s:%d %s [%s] %s", k.File, k.Line, k.Column, k.Text, k.Reason))
	}
	assert.Equal(t, []string{
		"forms.csv:5 form_no [one] is not a whole number; cut_from is not yes, no or unknown",
		"forms.csv:7 Order-ID [O9] is on no row of the sheet orders, in this load or in the book",
		"forms.csv:8 Form ID [] is empty, but a row needs it; received_on is not a day; write it as 2026-09-30",
		"forms.csv:9  [F4;O2;2] the row has fewer cells than the header's 6",
		"forms.csv:10 Form ID [F5] is on 2 rows of this load with different content; leave the right one",
		"forms.csv:11 Form ID [F5] is on 2 rows of this load with different content; leave the right one",
		"measurements.csv:2 value [nine] is not a length",
		"measurements.csv:4 height [] is empty, but a leg girth needs the height of the tape above the floor",
		"measurements.csv:5 clothing [tucked] the foot is measured bare; tucked numbers are of the leg",
		"measurements.csv:6 side [middle] is none of left, right",
		`measurements.csv:7 value [11] has the unit "ell", which is none of mm, cm, in`,
		"measurements.csv:8 value [34.5] this place of the form is on 2 rows of this load with different content; leave the right one",
		"measurements.csv:9 value [34.6] this place of the form is on 2 rows of this load with different content; leave the right one",
		"measurements.csv:10 form_id [F9] is on no row of the sheet forms, in this load or in the book",
		"measurements.csv:11 height [7] is given, but only the point leg has a height",
		`measurements.csv:13  [F2,right,bare,instep,,,"14 5/8"",in] a quote is opened and not closed as it should be; write a quote inside quotes twice ("14 5/8""")`,
	}, got)
	assert.Equal(t, "forms 9/2/1/0/6, measurements 13/3/0/0/10, orders 2/2/0/0/0, outcomes 1/1/0/0/0", counts(r))
	assert.Equal(t, []string{"=1+1 '; DROP TABLE orders; --", `C2 <script>alert("1")</script>`}, ask(t, book, "SELECT customer_id || ' ' || closure FROM orders ORDER BY ALL"),
		"what only looks dangerous is plain text")

	if breadth.Wide() {
		mendAndLoad(t, book, opt.Rejects, map[string]string{"nine": "9", "one": "1", "perhaps": "no"})
	}
}

// mendAndLoad replaces cells in a file of rejects, drops what can't be mended
// and loads it again.
func mendAndLoad(t *testing.T, book, path string, words map[string]string) {
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	reader := csv.NewReader(strings.NewReader(string(text)))
	reader.Comma = ';' // one of the sheets was written so, with decimal commas
	rows, err := reader.ReadAll()
	require.NoError(t, err)
	assert.Equal(t, "sheet", rows[0][0])
	mended := rows[:1]
	for _, row := range rows[1:] {
		changed := row[len(row)-1] == "" // a good row of the same set
		for i, c := range row {
			if w, ok := words[c]; ok {
				row[i], changed = w, true
			}
		}
		if changed {
			mended = append(mended, row)
		}
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	w := csv.NewWriter(f)
	w.Comma = ';'
	require.NoError(t, w.WriteAll(mended))
	require.NoError(t, f.Close())
	r, err := Sheets(context.Background(), book, options(path))
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, []string{"F1 left 228.6", "F1 right 231.775"},
		ask(t, book, "SELECT concat_ws(' ', form_id, side, value_mm) FROM measurements WHERE form_id = 'F1' ORDER BY side"))
	assert.Equal(t, []string{"F1", "F2", "F6"}, ask(t, book, "SELECT form_id FROM forms ORDER BY 1"))
}

// Corrected rows supersede; a sheet that holds a part of a form's numbers replaces these
// and no others, an empty value takes one back, whatever ends the lines have; nothing new
// is no load; what is as it was first is taken again; where whole forms are loaded their
// other numbers end; a column that a sheet lacks stays; a shop's settings are kept. A book
// of before all that is not taken for this one.
func TestCorrectedRowsSupersede(t *testing.T) {
	book := smallBook(t)
	first := ask(t, book, numbersQuery)
	dir := writeSheets(t, map[string]string{
		"orders.csv":       strings.Replace(small["orders.csv"], "2026-02-01", "2026-02-03", 1),
		"measurements.csv": numbersHeader + "F1,left,tucked,leg,9,in,13,in\r\nF1,left,bare,ball,,,9 1/4,in\r\nF1,right,bare,ball,,,9.125,in\nF2,left,bare,heel,,,,\r\n",
	})
	r, err := Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Equal(t, int64(2), r.Load)
	assert.Equal(t, "forms 2/0/2/0/0, measurements 4/2/2/2/0, orders 2/1/1/1/0, outcomes 1/0/1/0/0", counts(r))
	assert.Equal(t, []string{"O1 2026-02-01 1 2"}, ask(t, book, "SELECT concat_ws(' ', order_id, shipped_on, load_id, until_load) FROM orders_history"))
	assert.Equal(t, []string{"F1 left bare ball 234.95", "F1 left bare leg 295.275", "F1 left tucked leg 304.8", "F1 left tucked leg 330.2",
		"F1 right bare ball 231.775", "F1 right bare leg 292.1"}, ask(t, book, numbersQuery))
	assert.Equal(t, []string{"F1 9 1/8", "F2 34.5"}, ask(t, book, "SELECT form_id || ' ' || value_written FROM measurements_history ORDER BY 1"))
	assert.Equal(t, []string{"F1 6 0"}, ask(t, book, "SELECT concat_ws(' ', form_id, numbers, paired_equal) FROM form_numbers"), "every number of F2 is taken back")

	again, err := Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Zero(t, again.Load)

	fewer := strings.Replace(small["measurements.csv"], lineWith(small["measurements.csv"], ",tucked,"), "", 1)
	lacking := filepath.Join(t.TempDir(), "orders.csv")
	require.NoError(t, os.WriteFile(lacking, []byte("order_id,shipped_on,closure\nO1,2026-03-09,\n"), 0o644))
	settings := filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(settings, []byte(shopSettings), 0o644))
	one(t, book, "measurements.csv", fewer, func(o *Options) {
		o.WholeForms, o.Settings, o.Paths = true, settings, append(o.Paths, lacking)
	})
	assert.Equal(t, settingsKept, ask(t, book, "SELECT name || ' ' || value FROM settings ORDER BY 1"))
	assert.Equal(t, []string{"2 2"}, ask(t, book, "SELECT leg_left || ' ' || leg_right FROM form_numbers WHERE form_id = 'F1'"), "counted by the shop's heights")
	assert.Equal(t, []string{"2026-03-09 - 11"}, ask(t, book, "SELECT shipped_on || ' ' || coalesce(closure, '-') || ' ' || shaft_written FROM orders WHERE order_id = 'O1'"))
	assert.Equal(t, slices.DeleteFunc(first, func(number string) bool { return strings.Contains(number, " tucked ") }), ask(t, book, numbersQuery))

	older, err := os.ReadFile(filepath.Join(loadedSmall, "shop.duckdb"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(book, older, 0o644))
	_, err = Sheets(context.Background(), book, options(dir))
	require.ErrorIs(t, err, bookfile.ErrDamaged, "an older book in its place")
	assert.Contains(t, err.Error(), "which "+book+" does not hold any more")
}

// lineWith is the first line of a text that holds a word.
func lineWith(text, word string) string {
	from := strings.LastIndex(text[:strings.Index(text, word)], "\n") + 1
	return text[from : from+strings.Index(text[from:], "\n")+1]
}

// The rows in another order, and in two loads instead of one, make the same
// book.
func TestOrderAndHalvesDoNotMatter(t *testing.T) {
	breadth.Leave(t, "TestPartsCutThroughForms turns the rows, and TestLaterLoadsDontBringBackWhatSheetsChanged of keyed/loading loads an order in three parts")
	ctx := context.Background()
	one, two, turned := smallBook(t), newBook(t), newBook(t)
	half := func(keep, id string) string {
		changed := map[string]string{}
		for name, text := range small {
			lines := strings.SplitAfter(text, "\n")
			changed[name] = lines[0]
			for _, line := range lines[1:] {
				if strings.HasPrefix(line, keep) || strings.HasPrefix(line, id) {
					changed[name] += line
				}
			}
		}
		return writeSheets(t, changed)
	}
	for _, dir := range []string{half("O1", "F1"), half("O2", "F2")} {
		_, err := Sheets(ctx, two, options(dir))
		require.NoError(t, err)
	}
	assert.Equal(t, checksum(t, one), checksum(t, two))

	changed := map[string]string{}
	for name, text := range small {
		lines := strings.SplitAfter(strings.TrimSuffix(text, "\n"), "\n")
		changed[name] = lines[0]
		for i := len(lines) - 1; i > 0; i-- {
			changed[name] += strings.TrimSuffix(lines[i], "\n") + "\n"
		}
	}
	_, err := Sheets(ctx, turned, options(writeSheets(t, changed)))
	require.NoError(t, err)
	assert.Equal(t, checksum(t, one), checksum(t, turned))
}

func TestMissingSheet(t *testing.T) {
	book := newBook(t)
	_, err := Sheets(context.Background(), book, options(writeSheets(t, map[string]string{"outcomes.csv": "", "notes.csv": "a\n"})))
	require.ErrorContains(t, err, "the sheet outcomes too")
	_, err = os.Stat(book)
	assert.True(t, os.IsNotExist(err), "a failed first load makes no book")
}

func TestNothingTaken(t *testing.T) {
	book := newBook(t)
	empty := map[string]string{}
	for name, text := range small {
		empty[name], _, _ = strings.Cut(text, "\n")
	}
	empty["orders.csv"] += "\n,C1\n"
	_, err := Sheets(context.Background(), book, options(writeSheets(t, empty)))
	require.ErrorIs(t, err, ErrNothing)
}

// The same records as a workbook and as Parquet make the same book: the orders and forms
// of a workbook with the rest as Parquet; with CI=true all in either.
func TestWorkbookAndParquet(t *testing.T) {
	ctx := context.Background()
	one, parquet := smallBook(t), newBook(t)
	dir := writeSheets(t, nil)
	opt := options()
	if breadth.Wide() {
		xlsx := newBook(t)
		r, err := Sheets(ctx, xlsx, options(workbook(t, small)))
		require.NoError(t, err)
		assert.Empty(t, r.KeptOut)
		assert.Equal(t, checksum(t, one), checksum(t, xlsx))
	} else {
		opt.Paths = append(opt.Paths, workbook(t, map[string]string{"orders.csv": small["orders.csv"], "forms.csv": small["forms.csv"]}))
	}

	db, err := engine.Open(ctx, "", false)
	require.NoError(t, err)
	defer db.Close()
	out := t.TempDir()
	for name := range small {
		sheet := strings.TrimSuffix(name, ".csv")
		if len(opt.Paths) > 0 && (sheet == "orders" || sheet == "forms") {
			continue
		}
		_, err := db.Exec(fmt.Sprintf("COPY (SELECT * FROM read_csv(%s, all_varchar = %v)) TO %s (FORMAT parquet)",
			engine.Quote(filepath.Join(dir, name)), sheet == "measurements" || sheet == "outcomes", engine.Quote(filepath.Join(out, sheet+".parquet"))))
		require.NoError(t, err)
	}
	opt.Paths = append(opt.Paths, out)
	r, err := Sheets(ctx, parquet, opt)
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, checksum(t, one), checksum(t, parquet))
}

// workbook writes sheets as the tabs of one workbook, days and whole numbers as
// a spreadsheet program would.
func workbook(t testing.TB, tables map[string]string) string {
	f := excelize.NewFile()
	for name, text := range tables {
		tab := strings.TrimSuffix(name, ".csv")
		_, err := f.NewSheet(tab)
		require.NoError(t, err)
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		require.NoError(t, err)
		for i, row := range rows {
			for j, cell := range row {
				at, err := excelize.CoordinatesToCellName(j+1, i+1)
				require.NoError(t, err)
				var value any = cell
				if d, err := sheets.ParseDay(cell); err == nil {
					value = d
				}
				if cell != "" {
					require.NoError(t, f.SetCellValue(tab, at, value))
				}
			}
		}
	}
	path := filepath.Join(t.TempDir(), "shop.xlsx")
	require.NoError(t, f.SaveAs(path))
	return path
}

// A file in a layout of the shop's own, judged later, and a row of it that was kept out:
// told where it stands there, mended and loaded.
func TestMapping(t *testing.T) {
	book := newBook(t)
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	wide := write("fitting book.csv", `Form;Order;Came;Boot height;Who;L ball;R ball;L 7";Tucked 7";Result
F1;O1;05.01.2026;11;us;9 1/8;9,125;11 5/8;12;redo
F2;O2;06.01.2026;9;agent;x;9;;;
`)
	opt := options(wide)
	opt.Map = write("map.yaml", `from: fitting book
unit: in
days: DD.MM.YYYY
orders:
  order_id: Order
  received_on: Came
  shaft_height: Boot height
  channel: {column: Who, words: {us: shop, agent: dealer}}
forms:
  form_id: Form
  order_id: Order
  received_on: Came
  form_no: {always: 1}
  cut_from: {always: yes}
measurements:
  form_id: Form
  numbers:
    - {column: L ball, side: left, point: ball}
    - {column: R ball, side: right, point: ball}
    - {column: 'L 7"', side: left, point: leg, height: 7}
    - {column: 'Tucked 7"', side: left, clothing: tucked, point: leg, height: 7 in}
outcomes:
  order_id: Order
  reported_on: Came
  result: {column: Result, words: {redo: remade}}
`)
	opt.Rejects, opt.JudgeLater = filepath.Join(dir, "rejects.csv"), true
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Equal(t, int64(2), r.Unjudged)
	require.Len(t, notesWith(r, "the numbers of 2 forms are not judged yet: lastroom audit --book "), 1, r.Notes)
	assert.Equal(t, []string{"0"}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_evidence"))
	require.NoError(t, audit.Book(context.Background(), book, bookfile.WriterOptions{Program: "test", Now: loadedAt}, nil))
	assert.Equal(t, []string{"2"}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_evidence"))
	assert.Equal(t, "orders 2/2/0/0/0, forms 2/2/0/0/0, measurements 6/5/0/0/1, outcomes 1/1/0/0/0", counts(r))
	require.Len(t, r.KeptOut, 1)
	assert.Equal(t, sheets.Reject{File: "fitting book.csv", Line: 3, Column: "L ball", Text: "x", Reason: "is not a length"}, r.KeptOut[0])
	assert.Equal(t, []string{"F1 left bare ball 231.775", "F1 left bare leg 295.275", "F1 left tucked leg 304.8", "F1 right bare ball 231.775", "F2 right bare ball 228.6"},
		ask(t, book, "SELECT concat_ws(' ', form_id, side, clothing, point, value_mm) FROM measurements ORDER BY ALL"))
	assert.Equal(t, []string{"O1 2026-01-05 279.4 shop", "O2 2026-01-06 228.6 dealer"},
		ask(t, book, "SELECT concat_ws(' ', order_id, received_on, shaft_height_mm, channel) FROM orders ORDER BY 1"))
	assert.Equal(t, []string{"remade 2026-01-05"}, ask(t, book, "SELECT result || ' ' || reported_on FROM outcomes"))

	text, err := os.ReadFile(opt.Rejects)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(opt.Rejects, []byte(strings.Replace(string(text), ";x;", ";9 1/4;", 1)), 0o644))
	opt.Paths, opt.Rejects, opt.JudgeLater = []string{opt.Rejects}, "", false
	r, err = Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	assert.Equal(t, []string{"left 234.95", "right 228.6"}, ask(t, book, "SELECT side || ' ' || value_mm FROM measurements WHERE form_id = 'F2' ORDER BY side"))
}

func TestJudgeLater(t *testing.T) {
	breadth.Leave(t, "TestMapping judges later")
	book := newBook(t)
	opt := options(writeSheets(t, nil))
	opt.JudgeLater = true
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Equal(t, int64(2), r.Unjudged)
	require.Len(t, r.Notes, 1)
	assert.Contains(t, r.Notes[0], "the numbers of 2 forms are not judged yet: lastroom audit --book ")
	assert.Equal(t, []string{"0"}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_evidence"))
	require.NoError(t, audit.Book(context.Background(), book, bookfile.WriterOptions{Program: "test", Now: loadedAt}, nil))
	assert.Equal(t, []string{"2"}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_evidence"))
}

var (
	shopSettings = "first_leg_height: 5 in\nleg_step: 2 in\nankle_girth: none\n"
	settingsKept = []string{"ankle_girth none", "first_leg_height_mm 127", "leg_step_mm 50.8"}
)

func TestSettings(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede loads them beside sheets")
	book := smallBook(t)
	opt := options(writeSheets(t, nil))
	opt.Settings = filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(opt.Settings, []byte(shopSettings), 0o644))
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Equal(t, int64(2), r.Load, "the sheets are in, the settings are new")
	assert.Equal(t, []string{"2 2"}, ask(t, book, "SELECT leg_left || ' ' || leg_right FROM form_numbers WHERE form_id = 'F1'"))
	assert.Equal(t, settingsKept, ask(t, book, "SELECT name || ' ' || value FROM settings ORDER BY 1"))
}
