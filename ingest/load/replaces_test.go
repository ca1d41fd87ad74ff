package load

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	assert.Empty(t, r.KeptOut)
	return r
}

func smallBook(t *testing.T) string {
	book := newBook(t)
	_, err := Sheets(context.Background(), book, options(writeSheets(t, nil)))
	require.NoError(t, err)
	return book
}

// A sheet that holds a part of a form's numbers replaces these and no others;
// an empty value takes one back.
func TestANumberReplacesThatNumber(t *testing.T) {
	book := smallBook(t)
	before := ask(t, book, numbersQuery)
	const header = "form_id,side,clothing,point,height,height_unit,value,unit\n"

	r := one(t, book, "measurements.csv", header+"F1,left,tucked,leg,9,in,13,in\n", nil)
	assert.Equal(t, "measurements 1/1/0/0/0", counts(r))
	after := ask(t, book, numbersQuery)
	assert.Len(t, after, len(before)+1, "no number was lost")
	assert.Equal(t, []string{"6 2"}, ask(t, book, "SELECT numbers || ' ' || tucked FROM form_numbers WHERE form_id = 'F1'"))

	r = one(t, book, "measurements.csv", header+"F1,left,tucked,leg,9,in,13.5,in\nF1,left,bare,ball,,,9 1/8,in\n", nil)
	assert.Equal(t, "measurements 2/1/1/1/0", counts(r), "one replaced, one as it was")
	assert.Equal(t, []string{"330.2 13"}, ask(t, book, "SELECT value_mm || ' ' || value_written FROM measurements_history"))

	r = one(t, book, "measurements.csv", header+"F1,left,tucked,leg,9,in,,\n", nil)
	assert.Equal(t, "measurements 1/0/1/1/0", counts(r))
	assert.Equal(t, before, ask(t, book, numbersQuery))

	r = one(t, book, "measurements.csv", header+"F2,left,bare,heel,,,,\n", nil)
	assert.Empty(t, ask(t, book, "SELECT form_id FROM form_numbers WHERE form_id = 'F2'"), "every number of a form may be taken back")
	assert.Equal(t, "measurements 1/0/1/1/0", counts(r))

	r = one(t, book, "measurements.csv", header+"F1,left,bare,ball,,,9 1/8,in\n", func(o *Options) { o.WholeForms = true })
	assert.Equal(t, "measurements 1/0/1/4/0", counts(r), "the whole form: its others end")
	assert.Len(t, ask(t, book, numbersQuery), 1)
}

// A later report of fit stands beside an earlier one; those of one day replace
// each other.
func TestReportsAreEvents(t *testing.T) {
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
