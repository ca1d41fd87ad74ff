package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// birthwt is the low birth weight data of Hosmer DW, Lemeshow S (2000) Applied
// Logistic Regression, 2nd ed., as shipped in R's MASS.
func birthwt(t testing.TB, columns ...string) (*Fitter, Counts) {
	s := example(t, "birthwt.csv")
	var x [][]float64
	for _, name := range columns {
		switch name {
		case "race2", "race3":
			x = append(x, indicator(s["race"], name[4:]))
		default:
			x = append(x, s.nums(t, name))
		}
	}
	return fitterFor(t, withIntercept(x...)), single(s.nums(t, "low"))
}

// Hosmer and Lemeshow (2000), Tables 2.2 and 2.3 and the main-effects model;
// coefficients and standard errors as printed by R 4.2.2 glm with
// epsilon = 1e-14; log-likelihood -111.286 on their page 36.
func TestLogisticHosmerLemeshow(t *testing.T) {
	cases := []struct {
		columns  []string
		coef, se []float64
		loglik   float64
	}{
		{
			[]string{"age", "lwt", "race2", "race3", "ftv"},
			[]float64{1.2953657488, -0.0238229738, -0.0142446112, 1.0038978235, 0.4331084281, -0.0493083177},
			[]float64{1.07144323315, 0.03372962259, 0.00654071946, 0.49785898504, 0.36224026031, 0.16723909732},
			-111.286453,
		},
		{
			[]string{"lwt", "race2", "race3"},
			[]float64{0.8057534704, -0.0152231024, 1.0810661901, 0.4806032597},
			[]float64{0.84516669333, 0.00643936054, 0.48805219065, 0.35667372980},
			-111.629545,
		},
		{
			[]string{"age", "lwt", "race2", "race3", "smoke", "ptl", "ht", "ui"},
			[]float64{0.4644032827, -0.0270697793, -0.0151825629, 1.2632193755, 0.8616351075, 0.9233491572, 0.5417551195, 1.8336956099, 0.7585965042},
			[]float64{1.20470210967, 0.03645261430, 0.00692790239, 0.52646774131, 0.43919749203, 0.40085831534, 0.34626656236, 0.69176998813, 0.45939182116},
			-100.713476,
		},
	}
	for _, tc := range cases {
		f, c := birthwt(t, tc.columns...)
		fit, err := f.Logistic(c, FitOptions{})
		require.NoError(t, err)
		assert.InDelta(t, tc.loglik, fit.LogLik, six)
		for j := range tc.coef {
			assert.InDelta(t, tc.coef[j], fit.Coef[j], 1e-9, "coefficient %d", j)
			assert.InDelta(t, tc.se[j], fit.SE(j), 1e-9, "SE %d", j)
		}
	}
}

// Heinze G, Schemper M (2002) Stat Med 21:2409-2419, endometrial data (R
// package brglm2). Estimates: brglm2 AS_mean; limits and tests: direct
// maximisation in R, agreeing with the figures of R's logistf.
func TestFirthEndometrial(t *testing.T) {
	s := example(t, "endometrial.csv")
	f := fitterFor(t, withIntercept(s.nums(t, "NV"), s.nums(t, "PI"), s.nums(t, "EH")))
	c := single(s.nums(t, "HG"))

	_, err := f.Logistic(c, FitOptions{})
	var sep *SeparationError
	require.ErrorAs(t, err, &sep, "maximum likelihood has no answer here")
	assert.Equal(t, []int{1}, sep.Columns, "NV separates")

	fit, err := f.Logistic(c, FitOptions{Firth: true})
	require.NoError(t, err)
	assert.InDelta(t, -24.0372678, fit.Penalised, 1e-7)
	want := []struct{ coef, se, low, high, lr float64 }{
		{3.7745597136, 1.4886916634, 1.08253711, 7.2092805, 8.19801358},
		{2.9292733532, 1.5507637295, 0.609724436, 7.85463171, 6.79845725},
		{-0.0347517599, 0.0395781473, -0.124458721, 0.0404554732, 0.746828513},
		{-2.6041639253, 0.7760176425, -4.36518325, -1.23272106, 17.7593175},
	}
	for j, w := range want {
		assert.InDelta(t, w.coef, fit.Coef[j], 2e-9)
		assert.InDelta(t, w.se, fit.SE(j), 2e-9)
		e := f.ProfileFirth(c, fit, FitOptions{}, j, 0.95, 79)
		require.True(t, e.Bounded(), "%v", e.Warnings)
		assert.InDelta(t, w.low, e.Low, 1e-6)
		assert.InDelta(t, w.high, e.High, 1e-6)
		assert.InDelta(t, w.lr, f.PenalisedLRTest(c, fit, FitOptions{}, j, 0).Statistic, 1e-6)
	}
}

