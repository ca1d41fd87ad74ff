package body

import (
	"math"
	"slices"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// An intake holds the numbers of one form in the order of its layout.
type intake struct {
	codes      []uint32
	mm         []float64
	units      []form.Unit
	from       []int // where each number came from
	key        []byte
	impossible int // numbers that no body part can have (not positive, or over two metres)
	left       []leftOut
}

// leftOut is a number that is not judged, and why.
type leftOut struct {
	from int
	why  string
}

const (
	whyImpossible = "not a length that any foot or leg can have"
	whyNowhere    = "not a place on a foot or leg"
	whyHeight     = "leg heights are judged from 60 to 560 mm above the floor only"
	whyTwice      = "this place is on the form twice; the first number was judged"
	whyMany       = "more numbers than are judged together"

	maxMM      = 2000.0
	maxNumbers = 96
)

func (in *intake) reset() {
	in.codes, in.mm, in.units, in.from = in.codes[:0], in.mm[:0], in.units[:0], in.from[:0]
	in.left, in.impossible = in.left[:0], 0
}

// add sorts one number in.
func (in *intake) add(s form.Scheme, n *form.Number, from int) {
	if !Possible(n.ValueMM) {
		in.impossible++
		in.left = append(in.left, leftOut{from, whyImpossible})
		return
	}
	if n.Side > form.Right || n.Clothing > form.Tucked || n.Point >= form.PointCount {
		in.left = append(in.left, leftOut{from, whyNowhere})
		return
	}
	if n.Point == form.Leg && !(n.HeightMM >= minHeight && n.HeightMM <= maxHeight) {
		in.left = append(in.left, leftOut{from, whyHeight})
		return
	}
	if len(in.codes) == maxNumbers {
		in.left = append(in.left, leftOut{from, whyMany})
		return
	}
	code := human.Placed(s, n).Code()
	at := len(in.codes)
	for at > 0 && in.codes[at-1] > code {
		at--
	}
	if at > 0 && in.codes[at-1] == code {
		in.left = append(in.left, leftOut{from, whyTwice})
		return
	}
	in.codes = slices.Insert(in.codes, at, code)
	in.mm = slices.Insert(in.mm, at, math.Max(n.ValueMM, 1))
	in.units = slices.Insert(in.units, at, min(n.Unit, form.Inch))
	in.from = slices.Insert(in.from, at, from)
}

// Possible reports whether a number can be a length of a foot or leg at all.
func Possible(mm float64) bool { return mm > 0 && mm < maxMM }

// steps are the reading steps that forms are sorted into, mm: 1 mm (and any
// finer), 1/8 in, 5 mm, 1/4 in, 1 cm, 1/2 in (and any coarser).
var steps = [...]float64{1, 3.175, 5, 6.35, 10, 12.7}

// readingStep guesses the step a tape was read to, as an index into steps: the
// coarsest step that all numbers of the form are multiples of in their unit.
// Fewer than four different numbers are taken as read to 1 mm or 1/8 in, since
// a few numbers are round by chance.
func readingStep(mm []float64, units []form.Unit) int {
	metric, inch, different := 2, 3, 0
	for i, x := range mm {
		if !slices.Contains(mm[:i], x) {
			different++
		}
		if units[i] == form.Inch {
			for inch > 0 && !multiple(x, mmPerInch/inchParts[inch]) {
				inch--
			}
			continue
		}
		for metric > 0 && !multiple(x, metricSteps[metric]) {
			metric--
		}
	}
	step := combine(metric, inch, units)
	if different < 4 {
		return min(step, 1)
	}
	return step
}

var (
	inchParts   = [...]float64{16, 8, 4, 2}
	inchStep    = [...]int{0, 1, 3, 5}
	metricSteps = [...]float64{1, 5, 10}
	metricStep  = [...]int{0, 2, 4}
)

// combine takes the finer step where a form mixes units.
func combine(metric, inch int, units []form.Unit) int {
	hasInch, hasMetric := false, false
	for _, u := range units {
		hasInch = hasInch || u == form.Inch
		hasMetric = hasMetric || u != form.Inch
	}
	switch {
	case !hasInch:
		return metricStep[metric]
	case !hasMetric:
		return inchStep[inch]
	}
	return min(metricStep[metric], inchStep[inch])
}

func multiple(x, step float64) bool {
	r := x/step - math.Round(x/step)
	return math.Abs(r)*step < 0.02
}

// equalChance is the chance that two readings to a step agree when they differ
// by a normal error of SD sd before rounding: E max(0, 1-|d|/step).
func equalChance(step, sd float64) float64 {
	z := step / sd
	phi := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	return math.Erf(z/math.Sqrt2) - 2/z*(1/math.Sqrt(2*math.Pi)-phi)
}
