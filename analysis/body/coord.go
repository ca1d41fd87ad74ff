package body

import (
	"math"

	"lastroom/analysis/form"
)

// A coord is one number's place in the joint model: which of the twelve core
// numbers it is, or else a number known only loosely (instep, long heel, ankle
// over the bones) or a leg girth.
type coord struct {
	core     int // index of the core number, or -1
	side     form.Side
	clothing form.Clothing
	point    form.Point
	height   float64
}

// placed is the coordinate of a number under the shop's scheme.
func placed(s form.Scheme, n *form.Number) coord {
	c := coord{core: -1, side: n.Side, clothing: n.Clothing, point: n.Point}
	if n.Point == form.Leg {
		c.height = float64(n.HeightMM)
		return c
	}
	if f := feature(s, n.Point); f >= 0 && n.Clothing == form.Bare {
		c.core = int(n.Side)*features + f
	}
	return c
}

// feature is the survey measure that a point is, or -1. The survey holds the
// short heel and the least ankle girth; of the other kinds nothing is published
// here, so they are only compared loosely and side with side.
func feature(s form.Scheme, p form.Point) int {
	switch p {
	case form.Length:
		return fLength
	case form.Breadth:
		return fBreadth
	case form.Ball:
		return fBall
	case form.Heel:
		if s.HeelGirth != form.LongHeel {
			return fHeel
		}
	case form.Ankle:
		if s.AnkleGirth != form.OverBones {
			return fAnkle
		}
	case form.Calf:
		return fCalf
	}
	return -1
}

// loose says how a number that the survey does not hold follows one that it
// holds: ln number = ln of that one + shift, give or take sd for the person
// and side mm between the sides. All judgements: the instep is about 1.00-1.10
// of the ball (table of figures in doc.go); of the other two only the order is known.
type loose struct {
	from            int
	shift, sd, side float64
}

var looseOf = map[form.Point]loose{
	form.Length:  {fLength, 0, 0.10, 4}, // tucked foot points: not asked for anywhere
	form.Breadth: {fBreadth, 0, 0.10, 4},
	form.Ball:    {fBall, 0, 0.10, 4},
	form.Instep:  {fBall, 0.05, 0.04, 3},
	form.Heel:    {fHeel, 0.06, 0.08, 3},
	form.Ankle:   {fAnkle, 0.12, 0.08, 3},
	form.Calf:    {fCalf, 0, 0.03, 3},
}

// The trouser layer under a tucked tape, mm: commonly 6-25 (judgement); SD for the set, and for each row.
const (
	layerMean  = 13.0
	layerSetSD = 5.0
	layerRowSD = 4.0
)

// A term is what the joint model knows of one coordinate.
type term struct {
	coord
	mm    float64 // typical written number
	mean  float64 // of its logarithm
	load  []load  // on the logs of the twelve body values
	leg   legShape
	loose loose
	form  int     // 0: the form judged; others: earlier forms of the same customer
	years float64 // how long ago an earlier form was taken
}

// A load is how much a number follows one body value.
type load struct {
	at int // core index
	by float64
}

// world is the joint model of one sex, channel and reading step.
type world struct {
	sex  form.Sex
	fig  *figures
	m    Measuring
	step float64
	core *moments
	peak [features]float64
}

func newWorld(sex form.Sex, m Measuring, step float64) *world {
	f := &survey()[sex]
	return &world{sex: sex, fig: f, m: m, step: step, core: coreMoments(f, &m, step), peak: peakLoad(sex, f)}
}

func (w *world) terms(coords []coord) []term {
	out := make([]term, len(coords))
	for i, c := range coords {
		out[i] = w.term(c)
	}
	return out
}

func (w *world) term(c coord) term {
	t := term{coord: c}
	if c.core >= 0 {
		t.mm, t.mean = w.core.written[c.core], w.core.mean[c.core]
		t.load = []load{{c.core, w.core.body[c.core] / t.mm}}
		return t
	}
	at := int(c.side) * features
	body, bodyMean := 0.0, 0.0
	if c.point == form.Leg {
		t.leg = shapeAt(w.sex, w.fig, w.core.body[at+fAnkle], w.core.body[at+fCalf], c.height)
		t.load = []load{{at + fAnkle, t.leg.ankle}, {at + fCalf, t.leg.calf}}
		bodyMean = t.leg.mean
	} else {
		t.loose = looseOf[c.point]
		t.load = []load{{at + t.loose.from, 1}}
		bodyMean = math.Log(w.core.body[at+t.loose.from]) + t.loose.shift
	}
	body = math.Exp(bodyMean)
	t.mm = body + w.extra(c)
	for i := range t.load {
		t.load[i].by *= body / t.mm
	}
	t.mean = bodyMean + math.Log(t.mm/body)
	return t
}

