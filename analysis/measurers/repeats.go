package measurers

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// errors are the technical errors of measurement by measurer, from repeats: for
// each point (and height) the subjects that the measurer took at least twice.
// A subject's left and right leg count as two subjects; so does the same leg in
// another session.
func errors(repeats []Repeat) map[string][]TEM {
	type spot struct {
		point  string
		height float64
	}
	type leg struct{ session, subject, side string }
	values := map[string]map[spot]map[leg][]float64{}
	reference := map[spot]map[leg][]float64{}
	put := func(m map[spot]map[leg][]float64, s spot, l leg, v float64) {
		if m[s] == nil {
			m[s] = map[leg][]float64{}
		}
		m[s][l] = append(m[s][l], v)
	}
	for _, r := range repeats {
		if math.IsNaN(r.ValueMM) || math.IsInf(r.ValueMM, 0) {
			continue
		}
		s, l := spot{r.Point, r.HeightMM}, leg{r.Session, r.Subject, r.Side}
		if math.IsNaN(s.height) {
			s.height = -1
		}
		if r.Reference {
			put(reference, s, l, r.ValueMM)
			continue
		}
		if r.Measurer == "" {
			continue
		}
		if values[r.Measurer] == nil {
			values[r.Measurer] = map[spot]map[leg][]float64{}
		}
		put(values[r.Measurer], s, l, r.ValueMM)
	}
	out := map[string][]TEM{}
	for id, spots := range values {
		for s, legs := range spots {
			t := TEM{Point: s.point, HeightMM: remakes.Number(s.height)}
			if s.height < 0 {
				t.HeightMM = remakes.Number(math.NaN())
			}
			var sets [][]float64
			var bias []float64
			for l, vs := range legs {
				if len(vs) > 1 {
					sets = append(sets, vs)
				}
				if ref := reference[s][l]; len(ref) > 0 {
					bias = append(bias, mean(vs)-mean(ref))
				}
			}
			slices.SortFunc(sets, func(a, b []float64) int { return slices.Compare(a, b) })
			slices.Sort(bias)
			t.Subjects = len(sets)
			t.TEM = technicalError(sets)
			t.Bias = meanBias(bias)
			out[id] = append(out[id], t)
		}
		slices.SortFunc(out[id], func(a, b TEM) int {
			return cmp.Or(cmp.Compare(a.Point, b.Point), cmp.Compare(a.HeightMM, b.HeightMM))
		})
	}
	return out
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
