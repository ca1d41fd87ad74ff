package upkeep

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/load"
)

// A customer called 7 with the orders 12 and 13, where 7, 12 and 13 are other
// people's orders, numbers of inches and prices too: all of theirs goes, and nothing of
// anybody else's.
func TestForgetShortNumbers(t *testing.T) {
	breadth.Leave(t, "TestForgetFromSheetsAlone forgets a customer called 7 where that is an order's number too")
	ctx := context.Background()
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	f := bookfile.FilesOf(book)
	write := func(path, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	in := t.TempDir()
	write(filepath.Join(in, "orders.csv"), "order_id,customer_id,received_on\n12,7,2026-01-01\n13,7,2026-01-02\n7,12,2026-01-01\n120,70,2026-01-01\n8,13,2026-01-03\n")
	write(filepath.Join(in, "forms.csv"), "form_id,order_id,received_on,cut_from\n1,12,2026-01-01,yes\n2,13,2026-01-02,yes\n12,7,2026-01-01,yes\n13,120,2026-01-01,yes\n7,8,2026-01-03,yes\n")
	write(filepath.Join(in, "measurements.csv"), "form_id,side,clothing,point,height,value,unit\n1,left,bare,ball,,12,in\n12,left,bare,ball,,7,in\n13,left,bare,ball,,13,in\n7,left,bare,ball,,12,in\n")
	write(filepath.Join(in, "outcomes.csv"), "order_id,result,reported_on\n12,kept,2026-03-01\n7,kept,2026-03-01\n")
	x := excelize.NewFile()
	require.NoError(t, x.SetSheetName("Sheet1", "callbacks"))
	for i, row := range [][]any{{"form_id", "called_on", "fault"}, {"1", "2026-01-05", ""}, {"12", "2026-01-05", ""}} {
		require.NoError(t, x.SetSheetRow("callbacks", fmt.Sprintf("A%d", i+1), &row))
	}
	_, err := x.NewSheet("costs")
	require.NoError(t, err)
	for i, row := range [][]any{{"item", "value"}, {"callback", "7"}, {"remake", "12"}} {
		require.NoError(t, x.SetSheetRow("costs", fmt.Sprintf("A%d", i+1), &row))
	}
	calls := filepath.Join(in, "calls.xlsx")
	require.NoError(t, x.SaveAs(calls))
	opt := load.Options{Program: "test", Now: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), JudgeLater: true}
	for _, paths := range [][]string{{filepath.Join(in, "orders.csv"), filepath.Join(in, "forms.csv"), filepath.Join(in, "measurements.csv"), filepath.Join(in, "outcomes.csv")}, {calls}} {
		opt.Paths = paths
		r, err := load.Sheets(ctx, book, opt)
		require.NoError(t, err)
		require.Empty(t, r.KeptOut)
	}
	write(filepath.Join(f.Runs(), "of-7-1", "tables", "held.csv"), "Order,Faults\n12,3\n")
	write(filepath.Join(f.Runs(), "of-others-1", "tables", "held.csv"), "Order,Faults\n8,12\n120,7\n")
	write(filepath.Join(f.Runs(), "of-others-1", "page.html"), "<p>7 of 12 orders, 13 %</p>")
	write(filepath.Join(f.Notebooks(), "ours.md"), "# 12 boots\n\nOrder 12 was odd.\n\nselect 7 + 12\n")
	g, err := Forget(ctx, book, "7", bookfile.WriterOptions{Program: "test", Now: time.Now()})
	require.NoError(t, err)
	require.Equal(t, []int{2, 2, 0, 1}, []int{g.Orders, g.Forms, g.SheetsRemoved, g.Runs})
	require.Equal(t, []string{"120", "7", "8"}, ask(t, book, "SELECT order_id FROM orders ORDER BY ALL"))
	require.Equal(t, []string{"12", "13", "70"}, ask(t, book, "SELECT customer_id FROM orders ORDER BY ALL"))
	require.Equal(t, []string{"12", "13", "7"}, ask(t, book, "SELECT form_id FROM forms ORDER BY ALL"))
	require.Equal(t, []string{"3"}, ask(t, book, "SELECT count(*)::VARCHAR FROM measurements"))
	require.Equal(t, []string{"7"}, ask(t, book, "SELECT order_id FROM outcomes"))
	require.Equal(t, []string{"12"}, ask(t, book, "SELECT form_id FROM callbacks"))
	require.NoDirExists(t, filepath.Join(f.Runs(), "of-7-1"))
	require.DirExists(t, filepath.Join(f.Runs(), "of-others-1"))
	left := strings.Join(g.Left, "\n")
	require.Len(t, g.Left, 1, left)
	require.Contains(t, left, "ours.md may name the person (line 3)")
	// The kept sheets are those of the others, row by row.
	kept, err := filepath.Glob(filepath.Join(f.Sheets(), "*.csv"))
	require.NoError(t, err)
	rows := 0
	for _, path := range kept {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		rows += strings.Count(string(text), "\n") - 1
		require.NotContains(t, string(text), "\n12,7,2026-01-01\n")
	}
	require.Equal(t, 3+3+3+1, rows)
	workbooks, err := filepath.Glob(filepath.Join(f.Sheets(), "*.xlsx"))
	require.NoError(t, err)
	require.Len(t, workbooks, 1)
	again, err := excelize.OpenFile(workbooks[0])
	require.NoError(t, err)
	defer again.Close()
	costs, err := again.GetRows("costs")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"item", "value"}, {"callback", "7"}, {"remake", "12"}}, costs)
	callbacks, err := again.GetRows("callbacks")
	require.NoError(t, err)
	require.Len(t, callbacks, 2)
	require.Equal(t, "12", callbacks[1][0])
	v, err := Verify(ctx, book)
	require.NoError(t, err)
	require.True(t, v.Sound(), v.Problems)
}

// A person in a comment of a workbook, as excelize writes one, is noticed: the workbook
// goes whole.
func TestForgetFromHiddenParts(t *testing.T) {
	x := excelize.NewFile()
	require.NoError(t, x.SetSheetRow("Sheet1", "A1", &[]any{"item", "value"}))
	require.NoError(t, x.AddComment("Sheet1", excelize.Comment{Cell: "A1", Text: "as for customer-anna"}))
	path := filepath.Join(t.TempDir(), "kept.xlsx")
	require.NoError(t, x.SaveAs(path))
	anna := personIDs{"customer_id": {"customer-anna": true}}
	left, err := leaveOut(t.Context(), path, t.TempDir(), anna)
	require.NoError(t, err)
	require.False(t, left.Known)
	left, err = leaveOut(t.Context(), path, t.TempDir(), personIDs{"customer_id": {"customer-bert": true}})
	require.NoError(t, err)
	require.True(t, left.Known)
}