// The infection data shipped with R's logistf; estimates of brglm2, limits of
// logistf. The data may not be copied.
func TestFirthInfection(t *testing.T) {
	s := shared(t, "sex2.csv")
	var x [][]float64
	for _, name := range []string{"age", "oc", "vic", "vicl", "vis", "dia"} {
		x = append(x, s.nums(t, name))
	}
	f, c := fitterFor(t, withIntercept(x...)), single(s.nums(t, "case"))
	fit, err := f.Logistic(c, FitOptions{Firth: true})
	require.NoError(t, err)
	want := []float64{0.1202540491, -1.1059813314, -0.0688167271, 2.2688746522, -2.1114081853, -0.7883169514, 3.0960118274}
	assert.InDeltaSlice(t, want, fit.Coef, 2e-9)
	for j, w := range map[int][2]float64{0: {-0.8185591, 1.07315122}, 1: {-1.9737884, -0.30742514}, 6: {0.7745682, 8.03029352}} {
		e := f.ProfileFirth(c, fit, FitOptions{}, j, 0.95, 239)
		assert.InDelta(t, w[0], e.Low, 1e-5)
		assert.InDelta(t, w[1], e.High, 1e-5)
	}
}

// Firth of a lone intercept is the share (x + 1/2)/(n + 1), and of a fourfold
// table the log odds ratio with 1/2 added to each cell (Heinze and Schemper
// 2002): by hand, for any separation.
func TestFirthByHand(t *testing.T) {
	lone := fitterFor(t, mat.NewDense(1, 1, []float64{1}))
	c := Counts{[]float64{0}, []float64{12}}
	fit, err := lone.Logistic(c, FitOptions{Firth: true})
	require.NoError(t, err)
	assert.InDelta(t, Logit(0.5/13), fit.Coef[0], 1e-9)
	e := lone.ProfileFirth(c, fit, FitOptions{}, 0, 0.95, 12)
	require.True(t, e.Bounded(), "%v", e.Warnings)
	assert.True(t, e.Low < fit.Coef[0] && fit.Coef[0] < e.High)

	two := fitterFor(t, withIntercept([]float64{0, 1}))
	fit, err = two.Logistic(Counts{[]float64{3, 5}, []float64{40, 5}}, FitOptions{Firth: true})
	require.NoError(t, err)
	assert.InDelta(t, math.Log(5.5*37.5/(0.5*3.5)), fit.Coef[1], 1e-9)
}

// Firth pulls risks up; the refitted intercept puts their mean back on the
// observed share (Puhr et al. 2017).
func TestRefitIntercept(t *testing.T) {
	f, c := birthwt(t, "age", "lwt", "race2", "race3", "smoke", "ptl", "ht", "ui")
	fit, err := f.Logistic(c, FitOptions{Firth: true})
	require.NoError(t, err)
	again, err := f.RefitIntercept(c, fit, 0, nil)
	require.NoError(t, err)
	assert.Equal(t, fit.Coef[1:], again.Coef[1:])
	events, trials := c.Totals()
	assert.Greater(t, meanRisk(f, fit.Coef), events/trials+1e-4)
	assert.InDelta(t, events/trials, meanRisk(f, again.Coef), 1e-12)
}

