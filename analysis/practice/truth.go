package practice

import (
	"slices"

	"lastroom/analysis/form"
)

// A Truth is one fault of a form: shown once the learner has answered.
type Truth struct {
	Fault   form.Fault
	Why     string       // boots fail from it, or the numbers show it
	Ask     string       // what to say to the wearer
	Places  []form.Place // numbers that are changed or missing
	Columns []string     // marks of the form that tell of it
}

// Truth says what is wrong with the form, in the catalogue's order; nothing where
// it can be cut from.
func (f *Form) Truth() (out []Truth) {
	for _, k := range f.faults {
		fault := form.Faults[k]
		t := Truth{Fault: fault, Why: fault.Why, Ask: asks[fault.ID], Places: f.places[fault.ID]}
		if fault.Kind == form.Evident { // some may have been left out by another fault
			t.Places = slices.DeleteFunc(slices.Clone(t.Places), func(p form.Place) bool {
				return !slices.ContainsFunc(f.Numbers, func(n form.Number) bool { return n.Place == p })
			})
		}
		if t.Why == "" {
			t.Why = fault.Has + ": ask for these numbers again"
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

// asks are what to say to the wearer, in their words. Common practice of the
// trade, no published source.
var asks = map[string]string{
	"tape-marks-missing":   "“Where did the tape lie, over the ball and over the instep? Please lay it there again and make a short line on the outline at both of its edges.”",
	"outline-broken":       "“Please stand on a fresh sheet and have the foot traced once more, without lifting the pencil.”",
	"outline-doubled":      "“Which of the two lines is your foot? We can't tell either: please have it traced again on a fresh sheet, one round only.”",
	"tape-zero-missed":     "“Please take all girths again, and read from the line marked 0, not from the metal tip.”",
	"tape-zero-shown":      "“Where on your tape is the line marked 0? Please take the ball again from there. If it differs, take all girths again.”",
	"foot-girth-missing":   "“One box is empty. Please take this girth again, on both feet.”",
	"leg-height-missing":   "“One height has no number. Please mark it on the leg with a ruler that stands on the floor, and take it on both legs.”",
	"tucked-set-skipped":   "“You want to wear trousers inside the boots. Please put them on and take the leg heights once more over them.”",
	"self-measured":        "“Is there anyone who can hold the tape? While you bend down the leg changes its shape.”",
	"sides-copied":         "“Were both feet measured? Please take the right side again without looking at the left.”",
	"unit-mixed":           "“Which unit is this number in? Please read it once more, from the side of the tape that all the others are from.”",
	"value-implausible":    "“Please take this one again, and say the number aloud while you read it.”",
	"orthotic-undiscussed": "“Will the insert be worn in the boots? What it is for is for your doctor or podiatrist to say; we need to know whether it goes in.”",
}
