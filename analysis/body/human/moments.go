package human

import "math"

// moments are mean and covariance of the logarithms of the twelve core numbers
// of one sex: of the body itself (both feet) and as written.
//
// Girths are nearer lognormal than normal (benchmark, section 2), errors are
// in mm. So the lognormal's mean and covariance are taken to mm, where the
// errors add, and back: for a lognormal pair with means M and covariance C in
// mm, the covariance of the logarithms is ln(1 + C/(M M')).
type moments struct {
	body    [CoreCount]float64 // mean of the body value, mm
	bodyCov [CoreCount][CoreCount]float64
	Written [CoreCount]float64 // mean of the written number, mm
	Mean    [CoreCount]float64 // of ln written
	Cov     [CoreCount][CoreCount]float64
}

func CoreMoments(f *figures, m *Measuring, step float64) *moments {
	var out moments
	for i := range CoreCount {
		fi := i % FeatureCount
		out.body[i] = math.Exp(f.mean[fi] + f.cov[fi][fi]/2)
		out.Written[i] = out.body[i] + m.Offset(fi) + m.Extra[fi]
	}
	for i := range CoreCount {
		for j := range CoreCount {
			bb := out.body[i] * out.body[j]
			c := bb * math.Expm1(f.cov[i%FeatureCount][j%FeatureCount])
			out.bodyCov[i][j] = math.Log1p((c + m.sideDiff(i, j)) / bb)
			out.Cov[i][j] = math.Log1p((c + m.noise(i, j, step)) / (out.Written[i] * out.Written[j]))
		}
		out.Mean[i] = math.Log(out.Written[i]) - out.Cov[i][i]/2
	}
	return &out
}
