package body

import (
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// scratch is the space for judging one form.
type scratch struct {
	y, l, v []float64
	lr      []float64 // ln likelihood ratio of each hypothesis
	lr2     []float64
	r       []float64 // a joint model's own
	kinds   [][human.UnusualKinds]float64
	moves   [][abreast]float64    // of shiftedAbreast
	as      []written             // what follows from each number as it was written
	met     [1 << metBits]written // numbers met before, each at the place of its hash
}

const metBits = 9

// written is a number, mm, with what several hypotheses need of it. Numbers
// repeat from form to form, since they are read to a step.
type written struct {
	mm     float64
	unit   form.Unit
	traced bool
	log    float64
	cut    [len(sizes)]float64 // ln(mm - size) - ln mm; never where it can't be, or not for a tracing
	digit  [2]float64          // with last, first digits exchanged; 0: can't be
}

func newWritten(mm float64, u form.Unit, traced bool) written {
	w := written{mm: mm, unit: u, traced: traced, log: math.Log(mm)}
	for k, size := range sizes {
		w.cut[k] = never
		if mm-size > tiny && !(traced && k >= pencilSizes) {
			w.cut[k] = math.Log((mm - size) / mm)
		}
	}
	w.digit[0], w.digit[1] = otherDigits(mm, u)
	return w
}

func (s *scratch) grow(n, hyps int) {
	s.y, s.l, s.v, s.r = sized(s.y, n), sized(s.l, n), sized(s.v, n), sized(s.r, n)
	s.lr, s.lr2 = sized(s.lr, hyps), sized(s.lr2, hyps)
	s.as, s.kinds, s.moves = sized(s.as, n), sized(s.kinds, n), sized(s.moves, n)
}

func sized[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n, 2*n)
	}
	return x[:n]
}

// prepare works out what several hypotheses need of the numbers y.
func (s *scratch) prepare(girths []bool, units []form.Unit) (exchangeable [2]int) {
	for i, y := range s.y {
		w := &s.as[i]
		at := &s.met[math.Float64bits(y)*0x9e3779b97f4a7c15>>(64-metBits)]
		if at.mm != y || at.unit != units[i] || at.traced == girths[i] {
			*at = newWritten(y, units[i], !girths[i])
		}
		*w = *at
		s.l[i] = w.log
		for k, d := range w.digit {
			if d > 0 {
				exchangeable[k]++
			}
		}
	}
	return exchangeable
}

// otherDigits gives a number, in mm, with its last two and its first two
// digits exchanged; 0 where that changes nothing or would start with 0. Inches
// are exchanged in the whole inches only.
func otherDigits(mm float64, u form.Unit) (last, first float64) {
	base := 1.0
	if u == form.Inch {
		base = mmPerInch
	}
	whole := math.Floor(mm/base + 1e-6)
	rest := mm - whole*base
	n := int(whole)
	if n >= 1000 || n < 10 {
		return 0, 0
	}
	units, tens, hundreds := n%10, n/10%10, n/100
	if n < 100 {
		hundreds, tens, units = tens, units, 0 // two digits are the first two
		if hundreds != tens && tens != 0 {
			first = float64(tens*10+hundreds)*base + rest
		}
		return 0, first
	}
	if tens != units {
		last = float64(hundreds*100+units*10+tens)*base + rest
	}
	if hundreds != tens && tens != 0 {
		first = float64(tens*100+hundreds*10+units)*base + rest
	}
	return last, first
}
