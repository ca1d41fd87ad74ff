package stats

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
