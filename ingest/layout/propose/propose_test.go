package propose

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/grid/testdata/workbooks"
	"lastroom/ingest/layout/testdata/readback"
)

// Without any help the layout of six shops is told for at least nine columns in
// ten, and what is told wrong is none: the rest is asked about. Two shops, a workbook and
// texts; with CI=true all six.
func TestProposalOfSixShops(t *testing.T) {
	for _, shop := range readback.ShopNames {
		if shop != "shop-c" && shop != "shop-e" && !breadth.Wide() {
			continue
		}
		t.Run(shop, func(t *testing.T) {
			files := readback.Files(t, readback.Shop(t, shop))
			p, err := Propose(context.Background(), files, t.TempDir())
			require.NoError(t, err)
			rows, problems := readback.Parts(t, p.Parts)
			if dir := os.Getenv("LOOK"); dir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, shop+".yaml"), []byte(p.Text), 0o644))
			}
			for _, q := range p.Questions {
				t.Log("?", q)
			}
			t.Log(readback.Some(problems))
			right, wrong, silent := columnsRight(rows, readback.Truth(t, shop))
			t.Log("right", right, "wrong", wrong, "silent", silent)
			assert.Empty(t, wrong)
			assert.GreaterOrEqual(t, float64(len(right)), 0.9*float64(len(right)+len(wrong)+len(silent)), "silent: %v", silent)
		})
	}
}

// columnsRight sorts the columns of the truth into those that are read right in
// at least 95 of 100 rows that are there, those that say something else, and
// those that say nothing.
func columnsRight(got, want map[string]readback.Said) (right, wrong, silent []string) {
	count := func(name string, n, same, none int) {
		switch {
		case n == 0:
		case same*100 >= n*95:
			right = append(right, name)
		case (same+none)*100 >= n*95:
			silent = append(silent, fmt.Sprintf("%s (%d of %d)", name, none, n))
		default:
			wrong = append(wrong, fmt.Sprintf("%s (%d of %d right, %d silent)", name, same, n, none))
		}
	}
	for sheet, names := range map[string][]string{"orders": readback.OrderColumns, "forms": readback.FormColumns, "outcomes": {"zone", "direction", "side", "cause", "cost"}} {
		for i, name := range names {
			n, same, none := 0, 0, 0
			for key, value := range want[sheet] {
				is := strings.Split(value, "|")[i]
				has, ok := got[sheet][key]
				if is == "" || !ok {
					continue
				}
				n++
				switch text := strings.Split(has, "|")[i]; text {
				case is:
					same++
				case "":
					none++
				}
			}
			count(sheet+"."+name, n, same, none)
		}
	}
	for _, sheet := range []string{"orders", "outcomes"} {
		n, same, none := 0, 0, 0
		for key := range want[sheet] {
			n++
			if _, ok := got[sheet][key]; ok {
				same++
			} else {
				none++
			}
		}
		for key := range got[sheet] {
			if _, ok := want[sheet][key]; !ok {
				n++
			}
		}
		count(sheet, n, same, none)
	}
	// Each place of the tape is a column of a shop's table, or was one.
	n, same, none := map[string]int{}, map[string]int{}, map[string]int{}
	for key, value := range want["measurements"] {
		form, place, _ := strings.Cut(key, "|")
		if _, ok := got["orders"][form]; !ok {
			continue
		}
		n[place]++
		has, ok := got["measurements"][key]
		switch {
		case !ok:
			none[place]++
		case readback.SameNumber(has, value):
			same[place]++
		}
	}
	for key := range got["measurements"] {
		if _, ok := want["measurements"][key]; !ok {
			_, place, _ := strings.Cut(key, "|")
			n[place]++
		}
	}
	for place := range n {
		count(place, n[place], same[place], none[place])
	}
	return right, wrong, silent
}

// What can't be read is told for what it is where there is nothing else.
func TestNothingButAnOldWorkbook(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.xls")
	require.NoError(t, os.WriteFile(path, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), 0o644))
	files, _, err := Gather(t.Context(), []string{path}, t.TempDir())
	require.NoError(t, err)
	_, err = Propose(t.Context(), files, t.TempDir())
	require.ErrorContains(t, err, "old.xls: is protected by a password, or an old .xls workbook; open it and save it as .xlsx")
}

// A question about hidden rows says where the first of them stands: who kept the tabs of
// three years has to look it up.
func TestHiddenRowsAreSaidWhere(t *testing.T) {
	year := func(name string, hidden ...int) workbooks.Tab {
		tab := workbooks.Tab{Name: name, HiddenRows: hidden, Rows: [][]any{{"Order no", "Customer", "In", "Left Ball", "Right Ball", "Remake?"}}}
		for i := range 8 {
			tab.Rows = append(tab.Rows, []any{name + fmt.Sprint(i), "C1", "2/" + fmt.Sprint(13+i) + "/" + name, "9 1/2", "9 5/8", ""})
		}
		return tab
	}
	file := filepath.Join(t.TempDir(), "Ledger.xlsx")
	workbooks.XLSX(t, file, year("2021", 3, 5), year("2022"))
	p, err := Propose(context.Background(), readback.Files(t, filepath.Dir(file)), t.TempDir())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(p.Questions, "\n"), "Ledger.xlsx: 2 rows are hidden, the first row 4 of tab 2021. Do they count?")
}
