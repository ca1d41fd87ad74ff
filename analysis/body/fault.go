package body

import (
	"math"
	"slices"

	"lastroom/analysis/body/human"
)

// A family is one kind of explanation; its names are stable.
type family uint8

const (
	tapeStart family = iota // all girths of a side or form off by one amount
	socks
	oneInch
	halfInch
	digits
	unit
	exchanged
	tooTight
	pencil
	copied
	misread
	kink
	heightLine
	tuckedExchanged
	families
)

var familyIDs = [families]string{"tape-start", "socks", "one-inch", "half-inch", "digits", "unit",
	"exchanged", "too-tight", "pencil", "copied", "misread", "kink", "height-line", "tucked-exchanged"}

// What undoing a fault does to the numbers.
type action uint8

const (
	shift      action = iota // size mm off each of set
	scale                    // add size to each logarithm of set
	swap                     // exchange the numbers pairwise: set is a, b, a, b, …
	lastDigits               // exchange the last two digits of set[0]
	firstDigits
	unlike   // set[0] is off by an amount not known
	sideways // the left side was copied from the right
	elsewhere
)

// A hypothesis is one fault on one target. Its likelihood ratio against
// "nothing wrong" is the density of the undone form over the density of the
// written one, times the Jacobian of undoing.
type hypothesis struct {
	family family
	action action
	set    []int
	size   float64      // mm (shift) or log (scale)
	sizeAt int          // shift: row in sizes
	alt    []*alt       // elsewhere: the joint model with the heights moved, one a sex
	quad   [2]float64   // scale, unlike: see withQuads, one a sex
	more   [2]float64   // unlike: see withQuads, one a sex
	tri    [2][]float64 // shift: see triangle, one a sex
	run    int          // shift: how many from this one on shift the same set
}

// hypotheses are all that are compared for a layout, those on core numbers
// alone first. Their weights stand apart from the rest, which is too wide for
// a pass over the weights to stay in the nearest cache.
type hypotheses struct {
	list   []hypothesis
	weight []float64
	beyond int // the first that touches a number that is not one of the twelve
}

// families is the bit set of the families among them.
func (h hypotheses) families() (set uint64) {
	for i := range h.list {
		set |= 1 << h.list[i].family
	}
	return set
}

// sizes are all shifts, mm: the first pencilSizes are a tilted pencil's, all of
// them a tape's or sock's.
var sizes = [...]float64{-4, 6, 10, -10, 12.7, -12.7, 20, -20, 25.4, -25.4, 30, -30, 40, -40}

const pencilSizes = 2

func sizeIndex(mm float64) int {
	for i, s := range sizes {
		if s == mm {
			return i
		}
	}
	return 0
}

const (
	tiny      = 20.0 // mm: no undone number may be smaller
	unlikeSD  = 0.12 // SD of the logarithm of an error of unknown size
	never     = -1e300
	mmPerInch = 25.4
)

// withQuads fills in what hypotheses need of the joint models; shifts of the
// same set share it.
//
//	scale:  quad is half the sum of the precisions over the set, times size²
//	unlike: the number is off by a lognormal error of SD unlikeSD and no
//	        preferred size; its ln likelihood ratio is v²·quad - more
//	shift:  tri is the triangle of the set
func (h hypotheses) withQuads(gs []*human.Gauss) hypotheses {
	h.list = slices.Clone(h.list)
	for left := h.list; len(left) > 0; {
		run := left[:runLength(left)]
		for model, g := range gs {
			run[0].withQuad(g, model)
		}
		for i := range run {
			run[i].tri, run[i].run = run[0].tri, len(run)-i
		}
		left = left[len(run):]
	}
	return h
}

// runLength is how many hypotheses from the first on shift the same set; 1 for
// those that do something else.
func runLength(list []hypothesis) (n int) {
	for n = 1; n < len(list) && list[n].action == shift; n++ {
		if list[0].action != shift || !slices.Equal(list[0].set, list[n].set) {
			break
		}
	}
	return n
}

func (h *hypothesis) withQuad(g *human.Gauss, model int) {
	switch h.action {
	case scale:
		sum := 0.0
		for a, i := range h.set {
			for _, j := range h.set[:a] {
				sum += g.Prec[i*g.N+j]
			}
			sum += g.Prec[i*g.N+i] / 2
		}
		h.quad[model] = h.size * h.size * sum
	case unlike:
		i := h.set[0]
		p := g.Prec[i*g.N+i]
		k := unlikeSD * unlikeSD * p
		h.quad[model] = k / (1 + k) / p / 2
		h.more[model] = math.Log1p(k) / 2
	case shift:
		h.tri[model] = triangle(g, h.set)
	}
}

// triangle is the lower triangle of the precisions of a set, row by row, the
// diagonal halved.
func triangle(g *human.Gauss, set []int) (out []float64) {
	for a, i := range set {
		for _, j := range set[:a] {
			out = append(out, g.Prec[i*g.N+j])
		}
		out = append(out, g.Prec[i*g.N+i]/2)
	}
	return out
}
