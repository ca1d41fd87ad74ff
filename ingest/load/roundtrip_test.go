package load

import (
	"context"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/grid/testdata/workbooks"
)

var roundTrips = flag.Int("roundtrips", 0, "how many loads TestRejectsRoundTrip mends, five kinds of input in turn; 0: one of each, with CI=true")

// Rows kept out of whatever input it was are refused again as they stand, and
// mended in their file make the book that the sheets without the mistakes describe:
// folders and files of one name, tabs, separators, decimal signs,
// repeated headers, texts that a spreadsheet would run. Invented orders.
func TestRejectsRoundTrip(t *testing.T) {
	count := *roundTrips
	if count == 0 {
		breadth.Leave(t, "TestRejects tells mistakes of every kind in order sheets, and TestMapping mends one of a file with a mapping")
		count = 5
	}
	for seed := range count {
		t.Run(fmt.Sprint(seed), func(t *testing.T) { roundTrip(t, seed) })
	}
}

func roundTrip(t *testing.T, seed int) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(uint64(seed), 5))
	good := &shopInput{kind: seed % 5, sep: []string{",", ";", "\t"}[r.IntN(3)]}
	good.invent(r)
	bad := &shopInput{kind: good.kind, sep: good.sep, rows: slices.Clone(good.rows)}
	mend := map[string]string{}
	for i := range bad.rows {
		for k, field := range []*string{&bad.rows[i].in, &bad.rows[i].left, &bad.rows[i].right, &bad.rows[i].result} {
			if *field != "" && (r.IntN(4) == 0 || i == 0) {
				token := fmt.Sprintf("bad%d-%d", i, k)
				mend[token], *field = *field, token
			}
		}
	}
	want := good.said(t)
	require.NotEmpty(t, want)

	book := newBook(t)
	opt := bad.options(t)
	opt.Rejects = filepath.Join(t.TempDir(), "kept out.csv")
	report, err := Sheets(ctx, book, opt)
	require.NoError(t, err)
	require.Len(t, report.KeptOut, len(mend), "every mistake is told, and nothing else")
	was := ask(t, book, allSaid)

	again := opt
	again.Paths, again.Map, again.Rejects = []string{opt.Rejects}, "", ""
	report, err = Sheets(ctx, book, again)
	require.True(t, err == nil || errors.Is(err, ErrNothing), "%v", err)
	assert.Len(t, report.KeptOut, len(mend), "as they stand they are refused again")
	assert.Equal(t, was, ask(t, book, allSaid))

	text, err := os.ReadFile(opt.Rejects)
	require.NoError(t, err)
	reader := csv.NewReader(strings.NewReader(string(text)))
	reader.Comma = rune(text[strings.IndexAny(string(text), ",;")])
	rows, err := reader.ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		for i, cell := range row {
			require.False(t, len(cell) > 0 && strings.ContainsAny(cell[:1], "=+@"), "%q would be run", cell)
			token, unit, _ := strings.Cut(cell, " ")
			if fine, ok := mend[token]; ok {
				row[i] = strings.TrimSpace(fine + " " + unit)
			}
		}
	}
	f, err := os.Create(opt.Rejects)
	require.NoError(t, err)
	w := csv.NewWriter(f)
	w.Comma = reader.Comma
	require.NoError(t, w.WriteAll(rows))
	require.NoError(t, f.Close())
	report, err = Sheets(ctx, book, again)
	require.NoError(t, err)
	assert.Empty(t, report.KeptOut)
	assert.Equal(t, want, ask(t, book, allSaid))
}

// allSaid asks for all that the invented orders say.
const allSaid = `
SELECT concat_ws('|', order_id, customer_id, received_on, shipped_on) AS line FROM orders
UNION ALL SELECT concat_ws('|', form_id, order_id, irregularities) FROM forms
UNION ALL SELECT concat_ws('|', form_id, side, point, round(value_mm, 3)) FROM measurements
UNION ALL SELECT concat_ws('|', order_id, reported_on, result, cost) FROM outcomes
ORDER BY line`

// said is what allSaid must answer of the input.
func (s *shopInput) said(t *testing.T) (lines []string) {
	for _, r := range s.rows {
		lines = append(lines, r.id+"|"+r.who+"|"+r.in+"|"+r.out)
		form := r.id + "|" + r.id
		if r.notes != "" {
			form += "|" + r.notes
		}
		lines = append(lines, form)
		for side, text := range map[string]string{"left": r.left, "right": r.right} {
			cm, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
			require.NoError(t, err)
			lines = append(lines, fmt.Sprintf("%s|%s|ball|%.1f", r.id, side, 10*cm))
		}
		if r.result != "" {
			lines = append(lines, fmt.Sprintf("%s|%s|%s|%s.0", r.id, r.told, r.result, r.cost))
		}
	}
	slices.Sort(lines)
	return lines
}