func meanRisk(f *Fitter, coef []float64) (mean float64) {
	eta := f.d.Times(nil, coef)
	for _, e := range eta {
		mean += Logistic(e) / float64(len(eta))
	}
	return mean
}

// Patterns with counts, weights and zero-weight rows are the same fit as one
// row an order; so is a fit with doubled weights, at half the variance.
func TestLogisticPatterns(t *testing.T) {
	s := example(t, "birthwt.csv")
	smoke, ht, low := s.nums(t, "smoke"), s.nums(t, "ht"), s.nums(t, "low")
	rows := fitterFor(t, withIntercept(smoke, ht))
	patterns := fitterFor(t, withIntercept([]float64{0, 1, 0, 1, 9}, []float64{0, 0, 1, 1, 9}))
	c := Counts{make([]float64, 5), make([]float64, 5)}
	double := Counts{make([]float64, 5), make([]float64, 5)}
	for i := range low {
		k := int(smoke[i] + 2*ht[i])
		c.Events[k] += low[i]
		c.Trials[k]++
		double.Events[k] += 2 * low[i]
		double.Trials[k] += 2
	}
	for _, o := range []FitOptions{{}, {Firth: true}} {
		a, err := rows.Logistic(single(low), o)
		require.NoError(t, err)
		b, err := patterns.Logistic(c, o)
		require.NoError(t, err)
		assert.InDeltaSlice(t, a.Coef, b.Coef, 1e-9)
		assert.InDelta(t, a.SE(2), b.SE(2), 1e-9)
		assert.InDelta(t, a.Penalised, b.Penalised, 1e-9)
		if o.Firth {
			continue
		}
		twice, err := patterns.Logistic(double, o)
		require.NoError(t, err)
		assert.InDelta(t, b.SE(1)/math.Sqrt2, twice.SE(1), 1e-9)
		warm, err := patterns.Logistic(c, FitOptions{Start: b.Coef})
		require.NoError(t, err)
		assert.Equal(t, 1, warm.Iterations)
	}
}

// Fit on odd rows, judge on even rows: offset and slope models of R's glm.
func TestLogisticOffset(t *testing.T) {
	s := example(t, "birthwt.csv")
	half := func(name string, odd int) (out []float64) {
		for i, v := range s.nums(t, name) {
			if i%2 == odd {
				out = append(out, v)
			}
		}
		return out
	}
	design := func(odd int) *mat.Dense {
		return withIntercept(half("lwt", odd), half("smoke", odd), half("ht", odd), half("ui", odd))
	}
	fit, err := fitterFor(t, design(0)).Logistic(single(half("low", 0)), FitOptions{})
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0.42008513, -0.0152689854, 0.962483856, 1.77126121, 0.91353024}, fit.Coef, 5e-9)

	d, err := NewDesign(design(1))
	require.NoError(t, err)
	lp, low := d.Times(nil, fit.Coef), single(half("low", 1))
	large, err := fitterFor(t, mat.NewDense(len(lp), 1, low.Trials)).Logistic(low, FitOptions{Offset: lp})
	require.NoError(t, err)
	assert.InDelta(t, 0.0784756556, large.Coef[0], nine)
	assert.InDelta(t, 0.241818999, large.SE(0), 1e-8) // glm takes it one step before the end
	slope, err := fitterFor(t, withIntercept(lp)).Logistic(low, FitOptions{})
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{-0.0477041599, 0.843130934}, slope.Coef, nine)
	assert.InDelta(t, 0.278358403, slope.SE(1), nine)
}

