package human

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/body/testdata/ansur"
	"lastroom/analysis/form"
)

var update = flag.Bool("update", false, "rewrite tables/ from the survey rows in ../shared and by simulation")

// TestSurveyTable fits the figures from the rows again and compares them with
// the table in the package. go test ./analysis/body/human -run SurveyTable -update
// writes the table.
func TestSurveyTable(t *testing.T) {
	got := fitSurvey(ansur.Read(t))
	if *update {
		require.NoError(t, os.WriteFile("tables/survey.csv", []byte(got), 0o644))
	}
	require.Equal(t, surveyCSV, got)
}

func fitSurvey(all [3]ansur.People) string {
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
		line("n", 0, 0, float64(len(p.MM)))
		var x [FeatureCount][]float64
		for i := range x {
			for _, mm := range p.MM {
				x[i] = append(x[i], math.Log(mm[i]))
			}
			line("mean", i, 0, stat.Mean(x[i], nil))
			line("knee", i, 0, stat.Correlation(x[i], p.Knee, nil))
		}
		for i := range x {
			for j := i; j < FeatureCount; j++ {
				line("cov", i, j, stat.Covariance(x[i], x[j], nil))
			}
		}
		line("knee_mean", 0, 0, stat.Mean(p.Knee, nil))
		line("knee_sd", 0, 0, stat.StdDev(p.Knee, nil))
		line("bone_mean", 0, 0, stat.Mean(p.Bone, nil))
	}
	return b.String()
}