// A shopInput is a few orders in one of five kinds of input.
type shopInput struct {
	kind int // order sheets, a workbook of them; mapped: one file, two folders, two tabs
	sep  string
	rows []shopRow
}

type shopRow struct{ id, who, in, out, notes, left, right, result, told, cost string }

func (s *shopInput) invent(r *rand.Rand) {
	runs := []string{"", "bunion", "=cmd|' /C calc'!A1", "+1 sock", "-wide", "@home", "'=x", "two; parts, \"quoted\"", "a\nb"}
	for i := range 6 + r.IntN(5) {
		length := func() string {
			text := fmt.Sprintf("%d.%d", 23+r.IntN(3), r.IntN(10))
			if s.comma() {
				text = strings.Replace(text, ".", ",", 1)
			}
			return text
		}
		row := shopRow{id: fmt.Sprintf("N%d", i), who: fmt.Sprintf("C%d", i), in: fmt.Sprintf("2024-01-%02d", i+1), out: "2024-03-01",
			notes: runs[r.IntN(len(runs))], left: length(), right: length()}
		if r.IntN(2) == 0 {
			row.result, row.told, row.cost = "remade", "2024-06-01", fmt.Sprint(100+r.IntN(100))
		}
		s.rows = append(s.rows, row)
	}
}

// comma reports whether the input writes a decimal comma.
func (s *shopInput) comma() bool { return s.sep == ";" && s.kind != 1 }

// options write the input to a folder and load it.
func (s *shopInput) options(t *testing.T) Options {
	dir := t.TempDir()
	put := func(name string, rows [][]string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		f, err := os.Create(path)
		require.NoError(t, err)
		w := csv.NewWriter(f)
		w.Comma = rune(s.sep[0])
		require.NoError(t, w.WriteAll(rows))
		require.NoError(t, f.Close())
		return path
	}
	opt := options(dir)
	wide := [][]string{{"Order", "Who", "In", "Out", "Notes", "Ball", "Ball", "Fit", "Told", "Cost"}}
	for _, r := range s.rows {
		wide = append(wide, []string{r.id, r.who, r.in, r.out, r.notes, r.left, r.right, r.result, r.told, r.cost})
	}
	half := len(s.rows) / 2
	second := append([][]string{wide[0]}, wide[1+half:]...)
	switch s.kind {
	case 0, 1:
		sheets := map[string][][]string{"orders": {{"order_id", "customer_id", "received_on", "shipped_on"}}, "forms": {{"form_id", "order_id", "irregularities"}},
			"measurements": {{"form_id", "side", "point", "value_cm"}}, "outcomes": {{"order_id", "reported_on", "result", "cost"}}}
		for _, r := range s.rows {
			sheets["orders"] = append(sheets["orders"], []string{r.id, r.who, r.in, r.out})
			sheets["forms"] = append(sheets["forms"], []string{r.id, r.id, r.notes})
			sheets["measurements"] = append(sheets["measurements"], []string{r.id, "left", "ball", r.left}, []string{r.id, "right", "ball", r.right})
			if r.result != "" {
				sheets["outcomes"] = append(sheets["outcomes"], []string{r.id, r.told, r.result, r.cost})
			}
		}
		var tabs []workbooks.Tab
		for name, rows := range sheets {
			if s.kind == 0 {
				put(name+".csv", rows)
			}
			tabs = append(tabs, workbooks.Tab{Name: name, Rows: cellsOf(rows)})
		}
		if s.kind == 1 {
			workbooks.XLSX(t, filepath.Join(dir, "sheets.xlsx"), tabs...)
		}
		return opt
	case 2:
		put("book.csv", wide)
	case 3:
		put("2023/book.csv", wide[:1+half])
		put("2024/book.csv", second)
	case 4:
		workbooks.XLSX(t, filepath.Join(dir, "book.xlsx"), workbooks.Tab{Name: "2023", Rows: cellsOf(wide[:1+half])}, workbooks.Tab{Name: "2024", Rows: cellsOf(second)})
	}
	decimal, tab := "point", ""
	if s.comma() {
		decimal = "comma"
	}
	if s.kind == 4 {
		tab = "tab: \"20??\"\n"
	}
	opt.Map = filepath.Join(dir, "map.yaml")
	require.NoError(t, os.WriteFile(opt.Map, []byte("file: \"book.*\"\n"+tab+"order: Order\nunit: cm\ndecimal: "+decimal+`
orders: {customer_id: Who, received_on: In, shipped_on: Out}
forms: {irregularities: Notes}
measurements: {numbers: [{column: "Ball [1]", side: left, point: ball}, {column: "Ball [2]", side: right, point: ball}]}
outcomes: {result: Fit, reported_on: Told, cost: Cost}
`), 0o644))
	return opt
}

func cellsOf(rows [][]string) (out [][]any) {
	for _, row := range rows {
		var cells []any
		for _, c := range row {
			cells = append(cells, c)
		}
		out = append(out, cells)
	}
	return out
}
