package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// A tri is yes, no or not known, as a sheet has it.
type tri uint8

const (
	unknown tri = iota
	no
	yes
)

func yesNo(b bool) tri {
	if b {
		return yes
	}
	return no
}

// An order is one pair of boots: what the sheets say of it, and the truth.
type order struct {
	no                             int
	id                             string
	customer                       customer
	person                         person
	received, cut, shipped         cohort.Day
	shaft                          float64 // inches
	closure, sock, channel, sex    string
	tucked, orthotic               bool
	tuckedWritten, orthoticWritten tri
	remakeOf                       string

	forms    []paperForm
	outcomes []outcome
	called   cohort.Day // first call-back
	callback callback

	logit  float64 // of a remake
	remade cohort.Day
}

// cutForm is the form the boots are cut from: the last.
func (o *order) cutForm() *paperForm { return &o.forms[len(o.forms)-1] }

var (
	shafts      = []float64{6, 8, 10, 11, 12, 14, 16, 17, 18}
	shaftShare  = []float64{12, 18, 18, 9, 15, 11, 9, 4, 4}
	shaftWinter = []float64{8, 14, 16, 9, 17, 14, 12, 5, 5} // October to February
	socks       = append(slices.Clone(form.Socks), "")
	sockShare   = []float64{22, 45, 20, 13}
	channels    = form.Texts(form.Channels)
	channelPart = []float64{52, 38, 10}
)

// pick draws an index with the given relative shares.
func pick(r *rand.Rand, share []float64) int {
	sum := 0.0
	for _, s := range share {
		sum += s
	}
	x := r.Float64() * sum
	for i, s := range share {
		if x -= s; x < 0 {
			return i
		}
	}
	return len(share) - 1
}

func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// unlessUnknown is what the sheet says of b: not known with chance p.
func unlessUnknown(r *rand.Rand, b bool, p float64) tri {
	if chance(r, p) {
		return unknown
	}
	return yesNo(b)
}

func (w *workshop) newOrder(r *rand.Rand, no int, d cohort.Day, c customer) *order {
	o := &order{
		no: no, id: fmt.Sprintf("W%0*d", w.digits(), no), customer: c, person: w.person(c.no),
		received: d, cut: cohort.NoDay, shipped: cohort.NoDay, called: cohort.NoDay, remade: cohort.NoDay,
	}
	share := shaftShare
	if m := d.Time().Month(); m >= 10 || m <= 2 {
		share = shaftWinter
	}
	o.shaft = shafts[pick(r, share)]
	o.closure = "lace-up"
	if pull := 0.25 + 0.045*(o.shaft-6); chance(r, pull) {
		o.closure = "pull-on"
	}
	o.sock = socks[pick(r, sockShare)]
	o.channel = channels[pick(r, channelPart)]
	o.tucked = chance(r, 0.4) && o.shaft >= 10
	o.orthotic = chance(r, 0.12)
	o.tuckedWritten = unlessUnknown(r, o.tucked, 0.04)
	o.orthoticWritten = unlessUnknown(r, o.orthotic, 0.04)
	o.sex = o.person.sex
	if chance(r, 0.08) {
		o.sex = ""
	}
	return o
}

// digits is the width of an order's number.
func (w *workshop) digits() int { return max(5, len(fmt.Sprint(w.Orders))) }

// make cuts and ships the boots, and settles the chance of a remake.
func (w *workshop) make(r *rand.Rand, o *order) {
	ready := o.cutForm().received
	if o.callback.open(o) {
		ready = o.called + 21 // nobody measured again: cut from what there is
	}
	o.cut = workday(ready + 4 + cohort.Day(r.IntN(14)))
	o.shipped = workday(o.cut + 21 + cohort.Day(r.IntN(30)))
	cut := o.cutForm()
	o.logit = o.mix()
	for f, e := range effects {
		if cut.faults[f] {
			o.logit += e
		}
	}
}

// mix is the log-odds of a remake from all that is not a fault: tall boots are
// harder to fit, and so on. These are the confounders of the invented shop.
func (o *order) mix() float64 {
	x := -3.35 + 0.09*(o.shaft-10)
	if o.channel == "home" {
		x += 0.2
	}
	if o.closure == "pull-on" {
		x += 0.15
	}
	if o.orthotic {
		x += 0.3
	}
	if o.tucked {
		x += 0.15
	}
	return x - 0.06*float64(o.received-firstDay)/365.25
}

// lognormal is a waiting time in days with the given median.
func lognormal(r *rand.Rand, median, spread float64) cohort.Day {
	return cohort.Day(math.Ceil(median * math.Exp(spread*r.NormFloat64())))
}
