package components

import (
	"encoding/csv"
	"lastroom/analysis/stats"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads a worked example of testdata/checks: the column of numbers y, and the
// named columns as codes in the order in which their values come.
func table(t testing.TB, name, y string, factors ...string) (values []float64, codes [][]int) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "checks", name))
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range records[0] {
		column[name] = i
	}
	codes = make([][]int, len(factors))
	for k, name := range factors {
		at, ok := column[name]
		require.True(t, ok, name)
		number := map[string]int{}
		for _, r := range records[1:] {
			if _, ok := number[r[at]]; !ok {
				number[r[at]] = len(number)
			}
			codes[k] = append(codes[k], number[r[at]])
		}
	}
	for _, r := range records[1:] {
		v, err := strconv.ParseFloat(r[column[y]], 64)
		require.NoError(t, err)
		values = append(values, v)
	}
	return values, codes
}

// crossed are readings with an intercept alone; left out are the rows in drop (from 1).
func crossed(y []float64, row, column []int, drop ...int) (out []Reading) {
	gone := map[int]bool{}
	for _, d := range drop {
		gone[d-1] = true
	}
	for i, v := range y {
		c := 0
		if column != nil {
			c = column[i]
		}
		if !gone[i] {
			out = append(out, Reading{Row: row[i], Column: c, X: []float64{1}, Y: v})
		}
	}
	return out
}

func fitted(t testing.TB, r []Reading, effects Effects) *Fit {
	f, err := Of(r, effects, 0.95)
	require.NoError(t, err)
	return f
}

// Dyestuff, one factor: Davies OL, Goldsmith PL (1972) Statistical Methods in
// Research and Production, 4th ed., section 6.4. Batch 42.00, residual 49.51,
// criterion 319.7: Bates D, lme4: Mixed-effects Modeling with R (2010), section 1.3; here to lme4 1.1-31's digits.
func TestDyestuff(t *testing.T) {
	y, f := table(t, "dyestuff.csv", "Yield", "Batch")
	m := fitted(t, crossed(y, f[0], nil), Crossed)
	assert.InDelta(t, 42.00059720, m.Row().Point, 1e-3)
	assert.InDelta(t, 49.51009962, m.Trial().Point, 1e-3)
	assert.InDelta(t, 319.6542768, m.Criterion, 1e-6)
	assert.InDelta(t, 1527.5, m.Fixed[0].Point, 1e-6)
	// The standard error 19.38 (the same), with the degrees of freedom of six batches; R: qt(.975, 5).
	assert.InDelta(t, 2.570581836*19.38341, m.Fixed[0].High-1527.5, 1e-3)
	assert.False(t, m.Column().Given())
}

// Penicillin, two crossed factors: Davies and Goldsmith (1972) section 6.6. Plate
// 0.8467, sample 1.9316, residual 0.5499, criterion 330.9: Bates (2010), section 2.1;
// here to lme4 1.1-31's digits. Below, thirteen rows left out, by lme4.
func TestPenicillin(t *testing.T) {
	y, f := table(t, "penicillin.csv", "diameter", "plate", "sample")
	m := fitted(t, crossed(y, f[0], f[1]), Crossed)
	assert.InDelta(t, 0.8467042778, m.Row().Point, 2e-5)
	assert.InDelta(t, 1.9315582993, m.Column().Point, 2e-4)
	assert.InDelta(t, 0.5499231460, m.Trial().Point, 2e-5)
	assert.InDelta(t, 330.860589, m.Criterion, 1e-6)
	assert.InDelta(t, 22.97222222, m.Fixed[0].Point, 1e-6)
	se := (m.Fixed[0].High - m.Fixed[0].Point) / 2.570581836 // R: qt(.975, 5)
	assert.InDelta(t, 0.8085733467, se, 1e-4)
	m = fitted(t, crossed(y, f[0], f[1], 1, 2, 3, 9, 20, 21, 50, 51, 52, 53, 77, 100, 143), Crossed)
	assert.InDelta(t, 0.8020669535, m.Row().Point, 2e-5)
	assert.InDelta(t, 1.9175572832, m.Column().Point, 2e-4)
	assert.InDelta(t, 0.5520670993, m.Trial().Point, 2e-5)
	assert.InDelta(t, 304.726424, m.Criterion, 1e-6)
	assert.InDelta(t, 22.95541684, m.Fixed[0].Point, 1e-4)
}

// Pastes, casks within batches: Davies and Goldsmith (1972) section 6.5. Sample 2.904,
// batch 1.287, residual 0.823, criterion 247.0: Bates (2010), section 2.2. Casks of a batch are
// cells of it, one column each, with no effect of the column.
func TestPastes(t *testing.T) {
	y, f := table(t, "pastes.csv", "strength", "batch", "sample")
	m := cellsOf(crossed(y, f[0], f[1]))
	m.interaction, m.columns = true, 1
	best, least := m.minimise(func(x []float64) place { return place{nan(), relative{rows: x[0], interactions: x[1]}} }, []float64{1, 1})
	at := m.eliminate(best.of, true)
	assert.InDelta(t, 246.9907459, least, 1e-6)
	assert.InDelta(t, 0.8234075554*0.8234075554, at.trial, 1e-4)
	assert.InDelta(t, 1.6573087447, best.of[rows]*best.of[rows]*at.trial, 2e-3)
	assert.InDelta(t, 8.4336665619, best.of[interactions]*best.of[interactions]*at.trial, 2e-3)
	assert.InDelta(t, 60.05333333, at.effects[0], 1e-6)
}

