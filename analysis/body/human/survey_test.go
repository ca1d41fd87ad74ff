package human

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/form"
)

var update = flag.Bool("update", false, "rewrite tables/ from the survey rows in ../shared and by simulation")

// shared is the folder of the survey rows, which are not part of the project.
func shared(t testing.TB, file string) [][]string {
	path := filepath.Join("..", "..", "..", "..", "shared", "ansur2", file)
	f, err := os.Open(path)
	if err != nil {
		t.Skip("the survey rows (../shared/ansur2) are not here; this test needs them")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows
}

var surveyColumns = [FeatureCount]string{"footlength", "footbreadthhorizontal", "balloffootcircumference",
	"heelanklecircumference", "anklecircumference", "calfcircumference"}

// people are the development rows: measures, and knee and ankle bone heights.
type people struct {
	mm         [][FeatureCount]float64
	knee, bone []float64
}

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
		var mm [FeatureCount]float64
		for i, c := range surveyColumns {
			mm[i] = num(row, c)
		}
		p.mm = append(p.mm, mm)
		p.knee = append(p.knee, num(row, "tibialheight"))
		p.bone = append(p.bone, num(row, "lateralmalleolusheight"))
	}
	return out
}

// TestSurveyTable fits the figures from the rows again and compares them with
// the table in the package. go test ./analysis/body/human -run SurveyTable -update
// writes the table.
func TestSurveyTable(t *testing.T) {
	got := fitSurvey(readPeople(t))
	if *update {
		require.NoError(t, os.WriteFile("tables/survey.csv", []byte(got), 0o644))
	}
	require.Equal(t, surveyCSV, got)
}

func fitSurvey(all [3]people) string {
	var b strings.Builder
	fmt.Fprintln(&b, "# Figures of the ANSUR II survey (Gordon et al. 2014, NATICK/TR-15/007; public individual-level release,")
	fmt.Fprintln(&b, "# development two thirds: people-dev.csv), natural logarithms of mm. Features: 0 length 1 breadth 2 ball 3 heel")
	fmt.Fprintln(&b, "# (short) 4 ankle (least) 5 calf. knee: correlation with the height of the knee joint line.")
	fmt.Fprintln(&b, "# Made by: go test ./analysis/body/human -run SurveyTable -update")
	fmt.Fprintln(&b, "sex,kind,i,j,value")
	for _, s := range []struct {
		sex  form.Sex
		name string
	}{{form.Female, "f"}, {form.Male, "m"}} {
		p := all[s.sex]
		line := func(kind string, i, j int, v float64) {
			fmt.Fprintf(&b, "%s,%s,%d,%d,%s\n", s.name, kind, i, j, strconv.FormatFloat(v, 'g', 9, 64))
		}
		line("n", 0, 0, float64(len(p.mm)))
		var x [FeatureCount][]float64
		for i := range x {
			for _, mm := range p.mm {
				x[i] = append(x[i], math.Log(mm[i]))
			}
			line("mean", i, 0, stat.Mean(x[i], nil))
			line("knee", i, 0, stat.Correlation(x[i], p.knee, nil))
		}
		for i := range x {
			for j := i; j < FeatureCount; j++ {
				line("cov", i, j, stat.Covariance(x[i], x[j], nil))
			}
		}
		line("knee_mean", 0, 0, stat.Mean(p.knee, nil))
		line("knee_sd", 0, 0, stat.StdDev(p.knee, nil))
		line("bone_mean", 0, 0, stat.Mean(p.bone, nil))
	}
	return b.String()
}