// A fourfold table's coefficient is its log odds ratio, with Woolf's interval.
func TestWaldIsWoolf(t *testing.T) {
	f := fitterFor(t, withIntercept([]float64{0, 1}))
	fit, err := f.Logistic(Counts{[]float64{29, 30}, []float64{115, 74}}, FitOptions{})
	require.NoError(t, err)
	e, woolf := fit.Wald(1, 0.95, 189), WoolfOddsRatio(Table{30, 44, 29, 86}, 0.95)
	checkEstimate(t, e, math.Log(woolf.Point), math.Log(woolf.Low), math.Log(woolf.High), 1e-9)
}

// Every kind of separation is found, and none is seen where there is none,
// however rare the events (Albert and Anderson 1984).
func TestSeparation(t *testing.T) {
	one := []float64{0, 1, 2, 3, 4, 5, 6, 7}
	for _, tc := range []struct {
		name    string
		x       []float64
		events  []float64
		columns []int // nil: no separation
	}{
		{"complete", one, []float64{0, 0, 0, 0, 1, 1, 1, 1}, []int{0, 1}},
		{"quasi-complete, a tie at the border", []float64{0, 1, 2, 3, 3, 4, 5, 6}, []float64{0, 0, 0, 0, 1, 1, 1, 1}, []int{0, 1}},
		{"an indicator with events only", []float64{0, 0, 0, 0, 0, 1, 1, 1}, []float64{0, 1, 0, 1, 0, 1, 1, 1}, []int{1}},
		{"overlap by one", one, []float64{0, 0, 0, 1, 0, 1, 1, 1}, nil},
		{"overlap at the far end", one, []float64{1, 0, 0, 0, 1, 1, 1, 1}, nil},
	} {
		f := fitterFor(t, withIntercept(tc.x))
		_, err := f.Logistic(single(tc.events), FitOptions{})
		var sep *SeparationError
		if tc.columns == nil {
			assert.NoError(t, err, tc.name)
			continue
		}
		if assert.ErrorAs(t, err, &sep, tc.name) {
			assert.Equal(t, tc.columns, sep.Columns, tc.name)
		}
		firth, err := f.Logistic(single(tc.events), FitOptions{Firth: true})
		require.NoError(t, err, tc.name)
		assert.True(t, finite(firth.Coef[1]) && finite(firth.SE(1)))
	}
	rare := fitterFor(t, withIntercept([]float64{0, 1}))
	fit, err := rare.Logistic(Counts{[]float64{1, 1}, []float64{1e6, 1e6 - 1}}, FitOptions{})
	require.NoError(t, err)
	assert.InDelta(t, Logit(1e-6), fit.Coef[0], 1e-8)
}

func TestLogisticRefuses(t *testing.T) {
	f := fitterFor(t, withIntercept([]float64{0, 1, 2}))
	_, err := f.Logistic(single([]float64{0, 0, 0}), FitOptions{})
	assert.ErrorIs(t, err, ErrNoVariation)
	_, err = f.Logistic(single([]float64{1, 1, 1}), FitOptions{})
	assert.ErrorIs(t, err, ErrNoVariation)
	_, err = f.Logistic(Counts{make([]float64, 3), make([]float64, 3)}, FitOptions{Firth: true})
	assert.ErrorIs(t, err, ErrNoVariation)
	_, err = f.Logistic(single([]float64{0, 1, 0}), FitOptions{MaxIterations: 1})
	assert.ErrorIs(t, err, ErrNotConverged)
	ok := single([]float64{0, 1, 0})
	for name, o := range map[string]FitOptions{
		"both penalties":   {Firth: true, Penalty: []float64{0, 1}},
		"short offset":     {Offset: []float64{1}},
		"short start":      {Start: []float64{1}},
		"infinite start":   {Start: []float64{1, math.Inf(1)}},
		"negative penalty": {Penalty: []float64{0, -1}},
		"no such column":   {Only: []int{2}},
		"nothing to fit":   {Only: []int{}},
	} {
		_, err := f.Logistic(ok, o)
		assert.Error(t, err, name)
	}
	for _, bad := range []Counts{{[]float64{1}, []float64{1}}, {[]float64{2, 0, 0}, []float64{1, 1, 1}}, {[]float64{0, -1, 0}, []float64{1, 1, 1}}, {[]float64{0, math.NaN(), 0}, []float64{1, 1, 1}}} {
		_, err := f.Logistic(bad, FitOptions{})
		assert.Error(t, err)
	}
	_, err = NewDesign(mat.NewDense(2, 1, []float64{1, math.NaN()}))
	assert.Error(t, err)
}

