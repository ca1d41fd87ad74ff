package body

import (
	"math"

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
	code := placed(s, n).code()
	at := len(in.codes)
	for at > 0 && in.codes[at-1] > code {
		at--
	}
	if at > 0 && in.codes[at-1] == code {
		in.left = append(in.left, leftOut{from, whyTwice})
		return
	}
	in.codes = insert(in.codes, at, code)
	in.mm = insert(in.mm, at, math.Max(n.ValueMM, 1))
	in.units = insert(in.units, at, min(n.Unit, form.Inch))
	in.from = insert(in.from, at, from)
}

func insert[T any](x []T, at int, v T) []T {
	x = append(x, v)
	copy(x[at+1:], x[at:])
	x[at] = v
	return x
}

// Possible reports whether a number can be a length of a foot or leg at all.
func Possible(mm float64) bool { return mm > 0 && mm < maxMM }
