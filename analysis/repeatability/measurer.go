package repeatability

import (
	"fmt"
	"maps"
	"slices"

	"lastroom/analysis/stats"
)

// A Measured is how one measurer reads one spot.
type Measured struct {
	Point    string      `json:"point"`
	HeightMM stats.Value `json:"height_mm"`
	Subjects int         `json:"subjects"` // legs taken twice
	// TEM is the technical error of measurement: how far readings of one leg lie from each other.
	TEM stats.Estimate `json:"tem_mm"`
	// Bias is the mean difference from the instructor's value; Lower and Upper are
	// the limits of agreement, within which 19 of 20 differences lie.
	Bias  stats.Estimate `json:"bias_mm"`
	Lower stats.Estimate `json:"lower_limit_mm"`
	Upper stats.Estimate `json:"upper_limit_mm"`
	// Within says whether the interval of the bias lies inside what a boot tolerates
	// there: "yes", "no" where it lies outside, else "can't be told yet".
	Within    string    `json:"within_tolerance"`
	Tolerance Tolerance `json:"tolerance"`
	// LegsNeeded is the number of legs that halve what is left open: with so many
	// the bias is known to half of the tolerance. 0 where its spread isn't known.
	LegsNeeded int `json:"legs_needed"`
}

// leastLegs is the number of legs that a technical error or a bias is read from
// (judgement).
const leastLegs = 5

// ByMeasurer are the spots that each measurer took, by point and height.
func ByMeasurer(repeats []Repeat) map[string][]Measured {
	t := sorted(repeats)
	out := map[string][]Measured{}
	for id, r := range t.by {
		for _, s := range slices.SortedFunc(maps.Keys(r), Spot.compare) {
			out[id] = append(out[id], measuredAt(s, r[s], t.reference[s]))
		}
	}
	return out
}

func measuredAt(s Spot, legs, reference map[leg][]float64) Measured {
	m := Measured{Point: s.Point, HeightMM: s.heightMM(), Tolerance: ToleranceOf(s.Point)}
	var sets [][]float64
	var differences []float64
	for _, l := range slices.SortedFunc(maps.Keys(legs), leg.compare) {
		if len(legs[l]) > 1 {
			sets = append(sets, legs[l])
		}
		if ref := reference[l]; len(ref) > 0 {
			differences = append(differences, mean(legs[l])-mean(ref))
		}
	}
	m.Subjects, m.TEM = len(sets), technicalError(sets)
	m.Bias, m.Lower, m.Upper, m.LegsNeeded = againstReference(differences, m.Tolerance.MM)
	m.Within = m.Tolerance.holds(m.Bias)
	return m
}

func technicalError(sets [][]float64) stats.Estimate {
	if len(sets) < leastLegs {
		return stats.Missing(len(sets), "technical error of measurement", fmt.Sprintf("too few to tell: %d legs taken twice, %d needed", len(sets), leastLegs))
	}
	return stats.TEM(sets, level)
}

func againstReference(d []float64, tolerance float64) (bias, lower, upper stats.Estimate, needed int) {
	const method = "mean difference from the instructor, Student's t interval"
	if len(d) < leastLegs {
		e := stats.Missing(len(d), method, fmt.Sprintf("too few to tell: %d legs that the instructor took too, %d needed", len(d), leastLegs))
		return e, e, e, 0
	}
	a := stats.BlandAltman(d, level)
	a.Bias.Method = method
	return a.Bias, a.Lower, a.Upper, legsForBias(a.SD, tolerance/2)
}
