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

// Reliability is the coefficient of reliability of repeated readings, 1 -
// TEM^2/SD^2, SD that of all readings: the share of the variance that is not error of measurement.
// Each subject is one slice of readings; those read once count for SD only. The interval
// is that of the F ratio between and within subjects, exact where all were read equally often.
//
// Missing without a repeated reading, with fewer than two subjects or where all readings are
// the same. Ulijaszek SJ, Kerr DA (1999) Br J Nutr 82:165-177.
func Reliability(subjects [][]float64, level float64) Estimate {
	const method = "coefficient of reliability, F interval"
	v := oneWay(subjects)
	switch {
	case v.df == 0 || v.groups < 2:
		return Missing(v.groups, method, "nobody was measured twice, or only one was")
	case !(v.within+v.between > 0):
		return Missing(v.groups, method, "all readings are the same")
	case math.IsNaN(Z(level)):
		return Missing(v.groups, method, badLevel(level))
	}
	b, w := float64(v.groups-1), float64(v.df)
	ratio := v.between / b / (v.within / w)
	share := func(f float64) float64 { return 1 - (b+w)/(b*f+w) }
	if math.IsInf(ratio, 1) {
		return Estimate{Point: 1, Low: 1, High: 1, Level: level, N: v.groups, Method: method}
	}
	f := distuv.F{D1: b, D2: w}
	return Estimate{Point: share(ratio), Low: share(ratio / f.Quantile(1-(1-level)/2)), High: share(ratio / f.Quantile((1-level)/2)), Level: level, N: v.groups, Method: method}
}

// oneWay are the sums of squares between and within groups of readings.
func oneWay(groups [][]float64) (v struct {
	between, within float64
	df, groups      int
}) {
	var all []float64
	var means, weights []float64
	for _, g := range groups {
		kept := sortedFinite(g)
		if len(kept) == 0 {
			continue
		}
		m := stat.Mean(kept, nil)
		for _, x := range kept {
			v.within += (x - m) * (x - m)
		}
		all, means, weights = append(all, kept...), append(means, m), append(weights, float64(len(kept)))
		v.df, v.groups = v.df+len(kept)-1, v.groups+1
	}
	centre := stat.Mean(all, nil)
	for k, m := range means {
		v.between += weights[k] * (m - centre) * (m - centre)
	}
	return v
}

// Intraclass are the intraclass correlations of a table: how far readings of one
// subject agree, for a single reading and for the mean of as many as there are columns.
// The names are those of McGraw KO, Wong SP (1996) Psychol Methods 1:30-46, in
// brackets those of Shrout PE, Fleiss JL (1979) Psychol Bull 86:420-428.
type Intraclass struct {
	// ICC(1), ICC(k) (1,1; 1,k): each subject by other raters.
	OneWay1 Estimate `json:"icc_1"`
	OneWayK Estimate `json:"icc_k"`
	// ICC(A,1), ICC(A,k) (2,1; 2,k): raters drawn at random, their levels count.
	Agreement1 Estimate `json:"icc_a1"`
	AgreementK Estimate `json:"icc_ak"`
	// ICC(C,1), ICC(C,k) (3,1; 3,k): differences of level between raters left out.
	Consistency1 Estimate `json:"icc_c1"`
	ConsistencyK Estimate `json:"icc_ck"`
}

// ICC is of a full table, one row a subject, one column a rater. Intervals are by F; those of
// absolute agreement are Satterthwaite's. With fewer than two rows or columns, a
// reading that is not finite or rows of unequal length, all are Missing.
func ICC(table [][]float64, level float64) Intraclass {
	n, k := len(table), 0
	if n > 0 {
		k = len(table[0])
	}
	fail := func(why string) Intraclass {
		e := Missing(n, "intraclass correlation", why)
		return Intraclass{e, e, e, e, e, e}
	}
	if n < 2 || k < 2 {
		return fail("fewer than two subjects or raters")
	}
	for _, row := range table {
		if len(row) != k || len(sortedFinite(row)) != k {
			return fail("not all were read by all")
		}
	}
	if math.IsNaN(Z(level)) {
		return fail(badLevel(level))
	}
	rows, raters := float64(n), float64(k)
	byColumn := make([][]float64, k)
	for _, row := range table {
		for j, x := range row {
			byColumn[j] = append(byColumn[j], x)
		}
	}
	r, c := oneWay(table), oneWay(byColumn)
	msr, msw := r.between/(rows-1), r.within/(rows*(raters-1))
	msc, mse := c.between/(raters-1), math.Max(0, r.within-c.between)/((rows-1)*(raters-1))
	if !(msw > 0) || !(mse > 0) {
		return fail("the raters agree to the last digit: there is no error to judge by")
	}
	up := 1 - (1-level)/2
	one := func(name string, v, low, high float64) Estimate {
		return Estimate{Point: v, Low: low, High: high, Level: level, N: n, Method: name + ", F interval"}
	}
	single := func(f float64) float64 { return (f - 1) / (f + raters - 1) }
	mean := func(f float64) float64 { return 1 - 1/f }
	pair := func(name string, f, df1, df2 float64) (Estimate, Estimate) {
		low, high := f/distuv.F{D1: df1, D2: df2}.Quantile(up), f*distuv.F{D1: df2, D2: df1}.Quantile(up)
		return one("ICC("+name+"1)", single(f), single(low), single(high)), one("ICC("+name+"k)", mean(f), mean(low), mean(high))
	}
	var i Intraclass
	i.OneWay1, i.OneWayK = pair("", msr/msw, rows-1, rows*(raters-1))
	i.Consistency1, i.ConsistencyK = pair("C,", msr/mse, rows-1, (rows-1)*(raters-1))
	a := (msr - mse) / (msr + (raters-1)*mse + raters*(msc-mse)/rows)
	fj := msc / mse
	u := rows*(1+(raters-1)*a) - raters*a
	df := (raters - 1) * (rows - 1) * math.Pow(raters*a*fj+u, 2) / ((rows-1)*raters*raters*a*a*fj*fj + u*u)
	lower, upper := distuv.F{D1: rows - 1, D2: df}.Quantile(up), distuv.F{D1: df, D2: rows - 1}.Quantile(up)
	rest := raters*msc + (raters*rows-raters-rows)*mse
	low, high := rows*(msr-lower*mse)/(lower*rest+rows*msr), rows*(upper*msr-mse)/(rest+rows*upper*msr)
	ofMean := func(r float64) float64 { return raters * r / (1 + (raters-1)*r) }
	i.Agreement1 = one("ICC(A,1)", a, low, high)
	i.AgreementK = one("ICC(A,k)", ofMean(a), ofMean(low), ofMean(high))
	return i
}
