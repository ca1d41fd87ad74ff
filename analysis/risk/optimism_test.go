package risk

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/regression"
)

// Low birth weight (birthwt, R package MASS; Hosmer DW, Lemeshow S (2000)), the main
// model without a penalty: R package rms, validate() with 2,000 resamples, gives a
// Somers' D of 0.4922 of which 0.403 is left (area 0.746, 0.702), a calibration slope
// of 0.755 and a Brier score of 0.1794 that becomes 0.200. Both sides are Monte Carlo.
// Harrell FE, Lee KL, Mark DB (1996) Stat Med 15:361-387.
func TestOptimismOfBirthWeights(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "checks", "birthwt.csv"))
	require.NoError(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := func(name string) []float64 {
		j := slices.Index(table[0], name)
		require.GreaterOrEqual(t, j, 0, name)
		var out []float64
		for _, row := range table[1:] {
			x, err := strconv.ParseFloat(row[j], 64)
			require.NoError(t, err)
			out = append(out, x)
		}
		return out
	}
	low, race := column("low"), column("race")
	names := []string{"age", "lwt", "black", "other", "smoke", "ptl", "ht", "ui"}
	values := make([][]float64, len(low))
	for _, name := range names {
		of := race
		if name != "black" && name != "other" {
			of = column(name)
		}
		for i, x := range of {
			switch name {
			case "black":
				x = map[bool]float64{true: 1}[x == 2]
			case "other":
				x = map[bool]float64{true: 1}[x == 3]
			}
			values[i] = append(values[i], x)
		}
	}
	clusters := make([]int32, len(low))
	for i := range clusters {
		clusters[i] = int32(i)
	}
	d := regression.NewDesign(regression.Subjects{N: len(low), Age: func(int) int { return 365 }, Event: func(i int) (int, bool) { return 365, low[i] == 1 },
		Cluster: clusters, Edges: []int{365}, Keep: func(int) bool { return true }},
		[]regression.Term{{Names: names, Code: func(i int) int { return i }, Values: values}}, nil)
	x := &fitted{Model: &Model{Orders: len(low)}, d: d, share: d.Whole().Share, shrink: shrinkage{tau: 1e-9, measurer: 1}}
	e := &resampled{x: x, spread: d.Spread(regression.Columns{Exposures: true}, d.Whole())}
	require.NoError(t, x.refit(d.Whole(), e.spread, nil, x.shrink, nil))
	for k, row := range d.Subject {
		e.subject, e.event, e.told = append(e.subject, k), append(e.event, low[row] == 1), append(e.told, 1)
	}
	got, err := e.optimism(context.Background(), Options{Resamples: 2000, Seed: 1})
	require.NoError(t, err)
	by := map[string]Optimism{}
	for _, o := range got {
		by[o.Measure] = o
		t.Logf("%s: %.4f on its own orders, %.4f corrected, %d resamples", o.Measure, o.Apparent, o.Corrected, o.Resamples)
	}
	assert.InDelta(t, 0.74608866, float64(by["auc"].Apparent), 1e-8)
	assert.InDelta(t, 0.17943473, float64(by["brier"].Apparent), 1e-8)
	assert.InDelta(t, 1, float64(by["calibration_slope"].Apparent), 1e-6)
	assert.InDelta(t, 0.702, float64(by["auc"].Corrected), 0.01)
	assert.InDelta(t, 0.200, float64(by["brier"].Corrected), 0.01)
	assert.InDelta(t, 0.755, float64(by["calibration_slope"].Corrected), 0.02)
}
