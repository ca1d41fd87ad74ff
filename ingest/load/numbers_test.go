package load

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// In a sheet of more rows than the engine reads at once, with texts that first
// stand far down, every number is the one of its row, and a row that is kept out
// is told with its own line. Staged on disk and in memory.
func TestManyMeasurements(t *testing.T) {
	breadth.Leave(t, "TestLoadValues has the numbers of a small sheet, and TestRejects the lines of one's mistakes")
	const forms, later = 4_000, 2_800 // the texts of the first 100,000 rows are learned
	const perForm = 40
	var orders, sheet, measurements strings.Builder
	orders.WriteString("order_id,customer_id,received_on\n")
	sheet.WriteString("form_id,order_id,form_no,received_on,cut_from\n")
	measurements.WriteString("form_id,side,clothing,point,height,height_unit,value,unit\n")
	bad := map[int]string{} // line → value
	line := 1
	r := rand.New(rand.NewPCG(1, 2))
	for f := range forms {
		fmt.Fprintf(&orders, "O%d,C%d,2026-01-05\n", f, f)
		fmt.Fprintf(&sheet, "F%d,O%d,1,2026-01-05,yes\n", f, f)
		if f%10 == 0 { // has no number
			fmt.Fprintf(&sheet, "G%d,O%d,2,2026-01-05,\n", f, f)
		}
		for k := range perForm {
			line++
			// The value is the form's number; far down the heights and units are new.
			value, height, unit := fmt.Sprint(f/100+200), fmt.Sprint(7+2*k), "in"
			if f > later {
				height, unit = fmt.Sprint(180+50*k), "mm"
			}
			if r.IntN(10_000) == 0 {
				value = fmt.Sprint("about ", f)
				bad[line] = value
			}
			fmt.Fprintf(&measurements, "F%d,left,bare,leg,%s,%s,%s,mm\n", f, height, unit, value)
		}
	}
	require.NotEmpty(t, bad)
	dir := writeSheets(t, map[string]string{"orders.csv": orders.String(), "forms.csv": sheet.String(), "outcomes.csv": "order_id,result\nO1,kept\n"})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "measurements.csv"), []byte(measurements.String()), 0o644))
	for _, inMemory := range []int64{0, usual.stageInMemory} {
		t.Run(fmt.Sprintf("staged in memory up to %d bytes", inMemory), func(t *testing.T) {
			sizes := usual
			sizes.stageInMemory = inMemory
			checkMany(t, dir, forms, perForm, later, bad, &sizes)
		})
	}
}

// checkMany loads the sheets of TestManyMeasurements; bad are the values of its
// lines that can't be read.
func checkMany(t *testing.T, dir string, forms, perForm, later int, bad map[int]string, sizes *limits) {
	book := newBook(t)
	opt := options(dir)
	opt.JudgeLater, opt.limits = true, sizes
	report, err := Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	told := map[int]string{}
	for _, k := range report.KeptOut {
		told[int(k.Line)] = k.Text
	}
	assert.Equal(t, bad, told)
	assert.Equal(t, []string{fmt.Sprint(perForm*forms - len(bad))}, ask(t, book, `SELECT count(*)::VARCHAR FROM measurements
		WHERE value_mm = substr(form_id, 2)::INTEGER // 100 + 200 AND value_written = value_mm::INTEGER::VARCHAR AND unit = 'mm' AND
		height_mm = height_written::INTEGER * CASE WHEN substr(form_id, 2)::INTEGER > `+fmt.Sprint(later)+` THEN 1 ELSE 25.4 END`))
	assert.Equal(t, []string{fmt.Sprint(forms)}, ask(t, book, "SELECT count(*)::VARCHAR FROM form_numbers"))
	assert.Equal(t, []string{"true"}, ask(t, book, "SELECT (sum(numbers) = (SELECT count(*) FROM measurements))::VARCHAR FROM form_numbers"))
	requireSound(t, book)
}
