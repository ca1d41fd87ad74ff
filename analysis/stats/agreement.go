package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// TEM is the technical error of measurement: the standard deviation within
// subjects, sqrt(sum of squares within / sum of (readings - 1)), each subject
// one slice of repeated readings. For pairs it is sqrt(sum d^2 / 2n). The
// interval is the chi-squared one for a normal standard deviation; N counts
// the subjects with at least two readings. NaN readings are left out.
//
// Without a repeated reading it is Missing. 95% of honest repeats lie within
// 2.77 TEM of each other. Dahlberg G (1940); Ulijaszek SJ, Kerr DA (1999) Br J
// Nutr 82:165-177; Bland JM, Altman DG (1996) BMJ 313:744.
func TEM(subjects [][]float64, level float64) Estimate {
	const method = "technical error of measurement, chi-squared interval"
	var square float64
	df, n := 0, 0
	for _, readings := range subjects {
		kept := sortedFinite(readings)
		if len(kept) < 2 {
			continue
		}
		mean := stat.Mean(kept, nil)
		for _, v := range kept {
			square += (v - mean) * (v - mean)
		}
		df, n = df+len(kept)-1, n+1
	}
	switch {
	case df == 0:
		return Missing(0, method, "nobody was measured twice")
	case math.IsNaN(Z(level)):
		return Missing(n, method, badLevel(level))
	}
	chi, tail := distuv.ChiSquared{K: float64(df)}, (1-level)/2
	return Estimate{
		Point: math.Sqrt(square / float64(df)),
		Low:   math.Sqrt(square / chi.Quantile(1-tail)), High: math.Sqrt(square / chi.Quantile(tail)),
		Level: level, N: n, Method: method,
	}
}

// Agreement are the limits within which most differences between two ways of
// measuring lie, each with its own interval.
type Agreement struct {
	Bias         Estimate // mean difference
	SD           float64  // of the differences
	Lower, Upper Estimate // Bias -+ z SD
}

// BlandAltman are the limits of agreement of paired differences: mean -+ z SD
// (z 1.96 for level 0.95), with Student's t intervals; the standard error of a
// limit is sqrt(3 SD^2/n). NaN differences are left out; with fewer than three,
// all is Missing and SD NaN.
//
// Bland JM, Altman DG (1986) Lancet i:307-310.
func BlandAltman(differences []float64, level float64) Agreement {
	const method = "limits of agreement"
	d := sortedFinite(differences)
	n, z := len(d), Z(level)
	if n < 3 || math.IsNaN(z) {
		why := "fewer than three paired readings"
		if math.IsNaN(z) {
			why = badLevel(level)
		}
		none := Missing(n, method, why)
		return Agreement{none, math.NaN(), none, none}
	}
	mean, sd := stat.MeanStdDev(d, nil)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - (1-level)/2)
	around := func(point, se float64) Estimate {
		return Estimate{Point: point, Low: point - t*se, High: point + t*se, Level: level, N: n, Method: method}
	}
	se := sd / math.Sqrt(float64(n))
	return Agreement{around(mean, se), sd, around(mean-z*sd, math.Sqrt(3)*se), around(mean+z*sd, math.Sqrt(3)*se)}
}