// Machines, six workers on three machines, three times each: Pinheiro JC, Bates DM (2000)
// Mixed-Effects Models in S and S-PLUS, section 1.3: worker 4.78, worker on a machine
// 3.73, residual 0.96 with the machines fixed; here to lme4 1.1-31's digits, also with the
// machines random and with eleven rows left out.
func TestMachines(t *testing.T) {
	y, f := table(t, "machines.csv", "score", "worker", "machine")
	m := fitted(t, crossed(y, f[0], f[1]), Interaction)
	assert.InDelta(t, 4.7810508351, m.Row().Point, 1e-3)
	assert.InDelta(t, 6.8108532772, m.Column().Point, 2e-3)
	assert.InDelta(t, 3.7295383595, m.Interaction().Point, 1e-3)
	assert.InDelta(t, 0.9615766252, m.Trial().Point, 1e-4)
	assert.InDelta(t, 230.2356449, m.Criterion, 1e-6)
	total := 4.7810508351*4.7810508351 + 6.8108532772*6.8108532772 + 3.7295383595*3.7295383595 + 0.924629606
	assert.InDelta(t, 4.7810508351*4.7810508351/total, m.ICC().Point, 1e-4)
	// The limits: R, by its optimiser from several starts, on the restricted likelihood that lme4 works out (the same
	// criterion, least + qchisq(0.95, 1)).
	for _, want := range []struct {
		e         stats.Estimate
		low, high float64
	}{
		{m.Row(), 1.82396366, 11.2392148}, {m.Column(), 2.91405045, 29.1914178}, {m.Interaction(), 2.51088489, 6.27212857},
		{m.Trial(), 0.775949307, 1.23496551}, {m.ICC(), 0.0195154, 0.749007}, {m.Error(), 4.61613558, 29.4446582},
	} {
		assert.InEpsilon(t, want.low, want.e.Low, 3e-3, "%+v", want.e)
		assert.InEpsilon(t, want.high, want.e.High, 3e-3, "%+v", want.e)
	}
	drop := []int{2, 3, 6, 8, 9, 12, 20, 27, 33, 45, 50}
	m = fitted(t, crossed(y, f[0], f[1], drop...), Interaction)
	assert.InDelta(t, 4.7209212238, m.Row().Point, 1e-3)
	assert.InDelta(t, 6.7831418689, m.Column().Point, 2e-3)
	assert.InDelta(t, 3.7171416548, m.Interaction().Point, 1e-3)
	assert.InDelta(t, 0.9851901862, m.Trial().Point, 1e-4)
	assert.InDelta(t, 195.9823107, m.Criterion, 1e-6)

	dummies := crossed(y, f[0], f[1], drop...)
	for i := range dummies {
		x := []float64{1, 0, 0}
		if c := dummies[i].Column; c > 0 {
			x[c] = 1
		}
		dummies[i].X = x
	}
	g := cellsOf(dummies)
	g.interaction = true
	best, least := g.minimise(func(x []float64) place { return place{nan(), relative{rows: x[0], interactions: x[1]}} }, []float64{1, 1})
	at := g.eliminate(best.of, true)
	assert.InDelta(t, 181.4491168, least, 1e-6)
	assert.InDeltaSlice(t, []float64{52.35212154, 7.817234638, 13.87722822}, at.effects, 1e-4)
	assert.InDelta(t, 2.183359177, sqrt(at.trial*at.variance.At(2, 2)), 1e-3)
}

// AIAG, Measurement Systems Analysis, 4th ed., ten parts by three appraisers, three times:
// 0.199933, 0.226838 and 1.042327 by analysis of variance, whose interaction is nil. The
// table may not be copied.
func TestAIAG(t *testing.T) {
	name := filepath.Join("..", "..", "..", "shared", "checks", "data", "aiag_gage.csv")
	if _, err := os.Stat(name); err != nil {
		t.Skip("aiag_gage.csv is not here: it may not be copied into the project")
	}
	y, f := table(t, filepath.Join("..", "..", "..", "shared", "checks", "data", "aiag_gage.csv"), "value", "part", "appraiser")
	m := fitted(t, crossed(y, f[0], f[1]), Interaction)
	assert.InDelta(t, 0.199933, m.Trial().Point, 1e-5)
	assert.InDelta(t, 0.226838, m.Column().Point, 1e-4)
	assert.InDelta(t, 1.042327, m.Row().Point, 2e-4)
	assert.InDelta(t, 0, m.Interaction().Point, 1e-3)
	assert.Zero(t, m.Interaction().Low)
	assert.InDelta(t, 27.42381672, m.Criterion, 1e-6)
	// Without interaction the model is the same, since there is none.
	n := fitted(t, crossed(y, f[0], f[1]), Crossed)
	assert.InDelta(t, m.Criterion, n.Criterion, 1e-6)
}

// Nothing to tell apart is an error, never a panic or an infinite loop.
func TestTooFew(t *testing.T) {
	one := Reading{X: []float64{1}, Y: 3}
	for _, r := range [][]Reading{nil, {one}, {one, one}, {one, {Row: 1, X: []float64{1}, Y: nan()}}, {one, {Row: 1, X: []float64{1}, Y: 4}}} {
		_, err := Of(r, Interaction, 0.95)
		assert.ErrorIs(t, err, errTooFew)
	}
	once := []Reading{}
	for i := range 6 {
		once = append(once, Reading{Row: i, X: []float64{1}, Y: float64(i * i)})
	}
	_, err := Of(once, RowsOnly, 0.95)
	assert.ErrorIs(t, err, errTooFew, "rows can't be told from the trial")
	same := []Reading{}
	for i := range 30 {
		same = append(same, Reading{Row: i / 6, Column: i / 2 % 3, X: []float64{1}, Y: 250})
	}
	_, err = Of(same, Interaction, 0.95)
	assert.ErrorIs(t, err, errTooFew, "no spread at all")
}

func nan() float64 { return math.NaN() }

func sqrt(x float64) float64 { return math.Sqrt(x) }
