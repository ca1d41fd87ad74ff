package load

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/testdata/books"
)

const numbersQuery = "SELECT concat_ws(' ', form_id, side, clothing, point, value_mm) FROM measurements ORDER BY ALL"

// one loads one sheet into a book that has small.
func one(t *testing.T, book, name, text string, edit func(*Options)) *Report {
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	opt := options(path)
	if edit != nil {
		edit(&opt)
	}
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	if !opt.WholeExport {
		assert.Empty(t, r.KeptOut)
	}
	return r
}

var loadedSmall string // the folder of smallLoaded, once it is there

// smallLoaded loads the small sheets once, into a book that nobody changes.
var smallLoaded = sync.OnceValues(func() (r *Report, err error) {
	if loadedSmall, err = os.MkdirTemp("", "lastroom-small-"); err != nil {
		return nil, err
	}
	return Sheets(context.Background(), filepath.Join(loadedSmall, "shop.duckdb"), options(filepath.Join("testdata", "small")))
})

// smallBook is a copy of it.
func smallBook(t *testing.T) string {
	_, err := smallLoaded()
	require.NoError(t, err)
	return filepath.Join(books.Copy(t, loadedSmall), "shop.duckdb")
}

var ask = books.Ask

const numbersHeader = "form_id,side,clothing,point,height,height_unit,value,unit\n"

// A sheet that holds a part of a form's numbers replaces these and no others;
// an empty value takes one back.
func TestANumberReplacesThatNumber(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede does all that with one sheet")
	book := smallBook(t)
	before := ask(t, book, numbersQuery)

	r := one(t, book, "measurements.csv", numbersHeader+"F1,left,tucked,leg,9,in,13,in\n", nil)
	assert.Equal(t, "measurements 1/1/0/0/0", counts(r))
	after := ask(t, book, numbersQuery)
	assert.Len(t, after, len(before)+1, "no number was lost")
	assert.Equal(t, []string{"6 2"}, ask(t, book, "SELECT numbers || ' ' || tucked FROM form_numbers WHERE form_id = 'F1'"))

	r = one(t, book, "measurements.csv", numbersHeader+"F1,left,tucked,leg,9,in,13.5,in\nF1,left,bare,ball,,,9 1/8,in\n", nil)
	assert.Equal(t, "measurements 2/1/1/1/0", counts(r), "one replaced, one as it was")
	assert.Equal(t, []string{"330.2 13"}, ask(t, book, "SELECT value_mm || ' ' || value_written FROM measurements_history"))

	r = one(t, book, "measurements.csv", numbersHeader+"F1,left,tucked,leg,9,in,,\n", nil)
	assert.Equal(t, "measurements 1/0/1/1/0", counts(r))
	assert.Equal(t, before, ask(t, book, numbersQuery))

	r = one(t, book, "measurements.csv", numbersHeader+"F2,left,bare,heel,,,,\n", nil)
	assert.Empty(t, ask(t, book, "SELECT form_id FROM form_numbers WHERE form_id = 'F2'"), "every number of a form may be taken back")
	assert.Equal(t, "measurements 1/0/1/1/0", counts(r))

	r = one(t, book, "measurements.csv", numbersHeader+"F1,left,bare,ball,,,9 1/8,in\n", func(o *Options) { o.WholeForms = true })
	assert.Equal(t, "measurements 1/0/1/4/0", counts(r), "the whole form: its others end")
	assert.Len(t, ask(t, book, numbersQuery), 1)
}

// A later report of fit stands beside an earlier one; those of one day replace
// each other.
func TestReportsAreEvents(t *testing.T) {
	breadth.Leave(t, "TestLackingColumnsOfReportsStay has some without a number, and replaces them")
	book := smallBook(t)
	was := ask(t, book, "SELECT result || ' ' || coalesce(reported_on::VARCHAR, '-') FROM outcomes")
	require.Len(t, was, 1)
	order := ask(t, book, "SELECT order_id FROM outcomes")[0]
	one(t, book, "outcomes.csv", "order_id,reported_on,result\n"+order+",2027-06-01,returned\n", nil)
	assert.ElementsMatch(t, append(was, "returned 2027-06-01"), ask(t, book, "SELECT result || ' ' || coalesce(reported_on::VARCHAR, '-') FROM outcomes"))
	r := one(t, book, "outcomes.csv", "order_id,reported_on,result\n"+order+",2027-06-01,adjusted\n", nil)
	assert.Equal(t, "outcomes 1/1/0/1/0", counts(r))
	assert.ElementsMatch(t, append(was, "adjusted 2027-06-01"), ask(t, book, "SELECT result || ' ' || coalesce(reported_on::VARCHAR, '-') FROM outcomes"))
}

