package care

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"lastroom/analysis/form"
)

// swellingMM is the difference between two calves, or one calf and a year ago,
// that asks for a caution: 3 cm (an item of the Wells score for deep vein
// thrombosis).
const swellingMM = 30.0

// calfFrom is the lowest leg height, mm, whose girth counts as the calf's.
const calfFrom = 250.0

// recently is for how long, in years, an earlier form says what is new; judgement.
const recently = 1.5

// Swelling is the caution where a calf is far larger than the other.
func Swelling(f form.Form) (out []string) {
	now := calves(f)
	if d, where := widest(now[form.Left], now[form.Right]); math.Abs(d) >= swellingMM {
		side := form.Left
		if d < 0 {
			side = form.Right
		}
		out = append(out, fmt.Sprintf("The %s calf is %.0f mm larger than the other (%s). "+
			"If that is no slip of the tape, ask about swelling; one-sided swelling needs medical advice before anything is made.", side, math.Abs(d), where))
	}
	return out
}

// NewSwelling are the cautions where a calf is far larger than on a recent form of the
// same person.
func NewSwelling(f, earlier form.Form, years float64) (out []string) {
	if years > recently {
		return nil
	}
	now, then := calves(f), calves(earlier)
	for s := form.Left; s <= form.Right; s++ {
		if d, where := widest(now[s], then[s]); d >= swellingMM {
			out = append(out, fmt.Sprintf("The %s calf is %.0f mm larger than on the form of %.1f years ago (%s). "+
				"If that is no slip of the tape, ask about swelling; new swelling needs medical advice before anything is made.", s, d, years, where))
		}
	}
	return out
}

// calves are the bare calf girths of each side by height; the largest calf
// girth stands at 0.
func calves(f form.Form) (out [2]map[float64]float64) {
	out[form.Left], out[form.Right] = map[float64]float64{}, map[float64]float64{}
	for _, n := range f.Numbers {
		if n.Clothing == form.Bare && n.Side <= form.Right && (n.Point == form.Calf || n.Point == form.Leg && n.HeightMM >= calfFrom) {
			h := float64(n.HeightMM)
			if n.Point == form.Calf {
				h = 0
			}
			out[n.Side][h] = n.ValueMM
		}
	}
	return out
}

// widest is the largest difference a - b at any height that both have.
func widest(a, b map[float64]float64) (d float64, where string) {
	for _, h := range slices.Sorted(maps.Keys(a)) {
		y, ok := b[h]
		if !ok || math.Abs(a[h]-y) <= math.Abs(d) {
			continue
		}
		d, where = a[h]-y, "largest calf girth"
		if h > 0 {
			where = fmt.Sprintf("at %.0f mm above the floor", h)
		}
	}
	return d, where
}
