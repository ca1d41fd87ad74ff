package body

import "math"

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
	size   float64 // mm (shift) or log (scale)
	sizeAt int     // shift: row in sizes
	weight float64
	beyond bool         // touches a number that is not one of the twelve
	alt    []*alt       // elsewhere: the joint model with the heights moved, one a sex
	quad   [2]float64   // scale: half the sum of the precisions over set times size², one a sex
	tri    [2][]float64 // shift: see shifted, one a sex
}

// sizes are all shifts, mm: the first two are a tilted pencil's, all of them a
// tape's or sock's.
var sizes = [...]float64{-4, 6, 10, -10, 12.7, -12.7, 20, -20, 25.4, -25.4, 30, -30, 40, -40}

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

// scratch is the space for judging one form.
type scratch struct {
	y, l, v []float64
	lr      []float64 // ln likelihood ratio of each hypothesis
	lr2     []float64
	cut     [len(sizes)][]float64 // ln(y - size) - ln y
	digit   [2][]float64          // the number with last, first digits exchanged; 0: can't be
}

func (s *scratch) grow(n, hyps int) {
	s.y, s.l, s.v = sized(s.y, n), sized(s.l, n), sized(s.v, n)
	s.lr, s.lr2 = sized(s.lr, hyps), sized(s.lr2, hyps)
	for k := range s.cut {
		s.cut[k] = sized(s.cut[k], n)
	}
	for k := range s.digit {
		s.digit[k] = sized(s.digit[k], n)
	}
}

func sized(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n, 2*n)
	}
	return x[:n]
}

// prepare works out what several hypotheses need of the numbers y.
func (s *scratch) prepare(girths []bool, units []Unit) (exchangeable [2]int) {
	for i, y := range s.y {
		s.l[i] = math.Log(y)
		to := 2 // a traced number moves by the pencil's sizes only
		if girths[i] {
			to = len(sizes)
		}
		for k := range to {
			s.cut[k][i] = never
			if y-sizes[k] > tiny {
				s.cut[k][i] = math.Log1p(-sizes[k] / y)
			}
		}
		s.digit[0][i], s.digit[1][i] = otherDigits(y, units[i])
		for k := range s.digit {
			if s.digit[k][i] > 0 {
				exchangeable[k]++
			}
		}
	}
	return exchangeable
}

// otherDigits gives a number, in mm, with its last two and its first two
// digits exchanged; 0 where that changes nothing or would start with 0. Inches
// are exchanged in the whole inches only.
func otherDigits(mm float64, u Unit) (last, first float64) {
	base := 1.0
	if u == Inch {
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

// ratios fills lr with the ln likelihood ratio of each hypothesis under g.
// v is prec·(l - mean); copiedLR is that of copying (its own way, by reading
// step), model says which of the alternatives apply, and with beyond the
// hypotheses on core numbers alone are passed over.
func (s *scratch) ratios(hyps []hypothesis, g *gauss, model int, exchangeable [2]int, copiedLR, logP float64, beyond bool, lr []float64) {
	for k := range hyps {
		h := &hyps[k]
		if beyond && !h.beyond {
			continue
		}
		switch h.action {
		case shift:
			lr[k] = shifted(h.set, h.tri[model], s.cut[h.sizeAt], s.v)
		case scale:
			sum := 0.0
			for _, i := range h.set {
				sum += s.v[i]
			}
			lr[k] = -h.size*sum - h.quad[model]
		case swap:
			lr[k] = g.swapped(h.set, s.l, s.v)
		case lastDigits, firstDigits:
			lr[k] = s.digitRatio(g, h, exchangeable)
		case unlike:
			lr[k] = g.unlike(h.set[0], s.v)
		case sideways:
			lr[k] = copiedLR
		case elsewhere:
			lr[k] = h.alt[model].ratio(g, s.l, s.v, logP)
		}
	}
}

func (s *scratch) digitRatio(g *gauss, h *hypothesis, exchangeable [2]int) float64 {
	which := int(h.action - lastDigits)
	i := h.set[0]
	y := s.digit[which][i]
	if y == 0 {
		return never
	}
	d := math.Log(y) - s.l[i]
	return -d*s.v[i] - d*d*g.prec[i*g.n+i]/2 - d - math.Log(float64(exchangeable[which]))
}

// shifted is the ln likelihood ratio of numbers set whose logarithms move by d
// when a shift is undone; p is the lower triangle of their precisions, row by
// row, the diagonal halved.
func shifted(set []int, p, d, v []float64) float64 {
	var moves [maxNumbers]float64
	q := 0.0
	for a, i := range set {
		di := d[i]
		if di == never {
			return never
		}
		moves[a] = di
		row := p[: a+1 : a+1]
		p = p[a+1:]
		s := v[i] + 1
		for b, x := range moves[:len(row)] {
			s += x * row[b]
		}
		q += di * s
	}
	return -q
}

// triangle is the lower triangle of the precisions of a set, row by row, the
// diagonal halved.
func (g *gauss) triangle(set []int) (out []float64) {
	for a, i := range set {
		for _, j := range set[:a] {
			out = append(out, g.prec[i*g.n+j])
		}
		out = append(out, g.prec[i*g.n+i]/2)
	}
	return out
}

// withQuads fills in what shifting and scaling hypotheses need of the joint
// models; hypotheses on the same set share it.
func withQuads(hyps []hypothesis, gs []*gauss) []hypothesis {
	var last *hypothesis
	for k := range hyps {
		h := &hyps[k]
		for model, g := range gs {
			switch {
			case h.action == scale:
				sum := 0.0
				for _, x := range g.triangle(h.set) {
					sum += x
				}
				h.quad[model] = h.size * h.size * sum
			case h.action == shift && last != nil && &last.set[0] == &h.set[0] && len(last.set) == len(h.set):
				h.tri[model] = last.tri[model]
			case h.action == shift:
				h.tri[model] = g.triangle(h.set)
			}
		}
		if h.action == shift {
			last = h
		}
	}
	return hyps
}

func (g *gauss) swapped(set []int, l, v []float64) float64 {
	q := 0.0
	for a, i := range set {
		di := l[set[a^1]] - l[i]
		row := g.prec[i*g.n : i*g.n+g.n]
		q += di * (v[i] + di*row[i]/2)
		for b, j := range set[:a] {
			q += di * (l[set[b^1]] - l[j]) * row[j]
		}
	}
	return -q
}

// unlike is the ln likelihood ratio of number i being off by a lognormal error
// of SD unlikeSD and no preferred size.
func (g *gauss) unlike(i int, v []float64) float64 {
	p := g.prec[i*g.n+i]
	k := unlikeSD * unlikeSD * p
	return -math.Log1p(k)/2 + v[i]*v[i]/p*k/(1+k)/2
}

// An alt is the joint model with a step's other height for some leg girths: of
// a whole side or form (g), or of one row, whose logarithm then has mean
// mean + by·(l - means) and variance v given the others.
type alt struct {
	g    *gauss
	at   int
	mean float64
	by   []float64
	v    float64
}

func (a *alt) ratio(g *gauss, l, v []float64, logP float64) float64 {
	if a.g != nil {
		return a.g.logDensity(l) - logP
	}
	r := l[a.at] - a.mean
	for j, by := range a.by {
		r -= by * (l[j] - g.mean[j])
	}
	p0 := g.prec[a.at*g.n+a.at]
	return (v[a.at]*v[a.at]/p0 - r*r/a.v - math.Log(a.v*p0)) / 2
}