// A column that a sheet lacks leaves what the book has; an empty cell empties.
func TestLackingColumnsStay(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede loads a sheet that lacks columns, with an empty cell")
	book := smallBook(t)
	was := ask(t, book, "SELECT shaft_written FROM orders WHERE order_id = 'O1'")
	r := one(t, book, "orders.csv", "order_id,shipped_on,closure\nO1,2026-03-09,\n", nil)
	assert.Equal(t, "orders 1/1/0/1/0", counts(r))
	assert.Equal(t, was, ask(t, book, "SELECT shaft_written FROM orders WHERE order_id = 'O1'"))
	assert.Equal(t, []string{"2026-03-09 -"}, ask(t, book, "SELECT shipped_on || ' ' || coalesce(closure, '-') FROM orders WHERE order_id = 'O1'"))
}

// What counts is the content now: a file that was in, then corrected wrongly,
// then loaded again as it was first, is taken again.
func TestTheContentNowCounts(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede brings a number again that was corrected")
	book := smallBook(t)
	first := ask(t, book, numbersQuery)
	one(t, book, "measurements.csv", strings.Replace(small["measurements.csv"], "9.125", "19.25", 1), nil)
	assert.NotEqual(t, first, ask(t, book, numbersQuery))
	r := one(t, book, "measurements.csv", small["measurements.csv"], nil)
	assert.NotZero(t, r.Load)
	assert.Equal(t, first, ask(t, book, numbersQuery))
	r = one(t, book, "measurements.csv", small["measurements.csv"], nil)
	assert.Zero(t, r.Load)
}

// What a sheet took back counts as well: the file of before brings it again.
func TestTakingBackIsAChange(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede brings a number again that was corrected")
	book := smallBook(t)
	first := ask(t, book, numbersQuery)
	one(t, book, "measurements.csv", numbersHeader+"F1,left,bare,ball,,,,\n", nil)
	require.Len(t, ask(t, book, numbersQuery), len(first)-1)
	r := one(t, book, "measurements.csv", small["measurements.csv"], nil)
	assert.NotZero(t, r.Load)
	assert.Equal(t, first, ask(t, book, numbersQuery))
}

const reportsQuery = "SELECT concat_ws(' ', order_id, outcome_id, reported_on, result, cost) FROM outcomes ORDER BY ALL"

// A report with a number of its own is corrected by it, whatever its day; others
// of the order and of that day stay; two in one sheet that say different things are kept
// out.
func TestNumberedReports(t *testing.T) {
	breadth.Leave(t, "TestLackingColumnsOfReportsStay corrects one of two of a day")
	book := smallBook(t)
	const header = "order_id,outcome_id,reported_on,result,cost\n"
	require.Len(t, ask(t, book, reportsQuery), 1)
	was := ask(t, book, reportsQuery)
	one(t, book, "outcomes.csv", header+"O1,R1,2027-01-02,remade,100\nO1,R2,2027-01-02,adjusted,20\n", nil)
	assert.ElementsMatch(t, append(was, "O1 R1 2027-01-02 remade 100.0", "O1 R2 2027-01-02 adjusted 20.0"), ask(t, book, reportsQuery))
	one(t, book, "outcomes.csv", header+"O1,R1,2027-01-05,remade,120\n", nil)
	assert.ElementsMatch(t, append(was, "O1 R1 2027-01-05 remade 120.0", "O1 R2 2027-01-02 adjusted 20.0"), ask(t, book, reportsQuery), "the day is corrected too")
	one(t, book, "outcomes.csv", "order_id,reported_on,result\nO1,2027-01-05,remade\n", nil)
	assert.ElementsMatch(t, append(was, "O1 R1 2027-01-05 remade 120.0", "O1 R2 2027-01-02 adjusted 20.0"), ask(t, book, reportsQuery), "columns that a sheet lacks stay")

	path := filepath.Join(t.TempDir(), "outcomes.csv")
	require.NoError(t, os.WriteFile(path, []byte(header+"O1,R9,2027-03-05,remade,120\nO1,R9,2027-03-06,remade,120\n"), 0o644))
	r, err := Sheets(context.Background(), book, options(path))
	require.ErrorIs(t, err, ErrNothing)
	require.Len(t, r.KeptOut, 2)
	assert.Contains(t, r.KeptOut[0].Reason, "is on 2 rows of this order")
}

