package human

import (
	_ "embed"
	"encoding/csv"
	"strconv"
	"strings"
	"sync"

	"lastroom/analysis/form"
)

// figures are the survey's figures for one sex, of the logarithms of mm.
type figures struct {
	n        int
	mean     [FeatureCount]float64
	cov      [FeatureCount][FeatureCount]float64
	knee     [FeatureCount]float64 // correlation of each measure with the height of the knee joint line
	boneMean float64               // height of the outer ankle bone, mm
}

//go:embed tables/survey.csv
var surveyCSV string

// survey is the figures by sex (Female, Male), read once.
var survey = sync.OnceValue(func() *[3]figures {
	out := new([3]figures)
	r := csv.NewReader(strings.NewReader(surveyCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return out // the file is part of the package; its test reads every figure
	}
	for _, row := range rows[1:] {
		v, _ := strconv.ParseFloat(row[4], 64)
		i, _ := strconv.Atoi(row[2])
		j, _ := strconv.Atoi(row[3])
		out[form.ParseSex(row[0])].set(row[1], i, j, v)
	}
	return out
})

func (f *figures) set(kind string, i, j int, v float64) {
	switch kind {
	case "n":
		f.n = int(v)
	case "mean":
		f.mean[i] = v
	case "cov":
		f.cov[i][j], f.cov[j][i] = v, v
	case "knee":
		f.knee[i] = v
	case "bone_mean":
		f.boneMean = v
	}
}
