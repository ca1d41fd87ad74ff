package demo

import (
	"fmt"
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// faults are what is wrong with a form, in the catalogue's order.
type faults [nFaults]bool

// A paperForm is one paper form: what the clerk keyed from it, and the truth.
type paperForm struct {
	id       string
	no       int
	received cohort.Day
	measurer string
	self     tri
	closed   [2]tri
	single   [2]tri
	ball     [2]tri
	instep   [2]tri
	zero     tri
	talked   tri
	odd      string // irregularities
	numbers  []number
	faults   faults
}

// share of forms with a fault, by channel: home, dealer, shop.
var share = [nFaults][3]float64{
	tapeMarks:      {0.15, 0.08, 0.02},
	outlineBroken:  {0.08, 0.05, 0.02},
	outlineDoubled: {0.09, 0.05, 0.02},
	tapeZero:       {0.06, 0.03, 0.01},
	footGirth:      {0.045, 0.025, 0.005},
	legHeight:      {0.05, 0.025, 0.008}, // and more the taller the boot
	tuckedSkipped:  {0.34, 0.22, 0.08},
	selfMeasured:   {0.17, 0, 0},
	sidesCopied:    {0.03, 0.03, 0.002},
	unitMixed:      {0.012, 0.008, 0.002},
	implausible:    {0.02, 0.012, 0.004},
	orthoticSilent: {0.42, 0.26, 0.06},
}

// drawFaults draws a form's faults. Careless forms and measurers have more of
// all of them, so faults travel together.
func (w *workshop) drawFaults(r *rand.Rand, o *order, m measurer) (f faults) {
	careless := m.careless + 0.7*r.NormFloat64()
	if m.trained.Known() && o.received >= m.trained {
		careless -= 0.5
	}
	for k := range f {
		u := r.Float64()
		p := share[k][m.channel]
		if p == 0 || k == tuckedSkipped && !o.tucked || k == orthoticSilent && !o.orthotic {
			continue
		}
		x := logit(p) + careless
		if k == legHeight {
			x += 0.3 * float64(len(legHeights(o.shaft)))
		}
		f[k] = u < logistic(x)
	}
	return f
}

// measure brings in the order's first form and, where the shop calls back and
// the customer answers, a second.
func (w *workshop) measure(r *rand.Rand, o *order) {
	m := w.staff.measurer(r, o)
	first := w.formBy(r, o, 1, o.received, w.drawFaults(r, o, m), m)
	o.forms = []paperForm{first}
	found, held := w.holds(r, o, first.faults)
	if !held {
		return
	}
	o.called = workday(o.received + 1 + cohort.Day(r.IntN(4)))
	o.callback = callback{form: first.id, on: o.called, fault: form.Faults[found].ID}
	answered, wait := chance(r, 0.82), cohort.Day(4+r.IntN(21))
	fewer := w.drawFaults(r, o, m)
	if !answered {
		return
	}
	for k := range fewer { // people take more care the second time
		fewer[k] = fewer[k] && chance(r, 0.4)
	}
	fewer[found] = fewer[found] && chance(r, 0.2)
	o.callback.answered = o.called + wait
	o.forms = append(o.forms, w.formBy(r, o, 2, o.called+wait, fewer, m))
}

// ruleFaults are held by rule from ruleFrom on.
var ruleFaults = []int{legHeight, tapeMarks, footGirth}

// holds says whether the shop calls back over a form, and over which fault.
// Before the rule only now and then, over a number that is plainly missing.
func (w *workshop) holds(r *rand.Rand, o *order, f faults) (int, bool) {
	kept := 0.9
	if o.received < ruleFrom {
		kept = 0.12
	}
	for _, k := range ruleFaults {
		if f[k] {
			return k, chance(r, kept)
		}
	}
	return 0, false
}

// A callback is one request to measure again.
type callback struct {
	form         string
	on, answered cohort.Day // answered 0: not
	fault        string
}

// open reports whether the order was called back and nobody answered.
func (c callback) open(o *order) bool { return o.called.Known() && c.answered == 0 }

func (w *workshop) form(r *rand.Rand, o *order, no int, d cohort.Day, f faults) paperForm {
	return w.formBy(r, o, no, d, f, w.staff.measurer(r, o))
}

// formBy fills in a form: the marks, and the numbers.
func (w *workshop) formBy(r *rand.Rand, o *order, no int, d cohort.Day, f faults, m measurer) paperForm {
	x := paperForm{id: fmt.Sprintf("%s-%d", o.id, no), no: no, received: d, measurer: m.id, faults: f}
	if chance(r, 0.06) {
		x.measurer = ""
	}
	x.self = unlessUnknown(r, f[selfMeasured], 0.03)
	x.closed = pair(r, f[outlineBroken])
	x.single = pair(r, f[outlineDoubled])
	x.marks(r, f[tapeMarks])
	x.zero = tapeStart(r, d, f[tapeZero])
	if o.orthotic {
		x.talked = unlessUnknown(r, !f[orthoticSilent], 0.08)
	}
	x.odd = irregular(r)
	if !chance(r, 0.012) { // now and then only the head of the form is keyed
		x.numbers = w.numbers(r, o, f, m)
	}
	return x
}

// pair is a mark that should stand on both tracings.
func pair(r *rand.Rand, bad bool) (t [2]tri) {
	t = [2]tri{yes, yes}
	if bad {
		t[r.IntN(2)] = no
		if chance(r, 0.4) {
			t = [2]tri{no, no}
		}
	}
	if chance(r, 0.02) {
		t[r.IntN(2)] = unknown
	}
	return t
}

// marks sets the four tape marks; missing ones come one or all at a time.
func (x *paperForm) marks(r *rand.Rand, bad bool) {
	x.ball, x.instep = [2]tri{yes, yes}, [2]tri{yes, yes}
	four := []*tri{&x.ball[0], &x.ball[1], &x.instep[0], &x.instep[1]}
	if bad {
		*four[r.IntN(4)] = no
		if chance(r, 0.55) {
			for _, t := range four {
				*t = no
			}
		}
	}
	if chance(r, 0.04) {
		*four[r.IntN(4)] = unknown
	}
}

// zeroAsked is when the form began to ask for the tape's start line.
var zeroAsked = day("2024-03-01")

// tapeStart is the note on the tape's start line. It is left empty as often on
// bad forms as on good ones.
func tapeStart(r *rand.Rand, d cohort.Day, bad bool) tri {
	t := unlessUnknown(r, !bad, 0.25)
	if d < zeroAsked {
		return unknown
	}
	return t
}

var oddities = []string{
	"bunion right", "bunion left", "hammer toe left", "high instep", "flat arch both", "old ankle break right",
	"wide toes", "tender joint; please allow", "calves differ", "narrow heel",
}

func irregular(r *rand.Rand) string {
	s := oddities[r.IntN(len(oddities))]
	if chance(r, 0.09) {
		return s
	}
	return ""
}
