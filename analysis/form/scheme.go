package form

import (
	"math"
	"slices"
	"strconv"
)

// A Scheme says what a shop measures: at which heights leg girths are taken,
// and which of the possible heel and ankle girths its numbers are.
type Scheme struct {
	FirstMM     float64 // the lowest height of a leg girth above the floor
	StepMM      float64 // from one height to the next
	ToleranceMM float64 // how far off a height may be and still count
	HeelGirth   HeelGirth
	AnkleGirth  AnkleGirth
}

// HeelGirth is which girth "heel" is.
type HeelGirth string

// The short heel goes from the heel tip to the front bend of the ankle, the
// long heel to the instep.
const (
	ShortHeel HeelGirth = "short"
	LongHeel  HeelGirth = "long"
)

// AnkleGirth is which girth "ankle" is.
type AnkleGirth string

// The ankle girths.
const (
	LeastAnkle AnkleGirth = "least"
	OverBones  AnkleGirth = "over-bones"
	NoAnkle    AnkleGirth = "none" // the shop takes no ankle girth
)

// DefaultScheme is common practice of the trade (no published source): 7 inches
// and every 2 inches up, the height good to half a millimetre.
var DefaultScheme = Scheme{FirstMM: 7 * 25.4, StepMM: 2 * 25.4, ToleranceMM: 0.5, HeelGirth: ShortHeel, AnkleGirth: LeastAnkle}

// The names under which a book keeps a shop's settings of its scheme.
const (
	settingFirst      = "first_leg_height_mm"
	settingStep       = "leg_step_mm"
	settingTolerance  = "leg_tolerance_mm"
	settingHeelGirth  = "heel_girth"
	settingAnkleGirth = "ankle_girth"
)

// HeelGirths and AnkleGirths are the words of those settings.
var (
	HeelGirths  = []HeelGirth{ShortHeel, LongHeel}
	AnkleGirths = []AnkleGirth{LeastAnkle, OverBones, NoAnkle}
)

// SchemeOf reads a shop's settings, by name; what is not there, or is no
// height, is as in DefaultScheme.
func SchemeOf(settings map[string]string) Scheme {
	s := DefaultScheme
	for name, into := range map[string]*float64{settingFirst: &s.FirstMM, settingStep: &s.StepMM, settingTolerance: &s.ToleranceMM} {
		if x, err := strconv.ParseFloat(settings[name], 64); err == nil && (x > 0 || x == 0 && name == settingTolerance) {
			*into = x
		}
	}
	if i := slices.Index(HeelGirths, HeelGirth(settings[settingHeelGirth])); i >= 0 {
		s.HeelGirth = HeelGirths[i]
	}
	if i := slices.Index(AnkleGirths, AnkleGirth(settings[settingAnkleGirth])); i >= 0 {
		s.AnkleGirth = AnkleGirths[i]
	}
	return s
}

// MostHeights is how many leg heights a scheme may tell apart.
const MostHeights = 60

// roundingMM is slack for the rounding of inches, far under a line of the tape.
const roundingMM = 0.05

// Heights are the heights at which a boot with this shaft needs leg girths:
// all of the scheme that are not above it. An unknown shaft (NaN) needs none.
func (s Scheme) Heights(shaftMM float64) (out []Height) {
	for k := 0; k < MostHeights; k++ {
		h := s.FirstMM + float64(k)*s.StepMM
		if math.IsNaN(shaftMM) || h > shaftMM+roundingMM {
			break
		}
		out = append(out, Height(h))
	}
	return out
}