// What a sheet lacks of a report stays, whatever is corrected: its day, or what came of it.
// Where it could be of another report there is no telling. Other reports of the day that
// was, and of other days, stay.
func TestLackingColumnsOfReportsStay(t *testing.T) {
	book := smallBook(t)
	was := ask(t, book, reportsQuery)
	one(t, book, "outcomes.csv", `order_id,outcome_id,reported_on,result,cost
O1,R1,2027-01-02,remade,100
O1,R3,2027-01-02,adjusted,20
O1,,2027-02-02,adjusted,20
O1,,2027-03-02,adjusted,30
O1,,2027-04-02,adjusted,41
O1,,2027-04-02,remade,42
O2,,,returned,50
`, nil)
	one(t, book, "outcomes.csv", `order_id,outcome_id,reported_on,result
O1,R1,2027-01-05,remade
O1,R2,2027-01-05,adjusted
O1,,2027-02-02,adjusted
O1,,2027-03-02,remade
O1,,2027-04-02,returned
O2,,2027-05-02,returned
`, nil)
	assert.ElementsMatch(t, append(was, "O1 R1 2027-01-05 remade 100.0", "O1 R2 2027-01-05 adjusted", "O1 R3 2027-01-02 adjusted 20.0",
		"O1 2027-02-02 adjusted 20.0", "O1 2027-03-02 remade 30.0", "O1 2027-04-02 returned", "O2 2027-05-02 returned 50.0"), ask(t, book, reportsQuery))
}

// Rows that a newer export does not hold any more are told, and end where it is
// said that the export is whole. A whole one; with CI=true also parts of one, one with a
// row that nobody can tell, one of reports, and a row that comes back.
func TestRowsMissingInANewerExport(t *testing.T) {
	book := smallBook(t)
	r := one(t, book, "orders.csv", "order_id,shipped_on\nO1,no day\nO3,2026-02-01\n", func(o *Options) { o.WholeExport = true })
	require.Len(t, notesWith(r, "1 order of the book is not in this export (O2) and ends"), 1, r.Notes)
	assert.EqualValues(t, 1, r.Ended)
	assert.Equal(t, []string{"O1", "O3"}, ask(t, book, "SELECT order_id FROM orders ORDER BY order_id"), "O1 was kept out, but is there")
	assert.Equal(t, []string{"O2"}, ask(t, book, "SELECT order_id FROM orders_history"))
	if !breadth.Wide() {
		return
	}
	book = newBook(t)
	load := func(edit func(*Options), files map[string]string) *Report {
		dir, opt := t.TempDir(), options()
		for name, text := range files {
			path := filepath.Join(dir, name)
			require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
			opt.Paths = append(opt.Paths, path)
		}
		opt.Need = []string{"orders"}
		if edit != nil {
			edit(&opt)
		}
		r, err := Sheets(context.Background(), book, opt)
		require.NoError(t, err)
		return r
	}
	whole := func(o *Options) { o.WholeExport = true }
	orders := func() []string { return ask(t, book, "SELECT order_id FROM orders ORDER BY order_id") }
	const header = "order_id,shipped_on\n"
	load(nil, map[string]string{"orders-2025.csv": header + "A,2025-02-01\nB,2025-02-02\n", "orders-2026.csv": header + "C,2026-02-01\nD,2026-02-02\nE,2026-02-02\n",
		"outcomes.csv": "order_id,reported_on,result\nA,2025-05-01,remade\nC,2026-05-01,kept\n"})
	r = load(nil, map[string]string{"orders-2026.csv": header + "C,2026-02-01\n"})
	assert.Empty(t, notesWith(r, "not in this export"), "of a part of the files nothing can be said")
	r = load(nil, map[string]string{"orders-2025.csv": header + "A,2025-02-01\nB,2025-02-02\n", "orders-2026.csv": header + "C,2026-02-01\nD,2026-02-03\n"})
	require.Len(t, notesWith(r, "1 order of the book is not in this export (E); the book keeps what it has"), 1, r.Notes)
	assert.Equal(t, []string{"A", "B", "C", "D", "E"}, orders())

	r = load(whole, map[string]string{"orders-2025.csv": header + "A,2025-02-01\nB,2025-02-02\n", "orders-2026.csv": header + "C,2026-02-01\n,2026-02-03\n"})
	require.Len(t, notesWith(r, "2 orders of the book are not in this export (D, E); none of them ends"), 1, r.Notes)
	r = load(whole, map[string]string{"orders-2025.csv": header + "A,2025-02-01\nB,2025-02-02\n", "orders-2026.csv": header + "C,2026-02-01\nD,no day\n"})
	require.Len(t, notesWith(r, "1 order of the book is not in this export (E) and ends"), 1, r.Notes)
	assert.EqualValues(t, 1, r.Ended)
	assert.Equal(t, []string{"A", "B", "C", "D"}, orders(), "D was kept out, but is there")
	assert.Equal(t, []string{"E"}, ask(t, book, "SELECT order_id FROM orders_history WHERE order_id = 'E'"))

	r = load(nil, map[string]string{"outcomes.csv": "order_id,reported_on,result\nC,2026-05-01,kept\n"})
	require.Len(t, notesWith(r, "1 report of fit of the book is not in this export (A)"), 1, r.Notes)
	load(whole, map[string]string{"outcomes.csv": "order_id,reported_on,result\nC,2026-05-01,kept\n"})
	assert.Equal(t, []string{"C"}, ask(t, book, "SELECT order_id FROM outcomes"), "an unticked remake ends")
	load(nil, map[string]string{"orders-2026.csv": header + "C,2026-02-01\nD,2026-02-03\nE,2026-02-02\n"})
	assert.Equal(t, []string{"A", "B", "C", "D", "E"}, orders(), "a sheet that holds it brings it back")
}

