// Package ansur reads the rows of the body survey, which are not part of the
// project, for the tests that are held to them. Under testdata it is no part of the
// program.
package ansur

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
)

// Rows are those of a file of ../shared/ansur2, beside the project; a test without
// it is skipped.
func Rows(t testing.TB, file string) [][]string {
	t.Helper()
	root, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			break
		}
		above := filepath.Dir(root)
		require.NotEqual(t, root, above, "the project's folder was not found")
		root = above
	}
	f, err := os.Open(filepath.Join(root, "..", "shared", "ansur2", file))
	if err != nil {
		t.Skip("the survey rows (../shared/ansur2) are not here; this test needs them")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows
}

// Columns hold the features of the model of the body, in its order.
var Columns = [...]string{"footlength", "footbreadthhorizontal", "balloffootcircumference",
	"heelanklecircumference", "anklecircumference", "calfcircumference"}

// People are the development rows of one sex: measures in mm, and the heights of knee
// and ankle bone.
type People struct {
	MM         [][len(Columns)]float64
	Knee, Bone []float64
}

// Read reads the people by sex.
func Read(t testing.TB) (out [3]People) {
	t.Helper()
	rows := Rows(t, "people-dev.csv")
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	num := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[col[name]], 64)
		require.NoError(t, err)
		return v
	}
	for _, row := range rows[1:] {
		p := &out[form.ParseSex(strings.ToLower(row[col["sex"]]))]
		var mm [len(Columns)]float64
		for i, c := range Columns {
			mm[i] = num(row, c)
		}
		p.MM = append(p.MM, mm)
		p.Knee = append(p.Knee, num(row, "tibialheight"))
		p.Bone = append(p.Bone, num(row, "lateralmalleolusheight"))
	}
	return out
}
