package measurers

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/stats"
)

// A spot is where the tape lay; a leg is one subject's leg in one session. Left
// and right count as two, so does the same leg in another session.
type (
	spot struct {
		point  string
		height float64 // -1 for foot points
	}
	leg      struct{ session, subject, side string }
	readings map[spot]map[leg][]float64
)

func (r readings) add(x Repeat) {
	s := spot{x.Point, x.HeightMM}
	if math.IsNaN(s.height) {
		s.height = -1
	}
	if r[s] == nil {
		r[s] = map[leg][]float64{}
	}
	l := leg{x.Session, x.Subject, x.Side}
	r[s][l] = append(r[s][l], x.ValueMM)
}

// technicalErrors are the technical errors of measurement by measurer, from repeats: for
// each point (and height) the legs that the measurer took at least twice.
func technicalErrors(repeats []Repeat) map[string][]TEM {
	by, reference := map[string]readings{}, readings{}
	for _, r := range repeats {
		switch {
		case math.IsNaN(r.ValueMM) || math.IsInf(r.ValueMM, 0):
		case r.Reference:
			reference.add(r)
		case r.Measurer != "":
			if by[r.Measurer] == nil {
				by[r.Measurer] = readings{}
			}
			by[r.Measurer].add(r)
		}
	}
	out := map[string][]TEM{}
	for id, spots := range by {
		for s, legs := range spots {
			out[id] = append(out[id], errorAt(s, legs, reference[s]))
		}
		slices.SortFunc(out[id], func(a, b TEM) int {
			return cmp.Or(cmp.Compare(a.Point, b.Point), cmp.Compare(a.HeightMM, b.HeightMM))
		})
	}
	return out
}

func errorAt(s spot, legs, reference map[leg][]float64) TEM {
	t := TEM{Point: s.point, HeightMM: stats.Value(s.height)}
	if s.height < 0 {
		t.HeightMM = stats.Value(math.NaN())
	}
	var sets [][]float64
	var bias []float64
	for l, values := range legs {
		if len(values) > 1 {
			sets = append(sets, values)
		}
		if ref := reference[l]; len(ref) > 0 {
			bias = append(bias, mean(values)-mean(ref))
		}
	}
	// Sums must not depend on the order of a map.
	slices.SortFunc(sets, slices.Compare[[]float64])
	slices.Sort(bias)
	t.Subjects, t.TEM, t.Bias = len(sets), technicalError(sets), meanBias(bias)
	return t
}

// leastLegs is the number of legs taken at least twice that a technical error
// is read from (judgement).
const leastLegs = 5

func technicalError(sets [][]float64) stats.Estimate {
	if len(sets) < leastLegs {
		return stats.Missing(len(sets), "technical error of measurement", fmt.Sprintf("too few to tell: %d legs taken twice, %d needed", len(sets), leastLegs))
	}
	return stats.TEM(sets, level)
}

func meanBias(d []float64) stats.Estimate {
	const method = "mean difference from the instructor, Student's t interval"
	if len(d) < leastLegs {
		return stats.Missing(len(d), method, fmt.Sprintf("too few to tell: %d legs that the instructor took too, %d needed", len(d), leastLegs))
	}
	a := stats.BlandAltman(d, level)
	e := a.Bias
	e.Method = method
	return e
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}
