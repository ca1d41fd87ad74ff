package practice

import (
	"math/rand/v2"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// How far numbers are changed: large enough to be seen by an eye that compares
// sides and neighbours. Judgement.
const (
	startMM     = 25.4 // the tape's first inch read over
	implausible = 1.35
)

// change spoils the values of numbers, and notes which.
func (f *Form) change(r *rand.Rand, id string) {
	one := &f.Numbers[r.IntN(len(f.Numbers))]
	note := func(p form.Place) { f.places[id] = append(f.places[id], p) }
	switch id {
	case "tape-zero-shown":
		for i := range f.Numbers {
			if f.Numbers[i].Point.Girth() {
				f.Numbers[i].ValueMM += human.Rounded(startMM, f.Unit.Step())
				note(f.Numbers[i].Place)
			}
		}
	case "sides-copied":
		left := map[form.Place]float64{}
		for _, n := range f.Numbers {
			left[n.Place] = n.ValueMM
		}
		for i, n := range f.Numbers {
			if x, ok := left[n.OtherSide()]; ok && n.Side == form.Right {
				f.Numbers[i].ValueMM = x
				note(n.Place)
			}
		}
	case "unit-mixed":
		if f.Unit == form.Inch {
			cm := human.Rounded(one.ValueMM/form.Centimetre.MM(), 0.1)
			one.ValueMM = cm * form.Inch.MM()
		} else { // as a person writes inches, in parts
			inches := human.Rounded(one.ValueMM, form.Inch.Step())
			one.Written = form.Inches(inches) + " " + f.Unit.String()
			one.ValueMM = inches / form.Inch.MM() * f.Unit.MM()
		}
		note(one.Place)
	default:
		one.ValueMM = human.Rounded(one.ValueMM*implausible, f.Unit.Step())
		note(one.Place)
	}
}
