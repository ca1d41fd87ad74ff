package body

import "math"

// moments are mean and covariance of the logarithms of the twelve core numbers
// of one sex: of the body itself (both feet) and as written.
//
// Girths are nearer lognormal than normal (benchmark, section 2), errors are
// in mm. So the lognormal's mean and covariance are taken to mm, where the
// errors add, and back: for a lognormal pair with means M and covariance C in
// mm, the covariance of the logarithms is ln(1 + C/(M M')).
type moments struct {
	body    [core]float64 // mean of the body value, mm
	bodyCov [core][core]float64
	written [core]float64 // mean of the written number, mm
	mean    [core]float64 // of ln written
	cov     [core][core]float64
}

func coreMoments(f *figures, m *Measuring, step float64) *moments {
	var out moments
	for i := range core {
		fi := i % features
		out.body[i] = math.Exp(f.mean[fi] + f.cov[fi][fi]/2)
		out.written[i] = out.body[i] + m.offset(fi) + m.Extra[fi]
	}
	for i := range core {
		for j := range core {
			bb := out.body[i] * out.body[j]
			c := bb * math.Expm1(f.cov[i%features][j%features])
			out.bodyCov[i][j] = math.Log1p((c + m.sideDiff(i, j)) / bb)
			out.cov[i][j] = math.Log1p((c + m.noise(i, j, step)) / (out.written[i] * out.written[j]))
		}
		out.mean[i] = math.Log(out.written[i]) - out.cov[i][i]/2
	}
	return &out
}