// A column that others already give is held at 0 and named; the rest of the
// fit is as without it. In a resample a level may vanish altogether.
func TestLogisticAliased(t *testing.T) {
	s := example(t, "birthwt.csv")
	smoke, lwt, low := s.nums(t, "smoke"), s.nums(t, "lwt"), s.nums(t, "low")
	rest, empty := make([]float64, len(smoke)), make([]float64, len(smoke))
	for i, v := range smoke {
		rest[i] = 1 - v
	}
	want, err := fitterFor(t, withIntercept(smoke, lwt)).Logistic(single(low), FitOptions{})
	require.NoError(t, err)
	got, err := fitterFor(t, withIntercept(smoke, rest, empty, lwt)).Logistic(single(low), FitOptions{})
	require.NoError(t, err)
	assert.Equal(t, []int{2, 3}, got.Aliased)
	assert.InDeltaSlice(t, []float64{want.Coef[0], want.Coef[1], 0, 0, want.Coef[2]}, got.Coef, 1e-9)
	assert.Zero(t, got.SE(2))
	assert.False(t, got.Wald(2, 0.95, 189).Given())
	// Years and their squares are nearly, but not wholly, dependent.
	year, square := make([]float64, len(low)), make([]float64, len(low))
	for i := range low {
		year[i] = 2020 + float64(i%5)
		square[i] = (year[i] - 2022) * (year[i] - 2022)
	}
	fit, err := fitterFor(t, withIntercept(year, square)).Logistic(single(low), FitOptions{})
	require.NoError(t, err)
	assert.Empty(t, fit.Aliased)
}

// R's glmnet 4.1.6 and a general optimiser: mean log-loss + lambda/2 sum b^2 on
// standardised columns, intercept free (le Cessie and van Houwelingen 1992).
func TestRidgeGlmnet(t *testing.T) {
	columns := []string{"age", "lwt", "smoke", "ht", "ui", "ptl"}
	f, c := birthwt(t, columns...)
	s := example(t, "birthwt.csv")
	for lambda, want := range map[float64][]float64{
		0.01: {-0.888345644, -0.212818171, -0.401791958, 0.257713761, 0.423349222, 0.251745064, 0.281047288},
		0.05: {-0.860694869, -0.180475619, -0.311695883, 0.222501246, 0.337658402, 0.219613323, 0.246436423},
		0.1:  {-0.841470853, -0.152710833, -0.24900792, 0.19139366, 0.272617161, 0.190631706, 0.215192019},
		0.5:  {-0.802309543, -0.0710398466, -0.10453352, 0.093498188, 0.108733617, 0.0958584428, 0.110442806},
	} {
		fit, err := f.Logistic(c, FitOptions{Penalty: f.d.RidgePenalty(c.Trials, lambda, 0)})
		require.NoError(t, err)
		got := []float64{fit.Coef[0]}
		for j, name := range columns {
			mean, sd := stat.PopMeanStdDev(s.nums(t, name), nil)
			got[0] += fit.Coef[j+1] * mean
			got = append(got, fit.Coef[j+1]*sd)
		}
		assert.InDeltaSlice(t, want, got, 5e-7, "lambda %v", lambda)
	}
}

