package practice

import (
	"math/rand/v2"
	"slices"

	"lastroom/analysis/form"
)

// plant makes the form have the fault: one of its marks goes wrong, numbers are
// left out, or numbers are changed.
func (f *Form) plant(r *rand.Rand, fault form.Fault) {
	var marks []int
	for i, m := range f.Marks {
		if m.of.Fault == fault.ID {
			marks = append(marks, i)
		}
	}
	switch {
	case len(marks) > 0:
		m := &f.Marks[marks[r.IntN(len(marks))]]
		m.Is = yesNo(m.of.Yes)
	case fault.Kind == form.Counted:
		f.leaveOut(r, fault.ID)
	default:
		f.change(r, fault.ID)
	}
}

// leaveOut takes numbers off the form, and notes which.
func (f *Form) leaveOut(r *rand.Rand, id string) {
	side := form.Sides[r.IntN(len(form.Sides))]
	gone := form.Place{Side: side, Point: form.FootGirths[r.IntN(len(form.FootGirths))]}
	if id == "leg-height-missing" {
		heights := form.DefaultScheme.Heights(f.Boot.ShaftMM)
		gone = form.Place{Side: side, Point: form.Leg, HeightMM: heights[r.IntN(len(heights))]}
	}
	f.Numbers = slices.DeleteFunc(f.Numbers, func(n form.Number) bool {
		goes := n.Place == gone
		if id == "tucked-set-skipped" {
			goes = n.Clothing == form.Tucked
		}
		if goes {
			f.places[id] = append(f.places[id], n.Place)
		}
		return goes
	})
}
