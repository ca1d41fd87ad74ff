package body

import (
	"math"

	"lastroom/analysis/form"
)

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
		if !seen(mm[:i], x) {
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

func seen(xs []float64, x float64) bool {
	for _, y := range xs {
		if y == x {
			return true
		}
	}
	return false
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