// extra is the mean of what socks, pencil and trousers add.
func (w *world) extra(c coord) float64 {
	e := w.m.GirthOffset
	if c.point <= form.Breadth {
		e = w.m.TraceOffset
	}
	if c.clothing == form.Tucked {
		e += layerMean
	}
	return e
}

// cov is the covariance of the logarithms of two written numbers; a and b are
// the same pointer for the variance of one.
func (w *world) cov(a, b *term) float64 {
	v := w.drift(a, b)
	if a.core >= 0 && b.core >= 0 && a.form == b.form {
		return v + w.core.cov[a.core][b.core]
	}
	for _, x := range a.load {
		for _, y := range b.load {
			v += x.by * y.by * w.core.bodyCov[x.at][y.at]
		}
		v += x.by * w.peak[x.at%features] * b.leg.slope
	}
	for _, y := range b.load {
		v += y.by * w.peak[y.at%features] * a.leg.slope
	}
	v += w.own(a, b)
	if a.form == b.form {
		v += w.errors(a, b) / (a.mm * b.mm)
	}
	return v
}

// drifts is how far a measure wanders in a year, SD in mm: length, breadth,
// ball, heel, ankle, calf. Judgement: grown feet keep their length, soft parts
// follow weight.
var drifts = [features]float64{1, 1, 2, 2, 3, 6}

// drift is what time adds to the covariance of two numbers of an earlier form.
func (w *world) drift(a, b *term) float64 {
	if a.form == 0 || a.form != b.form {
		return 0
	}
	v := drifts[driftOf(a)] * drifts[driftOf(b)] * math.Min(a.years, 15) / (a.mm * b.mm)
	if a.point != b.point || a.height != b.height {
		v *= 0.5
	}
	if a.side != b.side {
		v *= 0.9
	}
	return v
}

func driftOf(t *term) int {
	switch {
	case t.core >= 0:
		return t.core % features
	case t.point == form.Leg:
		return fCalf
	}
	return t.loose.from
}

// own is what two numbers share beyond the survey measures.
func (w *world) own(a, b *term) float64 {
	if a.point == form.Leg && b.point == form.Leg {
		v := 0.0
		for k := range a.leg.node {
			v += a.leg.node[k] * b.leg.node[k] / float64(len(a.leg.node))
		}
		r := together(a.height, b.height)
		shape := a.leg.sd * b.leg.sd
		if a.side == b.side {
			shape += sideShapeSD * sideShapeSD
		}
		return v + shape*r*w.m.LegShape*w.m.LegShape
	}
	if a.core < 0 && b.core < 0 && a.point == b.point {
		v := a.loose.sd * b.loose.sd
		if a.side == b.side {
			v += a.loose.side * b.loose.side / (a.mm * b.mm)
		}
		return v
	}
	return 0
}

// errors is the covariance, mm², of measuring and clothing between two numbers
// that are not both core.
func (w *world) errors(a, b *term) float64 {
	v := 0.0
	if (a.point > form.Breadth) == (b.point > form.Breadth) {
		v = w.m.GirthSD * w.m.GirthSD
		if a.point <= form.Breadth {
			v = w.m.TraceSD * w.m.TraceSD
		}
	}
	tucked := a.clothing == form.Tucked && b.clothing == form.Tucked
	if tucked {
		v += layerSetSD * layerSetSD
	}
	r := w.reading(a.point, a.loose.from)
	switch {
	case a == b:
		v += r*r + w.step*w.step/12
		if a.point == form.Leg { // each height is marked anew, so this has no part in common
			v += math.Pow(w.m.HeightMark*a.leg.rise, 2)
		}
		if tucked {
			v += layerRowSD * layerRowSD
		}
	case a.point == b.point && a.height == b.height && a.clothing == b.clothing:
		v += w.m.Common * r * r
	}
	return v
}

// reading is the SD of one reading of a number that is not core.
func (w *world) reading(p form.Point, from int) float64 {
	if p == form.Leg {
		return w.m.LegReading
	}
	return w.m.Reading[from]
}