func notesWith(r *Report, text string) (found []string) {
	for _, n := range r.Notes {
		if strings.Contains(n, text) {
			found = append(found, n)
		}
	}
	return found
}

// A dry run tells what a load amounts to, in orders, and changes nothing: not a
// book that is there, and none is made. None; with CI=true of one that is there, too.
func TestDryRunTellsAndChangesNothing(t *testing.T) {
	dir := writeSheets(t, map[string]string{
		"orders.csv": "order_id,received_on,shipped_on\nO1,2026-01-05,2026-03-01\nO2,15,2026-03-01\nO3,2026-01-07,\n",
		"forms.csv":  "form_id,order_id\nF1,O1\nF2,O2\nF3,O3\n",
	})
	opt := options(dir)
	opt.DryRun = true
	check := func(book string) {
		r, err := Sheets(context.Background(), book, opt)
		require.NoError(t, err)
		assert.True(t, r.DryRun)
		assert.Zero(t, r.Load)
		require.NotNil(t, r.Gist)
		assert.EqualValues(t, 2, r.Gist.Orders-r.Gist.FormsNoOrder)
		assert.EqualValues(t, 1, r.Gist.FormsNoOrder, "the form of an order that was kept out")
		assert.Len(t, notesWith(r, "1 form is of an order that is not in the book, as when its row was kept out"), 1, r.Notes)
		require.Len(t, r.Gist.Reasons, 1)
		assert.Equal(t, "received_on is not a day; write it as 2026-09-30", r.Gist.Reasons[0].Reason)
		assert.Equal(t, "15", r.Gist.Reasons[0].Example.Text)
	}
	none := newBook(t)
	check(none)
	left, err := filepath.Glob(filepath.Join(filepath.Dir(none), "*"))
	require.NoError(t, err)
	assert.Empty(t, left)
	if !breadth.Wide() {
		return
	}

	book := smallBook(t)
	was, sum := ask(t, book, allSaid), checksum(t, book)
	r, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	assert.Zero(t, r.Load)
	assert.Equal(t, was, ask(t, book, allSaid))
	assert.Equal(t, sum, checksum(t, book))
}
