package repeatability

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"lastroom/analysis/components"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// Habits are those of every measurer who took a girth of the leg beside the instructor.
func Habits(repeats []Repeat) []Habit { return sorted(repeats).habits() }

func (t told) habits() []Habit {
	out, slopes := []Habit{}, t.slopes()
	for _, id := range slices.Sorted(maps.Keys(t.by)) {
		if h, ok := t.habit(id, slopes); ok {
			out = append(out, h)
		}
	}
	return out
}

// A Habit is what a measurer does on every leg, read off the girths of the leg at
// several heights.
type Habit struct {
	Measurer string `json:"measurer"`
	Girths   int    `json:"girths"` // beside the instructor's
	Legs     int    `json:"legs"`
	// Tightness is what the measurer reads more than the instructor on every
	// leg alike; under 0 the tape is pulled tighter.
	Tightness stats.Estimate `json:"tightness_mm"`
	// Height is how much higher up the leg the tape lies than the instructor's; under 0 lower.
	Height stats.Estimate `json:"height_mm"`
	Says   string         `json:"says"`
}

// habit regresses a measurer's differences from the instructor on the slope of the
// leg where they were taken: a tape that lies h higher reads h times the slope more. The second
// result is false where no girth of the leg was taken beside the instructor.
func (t told) habit(id string, slopes map[leg]map[float64]float64) (Habit, bool) {
	h := Habit{Measurer: id}
	var rows []components.Reading
	number := map[leg]int{}
	spots := slices.SortedFunc(maps.Keys(t.by[id]), Spot.compare)
	for k, spot := range spots {
		if spot.Height < 0 {
			continue
		}
		legs := t.by[id][spot]
		for _, l := range slices.SortedFunc(maps.Keys(legs), leg.compare) {
			ref := t.reference[spot][l]
			if len(ref) == 0 {
				continue
			}
			h.Girths++
			row, ok := number[l]
			if !ok {
				row = len(number)
				number[l] = row
			}
			if slope, ok := slopes[l][spot.Height]; ok {
				rows = append(rows, components.Reading{Row: row, Column: k, X: []float64{1, slope}, Y: mean(legs[l]) - mean(ref)})
			}
		}
	}
	h.Legs = len(number)
	if h.Girths == 0 {
		return h, false
	}
	const method = "regression of the differences from the instructor on the slope of the leg, legs as draws"
	fit, err := components.Of(rows, components.RowsOnly, level)
	if err != nil || h.Legs < leastLegs {
		why := fmt.Sprintf("too few to tell: at least %d legs are needed that both took at two heights or more", leastLegs)
		h.Tightness, h.Height = stats.Missing(len(rows), method, why), stats.Missing(len(rows), method, why)
		h.Says = "Too few to tell."
		return h, true
	}
	h.Tightness, h.Height = fit.Fixed[0], fit.Fixed[1]
	h.Tightness.Method, h.Height.Method = method, method
	h.say()
	return h, true
}

// leastHeight is how far up or down a tape must lie for it to matter, mm (judgement).
const leastHeight = 5

// TightMatters reports whether the tightness can't be chance and may matter for a boot,
// HeightMatters the same of the height.
func (h Habit) TightMatters() bool {
	t := h.Tightness
	return (t.Low > 0 || t.High < 0) && !little(t)
}

// HeightMatters: see TightMatters.
func (h Habit) HeightMatters() bool {
	return (h.Height.Low > 0 || h.Height.High < 0) && math.Abs(h.Height.Point) >= leastHeight
}

// little reports whether a tightness is surely under half of what a leg tolerates.
func little(tightness stats.Estimate) bool {
	half := ToleranceOf(form.Leg.String()).MM / 2
	return tightness.Low > -half && tightness.High < half
}

// say puts a habit in words where its interval leaves out 0. A tightness that is surely
// under half of what a leg tolerates is too little to matter.
func (h *Habit) say() {
	matters := ""
	if little(h.Tightness) {
		matters = ", too little to matter"
	}
	switch {
	case h.Tightness.High < 0:
		h.Says = fmt.Sprintf("Pulls the tape tighter than the instructor, by %.0f mm of girth%s. ", -h.Tightness.Point, matters)
	case h.Tightness.Low > 0:
		h.Says = fmt.Sprintf("Lays the tape looser than the instructor, by %.0f mm of girth%s. ", h.Tightness.Point, matters)
	}
	switch {
	case !h.HeightMatters():
	case h.Height.High < 0:
		h.Says += fmt.Sprintf("Tapes about %.0f mm lower than asked. ", -h.Height.Point)
	case h.Height.Low > 0:
		h.Says += fmt.Sprintf("Tapes about %.0f mm higher than asked. ", h.Height.Point)
	}
	if h.Says == "" {
		h.Says = fmt.Sprintf("No habit stands out: tightness is known to within %.0f mm, the height of the tape to within %.0f mm.",
			(h.Tightness.High-h.Tightness.Low)/2, (h.Height.High-h.Height.Low)/2)
		return
	}
	h.Says = h.Says[:len(h.Says)-1]
}

// slopes are how fast each leg widens going up, mm of girth a mm, at each height, from all that
// was read of it: by the parabola through the height and its two neighbours, or the
// next two at an end; by the line where only two heights were taken.
func (t told) slopes() map[leg]map[float64]float64 {
	girths := map[leg]map[Spot][]float64{}
	add := func(r readings) {
		for _, spot := range slices.SortedFunc(maps.Keys(r), Spot.compare) {
			if spot.Height < 0 {
				continue
			}
			for l, v := range r[spot] {
				if girths[l] == nil {
					girths[l] = map[Spot][]float64{}
				}
				girths[l][spot] = append(girths[l][spot], mean(v))
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.by)) {
		add(t.by[id])
	}
	add(t.reference)
	out := map[leg]map[float64]float64{}
	for l, at := range girths {
		spots := slices.SortedFunc(maps.Keys(at), Spot.compare)
		out[l] = map[float64]float64{}
		for k, s := range spots {
			i := min(max(k-1, 0), max(len(spots)-3, 0))
			var x, y []float64
			for _, u := range spots[i:min(i+3, len(spots))] {
				x, y = append(x, u.Height), append(y, mean(at[u]))
			}
			if d := derivative(x, y, s.Height); !math.IsNaN(d) {
				out[l][s.Height] = d
			}
		}
	}
	return out
}

// derivative is that of Lagrange's polynomial through two or three points, NaN
// for fewer or where two are at one place.
func derivative(x, y []float64, at float64) float64 {
	switch len(x) {
	case 2:
		return finiteOr(math.NaN(), (y[1]-y[0])/(x[1]-x[0]))
	case 3:
		d := y[0]*(2*at-x[1]-x[2])/((x[0]-x[1])*(x[0]-x[2])) +
			y[1]*(2*at-x[0]-x[2])/((x[1]-x[0])*(x[1]-x[2])) +
			y[2]*(2*at-x[0]-x[1])/((x[2]-x[0])*(x[2]-x[1]))
		return finiteOr(math.NaN(), d)
	}
	return math.NaN()
}

func finiteOr(otherwise, x float64) float64 {
	if math.IsInf(x, 0) {
		return otherwise
	}
	return x
}
