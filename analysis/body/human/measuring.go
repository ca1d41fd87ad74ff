package human

import "lastroom/analysis/form"

// feature numbers the six survey measures, in the order of the tables.
const (
	AtLength = iota
	AtBreadth
	AtBall
	AtHeel
	AtAnkle
	AtCalf
	FeatureCount
)

// CoreCount is the number of survey measures on both feet: index side*features+feature.
const CoreCount = 2 * FeatureCount

// Measuring is how a written number differs from the body: written = body +
// offset of the form + habit + reading error, rounded to the reading step.
// Lengths in mm. The rounding is not in here: it is step²/12 and is known from
// the form itself.
type Measuring struct {
	Reading     [FeatureCount]float64 // SD of one reading: length, breadth, ball, heel, ankle, calf
	Common      float64               // share of that variance which both feet have in common (same hand, same habit)
	GirthOffset float64               // mean of the offset that all girths of a form share (sock less snugness)
	GirthSD     float64
	TraceOffset float64 // the same for length and breadth (the pencil line)
	TraceSD     float64
	Side        [FeatureCount]float64 // SD of the true left minus right
	SideCorr    float64               // correlation between the side differences of one person

	LegReading float64 // SD of one reading of a leg girth
	HeightMark float64 // SD of the height the tape really lay at

	// From a shop's own forms only:
	Extra    [FeatureCount]float64 // further offset of each measure, mm
	Inflate  float64               // factor on the variance of whole forms
	LegShape float64               // factor on the SD of the leg profile
}

// Published is the measuring model of benchmark, section 4, for a helper at
// home. Dealer and shop scale the reading errors; those scales are judgements
// (table of figures in doc.go: trained 2-3 mm, helper 4-6 mm).
func Published(c form.Channel) Measuring {
	m := Measuring{
		Reading:     [FeatureCount]float64{2.5, 2, 4, 5, 4, 4},
		Common:      0.5,
		GirthOffset: 3, GirthSD: 2,
		TraceOffset: 3, TraceSD: 1.5,
		Side:     [FeatureCount]float64{3, 2, 3.5, 3.5, 3, 4},
		SideCorr: 0.3,

		LegReading: 4, HeightMark: 4,
		Inflate: 1, LegShape: 1,
	}
	m.Scale([...]float64{1, 0.85, 0.7}[min(c, form.Shop)])
	return m
}

// Scale multiplies every reading error by k.
func (m *Measuring) Scale(k float64) {
	for i := range m.Reading {
		m.Reading[i] *= k
	}
	m.LegReading *= k
	m.HeightMark *= k
}

func IsGirth(f int) bool { return f >= AtBall }

// Offset is the mean offset of a feature.
func (m *Measuring) Offset(f int) float64 {
	if IsGirth(f) {
		return m.GirthOffset
	}
	return m.TraceOffset
}

// noise is the covariance, in mm², that measuring and (for the left foot) the
// side difference add to two written numbers. The survey measured right feet,
// so the right foot is the person's and the left is right plus difference.
func (m *Measuring) noise(i, j int, step float64) float64 {
	fi, fj := i%FeatureCount, j%FeatureCount
	v := 0.0
	switch {
	case IsGirth(fi) && IsGirth(fj):
		v = m.GirthSD * m.GirthSD
	case !IsGirth(fi) && !IsGirth(fj):
		v = m.TraceSD * m.TraceSD
	}
	if fi == fj {
		r := m.Reading[fi] * m.Reading[fi]
		if i == j {
			v += r + step*step/12
		} else {
			v += r * m.Common
		}
	}
	return v + m.sideDiff(i, j)
}

// sideDiff is the covariance that the true side difference adds.
func (m *Measuring) sideDiff(i, j int) float64 {
	if i >= FeatureCount || j >= FeatureCount { // Left is 0: indexes under features
		return 0
	}
	v := m.Side[i] * m.Side[j]
	if i != j {
		v *= m.SideCorr
	}
	return v
}
