package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// NIST Statistical Reference Datasets, linear regression: certified values.
func TestLeastSquaresStRD(t *testing.T) {
	norris, longley := example(t, "strd_norris.csv"), example(t, "strd_longley.csv")
	var six [][]float64
	for _, name := range []string{"x1", "x2", "x3", "x4", "x5", "x6"} {
		six = append(six, longley.nums(t, name))
	}
	for _, w := range []struct {
		name         string
		x            *mat.Dense
		y            []float64
		coef, se     []float64
		residual, r2 float64
		tol          float64 // relative
	}{
		{
			"Norris", withIntercept(norris.nums(t, "x")), norris.nums(t, "y"),
			[]float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-03},
			0.884796396144373, 0.999993745883712, 2e-12,
		},
		{
			"Longley", withIntercept(six...), longley.nums(t, "y"),
			[]float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359, -0.0511041056535807, 1829.15146461355},
			[]float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212},
			304.854073561965, 0.995479004577296, 1e-9,
		},
	} {
		fit, err := LeastSquares(w.x, w.y, nil)
		require.NoError(t, err, w.name)
		for j := range w.coef {
			assert.InEpsilon(t, w.coef[j], fit.Coef[j], w.tol, "%s %d", w.name, j)
			assert.InEpsilon(t, w.se[j], fit.SE(j), w.tol, "%s %d", w.name, j)
		}
		assert.InEpsilon(t, w.residual, fit.ResidualSD, w.tol)
		assert.InEpsilon(t, w.r2, fit.R2, 1e-14)
	}
}

// A weight of 2 is a row twice; a line through two points has no residual.
func TestLeastSquaresEdges(t *testing.T) {
	a, err := LeastSquares(withIntercept([]float64{0, 1, 2, 2}), []float64{1, 2, 5, 5}, nil)
	require.NoError(t, err)
	b, err := LeastSquares(withIntercept([]float64{0, 1, 2}), []float64{1, 2, 5}, []float64{1, 1, 2})
	require.NoError(t, err)
	assert.InDeltaSlice(t, a.Coef, b.Coef, 1e-12)
	assert.InDelta(t, a.R2, b.R2, 1e-12)
	line, err := LeastSquares(withIntercept([]float64{0, 1}), []float64{1, 3}, nil)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{1, 2}, line.Coef, 1e-12)
	assert.True(t, math.IsNaN(line.ResidualSD) && math.IsNaN(line.SE(1)))
	for _, bad := range []struct {
		x *mat.Dense
		y []float64
	}{
		{withIntercept([]float64{1}), []float64{1}},
		{withIntercept([]float64{0, 0, 0}), []float64{1, 2, 3}},
		{withIntercept([]float64{2, 2, 2}), []float64{1, 2, 3}},
		{withIntercept([]float64{1, 2, 3}), []float64{1, 2, math.NaN()}},
		{withIntercept([]float64{1, 2, math.Inf(1)}), []float64{1, 2, 3}},
	} {
		_, err := LeastSquares(bad.x, bad.y, nil)
		assert.Error(t, err)
	}
}

// Lopez Bernal J, Cummins S, Gasparrini A (2017) Int J Epidemiol 46:348-355,
// Sicily smoking ban, step models; R 4.2.2 glm. The data may not be copied.
func TestPoissonSicily(t *testing.T) {
	s := shared(t, "sicily.csv")
	step, time, month := s.nums(t, "smokban"), s.nums(t, "time"), s.nums(t, "month")
	aces, offset := s.nums(t, "aces"), s.nums(t, "stdpop")
	wave := make([][]float64, 4)
	for i := range offset {
		offset[i] = math.Log(offset[i])
		a := 2 * math.Pi * month[i] / 12
		for k, v := range []float64{math.Sin(a), math.Cos(a), math.Sin(2 * a), math.Cos(2 * a)} {
			wave[k] = append(wave[k], v)
		}
	}
	for _, w := range []struct {
		x                        *mat.Dense
		quasi                    bool
		ratio, low, high, spread float64
	}{
		{withIntercept(step, time), false, 0.894376508, 0.864686417, 0.925086046, 1},
		{withIntercept(step, wave[0], wave[1], wave[2], wave[3], time), true, 0.885071547, 0.839400956, 0.93322701, 2.26218641},
	} {
		f := fitterFor(t, w.x)
		fit, err := f.Poisson(aces, FitOptions{Offset: offset})
		require.NoError(t, err)
		spread := 1.0
		if w.quasi {
			spread = f.QuasiDispersion(aces, fit, offset)
		}
		// R weighs the residuals by its last but one iterate: 4e-6 apart.
		assert.InDelta(t, w.spread, spread, 5e-6)
		half := Z(0.95) * fit.SE(1) * math.Sqrt(spread)
		// R's standard error is that of its last but one iterate: 1e-7.
		assert.InDelta(t, w.ratio, math.Exp(fit.Coef[1]), nine)
		assert.InDelta(t, w.low, math.Exp(fit.Coef[1]-half), 1e-7)
		assert.InDelta(t, w.high, math.Exp(fit.Coef[1]+half), 1e-7)
	}
}

// By hand: with one indicator the coefficient is the log of the rate ratio,
// its variance 1/a + 1/b; dispersion of 8, 12 | 10 about means 10 and 10 is
// 0.4 + 0.4 over one degree of freedom.
func TestPoissonByHand(t *testing.T) {
	f := fitterFor(t, withIntercept([]float64{0, 0, 1}))
	offset := []float64{math.Log(50), math.Log(50), math.Log(25)}
	counts := []float64{8, 12, 10}
	fit, err := f.Poisson(counts, FitOptions{Offset: offset})
	require.NoError(t, err)
	assert.InDelta(t, math.Log((10.0/25)/(20.0/100)), fit.Coef[1], 1e-9)
	assert.InDelta(t, math.Sqrt(1.0/20+1.0/10), fit.SE(1), 1e-9)
	assert.InDelta(t, 0.8, f.QuasiDispersion(counts, fit, offset), 1e-9)

	var sep *SeparationError
	_, err = f.Poisson([]float64{8, 12, 0}, FitOptions{Offset: offset})
	require.ErrorAs(t, err, &sep)
	assert.Equal(t, []int{1}, sep.Columns)
	_, err = f.Poisson([]float64{0, 0, 0}, FitOptions{})
	assert.ErrorIs(t, err, ErrNoVariation)
	_, err = f.Poisson([]float64{0, -1, 0}, FitOptions{})
	assert.Error(t, err)
	full := fitterFor(t, withIntercept([]float64{0, 1}))
	fit, err = full.Poisson([]float64{3, 1000}, FitOptions{})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(full.QuasiDispersion([]float64{3, 1000}, fit, nil)))
}
