package body

import (
	"encoding/csv"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

var update = flag.Bool("update", false, "rewrite tables/ from the survey rows in ../shared and by simulation")

// shared is the folder of the survey rows, which are not part of the project.
func shared(t testing.TB, file string) [][]string {
	path := filepath.Join("..", "..", "..", "shared", "ansur2", file)
	f, err := os.Open(path)
	if err != nil {
		t.Skip("the survey rows (../shared/ansur2) are not here; this test needs them")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows
}

var surveyColumns = [human.FeatureCount]string{"footlength", "footbreadthhorizontal", "balloffootcircumference",
	"heelanklecircumference", "anklecircumference", "calfcircumference"}

// people are the measures of the development rows.
type people struct{ mm [][human.FeatureCount]float64 }

func readPeople(t testing.TB) [3]people {
	rows := shared(t, "people-dev.csv")
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	num := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[col[name]], 64)
		require.NoError(t, err)
		return v
	}
	var out [3]people
	for _, row := range rows[1:] {
		p := &out[form.ParseSex(strings.ToLower(row[col["sex"]]))]
		var mm [human.FeatureCount]float64
		for i, c := range surveyColumns {
			mm[i] = num(row, c)
		}
		p.mm = append(p.mm, mm)
	}
	return out
}