// With pure noise the cross-validated penalty is the heaviest, with a strong
// cause a light one; the same folds give the same answer.
func TestRidgeCV(t *testing.T) {
	rng := Source(11, 0)
	const n = 400
	x, noise, cause := make([]float64, n), make([]float64, n), make([]float64, n)
	fold := make([]int, n)
	for i := range n {
		x[i] = rng.NormFloat64()
		noise[i] = float64(rng.IntN(2))
		if rng.Float64() < Logistic(2*x[i]) {
			cause[i] = 1
		}
		fold[i] = i % 5
	}
	f := fitterFor(t, withIntercept(x))
	folds := func(y []float64) []Counts {
		out := make([]Counts, 5)
		for k := range out {
			out[k] = Counts{make([]float64, n), make([]float64, n)}
		}
		for i := range y {
			out[fold[i]].Events[i], out[fold[i]].Trials[i] = y[i], 1
		}
		return out
	}
	grid := []float64{0.001, 0.01, 0.1, 1, 10}
	a, err := f.RidgeCV(folds(cause), grid, 0)
	require.NoError(t, err)
	assert.LessOrEqual(t, a.Lambda, 0.01)
	assert.GreaterOrEqual(t, a.Cautious, a.Lambda)
	b, err := f.RidgeCV(folds(noise), grid, 0)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, b.Lambda, 1.0)
	assert.Equal(t, 10.0, b.Cautious)
	again, err := f.RidgeCV(folds(cause), grid, 0)
	require.NoError(t, err)
	assert.Equal(t, a, again)
	_, err = f.RidgeCV(folds(cause)[:1], grid, 0)
	assert.Error(t, err)
	_, err = f.RidgeCV(folds(cause), []float64{-1}, 0)
	assert.Error(t, err)
}

func TestLogitLogistic(t *testing.T) {
	assert.Equal(t, 0.0, Logistic(-800))
	assert.Equal(t, 1.0, Logistic(800))
	for _, p := range []float64{1e-12, 0.08, 0.5, 0.999} {
		assert.InEpsilon(t, p, Logistic(Logit(p)), 1e-12)
	}
	assert.True(t, math.IsNaN(Logit(-1)))
}

// patterns2000 is like an order book's design: 2,000 patterns by 40 columns,
// most of them indicators.
func patterns2000(tb testing.TB) (*Fitter, Counts) {
	rng := Source(2, 0)
	x := mat.NewDense(2000, 40, nil)
	c := Counts{make([]float64, 2000), make([]float64, 2000)}
	for i := range 2000 {
		x.Set(i, 0, 1)
		x.Set(i, 1, rng.NormFloat64())
		x.Set(i, 2, rng.Float64())
		for j := 3; j < 40; j++ {
			if rng.IntN(5) == 0 {
				x.Set(i, j, 1)
			}
		}
		c.Trials[i] = float64(1 + rng.IntN(99))
		for range int(c.Trials[i]) {
			if rng.IntN(12) == 0 {
				c.Events[i]++
			}
		}
	}
	return fitterFor(tb, x), c
}

// BenchmarkLogisticRefit is one bootstrap refit: new weights, warm start.
func BenchmarkLogisticRefit(b *testing.B) {
	f, c := patterns2000(b)
	fit, err := f.Logistic(c, FitOptions{})
	require.NoError(b, err)
	rng, w := Source(3, 0), make([]float64, len(c.Trials))
	again := Counts{make([]float64, len(w)), make([]float64, len(w))}
	for b.Loop() {
		PoissonWeights(rng, w)
		for i := range w {
			again.Events[i], again.Trials[i] = w[i]*c.Events[i], w[i]*c.Trials[i]
		}
		if _, err := f.Logistic(again, FitOptions{Start: fit.Coef}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFirth(b *testing.B) {
	f, c := patterns2000(b)
	for b.Loop() {
		if _, err := f.Logistic(c, FitOptions{Firth: true}); err != nil {
			b.Fatal(err)
		}
	}
}
