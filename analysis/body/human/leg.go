package human

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/form"
)

// The leg's girth by height above the floor. There is no published table row
// by row: this profile is a judgement built on the figures named below, wide
// until a shop's own orders narrow it.
//
//   - From the least ankle girth to the largest calf girth it rises as the
//     cubic 3t²-2t³ of the way up (table of figures in doc.go, the derived S-curve:
//     258, 313, 366, 392 mm at 7, 9, 11, 13 in for the mean man).
//   - The least ankle girth lies 44 mm above the outer ankle bone (117 mm in
//     men, 107 in women; heights assumed there), the calf peak at 338 (men) and
//     314 mm (women), middle nine tenths ±30 and ±28 mm, and 10 mm more for
//     individual spread.
//   - Below the knee the girth is about 0.935 of the peak (0.90-0.97, a
//     judgement), 80 mm above it.
const (
	ankleAboveBone = 44.0
	kneeGirth      = 0.935
	kneeAbovePeak  = 80.0
	peakExtraSD    = 10.0

	shapeSD     = 0.045 // of ln girth between ankle and calf, beyond what ankle, calf and peak height say
	shapeReach  = 75.0  // mm over which that deviation keeps its sign
	shapeBeyond = 0.0008
	shapeMaxSD  = 0.12
	sideShapeSD = 0.015 // the same for one leg against the other
)

var (
	peakMean = [3]float64{form.Female: 314, form.Male: 338}
	peakSD   = [3]float64{form.Female: 28 / 1.645, form.Male: 30 / 1.645} // from the skeleton alone
)

// Profile is the girth at height h of a leg with the given ankle and calf
// girths at the given heights, in mm.
func Profile(h, ankle, calf, ankleH, peakH float64) float64 {
	if h <= ankleH {
		return ankle
	}
	if h >= peakH {
		t := math.Min(1, (h-peakH)/kneeAbovePeak)
		return calf * (1 - (1-kneeGirth)*t*t)
	}
	t := (h - ankleH) / (peakH - ankleH)
	return ankle + (calf-ankle)*t*t*(3-2*t)
}

// peakNodes stand for the spread of the calf peak's height: equal shares of a
// standard normal.
var peakNodes = func() (z [7]float64) {
	ss := 0.0
	for i := range z {
		z[i] = distuv.UnitNormal.Quantile((float64(i) + 0.5) / float64(len(z)))
		ss += z[i] * z[i]
	}
	for i := range z {
		z[i] *= math.Sqrt(float64(len(z)) / ss)
	}
	return z
}()

// legShape is what the profile says of the logarithm of one leg girth: its
// mean, how it follows ankle and calf girth (logs) and the height of the peak.
type legShape struct {
	mean        float64
	ankle, calf float64                 // derivatives by ln ankle, ln calf
	node        [len(peakNodes)]float64 // deviation at each peak height
	slope       float64                 // covariance with the standardised peak height
	rise        float64                 // mm of girth a mm of height
	sd          float64                 // own deviation, of ln girth
}

func shapeAt(sex form.Sex, f *figures, ankle, calf, h float64) legShape {
	var s legShape
	ankleH := f.boneMean + ankleAboveBone
	sd := math.Hypot(peakSD[sex], peakExtraSD)
	const e = 1e-4
	n := float64(len(peakNodes))
	for k, z := range peakNodes {
		peak := peakMean[sex] + sd*z
		g := Profile(h, ankle, calf, ankleH, peak)
		s.node[k] = math.Log(g)
		s.mean += s.node[k] / n
		s.ankle += (math.Log(Profile(h, ankle*(1+e), calf, ankleH, peak)) - s.node[k]) / e / n
		s.calf += (math.Log(Profile(h, ankle, calf*(1+e), ankleH, peak)) - s.node[k]) / e / n
		s.rise += (Profile(h+1, ankle, calf, ankleH, peak) - g) / n
	}
	for k, z := range peakNodes {
		s.node[k] -= s.mean
		s.slope += s.node[k] * z / n
	}
	beyond := math.Max(0, math.Max(ankleH-h, h-peakMean[sex]-kneeAbovePeak))
	s.sd = math.Min(shapeMaxSD, shapeSD+shapeBeyond*beyond)
	return s
}

// peakLoad is the covariance of the standardised peak height with the logs of
// the survey measures: through the height of the knee.
func peakLoad(sex form.Sex, f *figures) (b [FeatureCount]float64) {
	share := peakSD[sex] / math.Hypot(peakSD[sex], peakExtraSD)
	for i := range b {
		b[i] = f.knee[i] * share * math.Sqrt(f.cov[i][i])
	}
	return b
}

// together is how far the own deviations at two heights go together.
func together(h, g float64) float64 {
	d := (h - g) / shapeReach
	return math.Exp(-d * d / 2)
}
