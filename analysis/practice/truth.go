package practice

import (
	"cmp"
	"slices"

	"lastroom/analysis/form"
)

// A Truth is one fault of a form: shown once the learner has answered.
type Truth struct {
	Fault   form.Fault
	Why     string       // boots fail from it, or the numbers show it
	Ask     string       // what to say to the wearer
	Here    string       // what this form shows of it, where rings and boxes don't say it all
	Places  []form.Place // numbers that are changed or missing
	Columns []string     // marks of the form that tell of it
}

// Truth says what is wrong with the form, in the catalogue's order; nothing where
// it can be cut from.
func (f *Form) Truth() (out []Truth) {
	for _, k := range f.faults {
		fault := form.Faults[k]
		t := Truth{Fault: fault, Why: fault.Why, Ask: fault.ToWearer, Places: f.places[fault.ID]}
		if fault.Kind == form.Evident { // some may have been left out by another fault
			t.Places = slices.DeleteFunc(slices.Clone(t.Places), func(p form.Place) bool {
				return !slices.ContainsFunc(f.Numbers, func(n form.Number) bool { return n.Place == p })
			})
		}
		if fault.ID == "unit-mixed" {
			other := form.Inch
			if f.Unit == form.Inch {
				other = form.Centimetre
			}
			t.Here = "one number is in " + other.Words() + ", the others are in " + f.Unit.Words()
		}
		if t.Why == "" {
			t.Why = cmp.Or(t.Here, fault.Has) + ": ask for these numbers again"
		}
		for _, m := range f.Marks {
			if m.of.Fault == fault.ID && m.Is == yesNo(m.of.Yes) {
				t.Columns = append(t.Columns, m.of.Column)
			}
		}
		out = append(out, t)
	}
	return out
}

// Circles are where on the tracings something is wrong.
func (f *Form) Circles(side form.Side) []Circle {
	return slices.DeleteFunc(slices.Clone(f.circles), func(c Circle) bool { return c.Side != side })
}
