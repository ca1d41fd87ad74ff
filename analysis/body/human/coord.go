package human

import (
	"math"

	"lastroom/analysis/form"
)

// A Coord is one number's place in the joint model: which of the twelve core
// numbers it is, or else a number known only loosely (instep, long heel, ankle
// over the bones) or a leg girth.
type Coord struct {
	Core     int // index of the core number, or -1
	Side     form.Side
	Clothing form.Clothing
	Point    form.Point
	Height   float64
}

// Girth reports whether a tape took the number.
func (c Coord) Girth() bool { return c.Point.Girth() }

// Placed is the coordinate of a number under the shop's scheme.
func Placed(s form.Scheme, n *form.Number) Coord {
	c := Coord{Core: -1, Side: n.Side, Clothing: n.Clothing, Point: n.Point}
	if n.Point == form.Leg {
		c.Height = float64(n.HeightMM)
		return c
	}
	if f := Feature(s, n.Point); f >= 0 && n.Clothing == form.Bare {
		c.Core = int(n.Side)*FeatureCount + f
	}
	return c
}

// Feature is the survey measure that a point is, or -1. The survey holds the
// short heel and the least ankle girth; of the other kinds nothing is published
// here, so they are only compared loosely and side with side.
func Feature(s form.Scheme, p form.Point) int {
	switch p {
	case form.Length:
		return AtLength
	case form.Breadth:
		return AtBreadth
	case form.Ball:
		return AtBall
	case form.Heel:
		if s.HeelGirth != form.LongHeel {
			return AtHeel
		}
	case form.Ankle:
		if s.AnkleGirth != form.OverBones {
			return AtAnkle
		}
	case form.Calf:
		return AtCalf
	}
	return -1
}

// Code orders the numbers of a form: core numbers first, then by point,
// clothing, side and height.
func (c Coord) Code() uint32 {
	if c.Core >= 0 {
		return uint32(c.Core)
	}
	return 1<<28 | uint32(c.Point)<<24 | uint32(c.Clothing)<<23 | uint32(c.Side)<<22 | uint32(math.Round(c.Height*10))
}

// CoordOf is the place that a code stands for.
func CoordOf(code uint32) Coord {
	if code < CoreCount {
		return Coord{Core: int(code), Side: form.Side(code / FeatureCount), Point: FeaturePoint[code%FeatureCount]}
	}
	return Coord{Core: -1, Point: form.Point(code >> 24 & 15), Clothing: form.Clothing(code >> 23 & 1), Side: form.Side(code >> 22 & 1),
		Height: float64(code&(1<<22-1)) / 10}
}

// FeaturePoint is the point that each survey measure is.
var FeaturePoint = [FeatureCount]form.Point{form.Length, form.Breadth, form.Ball, form.Heel, form.Ankle, form.Calf}

// loose says how a number that the survey does not hold follows one that it
// holds: ln number = ln of that one + shift, give or take sd for the person
// and side mm between the sides. All judgements: the instep is about 1.00-1.10
// of the ball (table of figures in doc.go); of the other two only the order is known.
type loose struct {
	from            int
	shift, sd, side float64
}

var looseOf = map[form.Point]loose{
	form.Length:  {AtLength, 0, 0.10, 4}, // tucked foot points: not asked for anywhere
	form.Breadth: {AtBreadth, 0, 0.10, 4},
	form.Ball:    {AtBall, 0, 0.10, 4},
	form.Instep:  {AtBall, 0.05, 0.04, 3},
	form.Heel:    {AtHeel, 0.06, 0.08, 3},
	form.Ankle:   {AtAnkle, 0.12, 0.08, 3},
	form.Calf:    {AtCalf, 0, 0.03, 3},
}

// The trouser layer under a tucked tape, mm: commonly 6-25 (judgement); SD for the set, and for each row.
const (
	layerMean  = 13.0
	layerSetSD = 5.0
	layerRowSD = 4.0
)

// A Term is what the joint model knows of one coordinate.
type Term struct {
	Coord
	MM    float64 // typical written number
	Mean  float64 // of its logarithm
	load  []load  // on the logs of the twelve body values
	leg   legShape
	loose loose
	Form  int     // 0: the form judged; others: earlier forms of the same customer
	Years float64 // how long ago an earlier form was taken
}

// A load is how much a number follows one body value.
type load struct {
	at int // core index
	by float64
}

// World is the joint model of one sex, channel and reading step.
type World struct {
	sex       form.Sex
	Figures   *figures
	Measuring Measuring
	Step      float64
	Core      *moments
	peak      [FeatureCount]float64
}

func NewWorld(sex form.Sex, m Measuring, step float64) *World {
	f := &survey()[sex]
	return &World{sex: sex, Figures: f, Measuring: m, Step: step, Core: CoreMoments(f, &m, step), peak: peakLoad(sex, f)}
}

func (w *World) Terms(coords []Coord) []Term {
	out := make([]Term, len(coords))
	for i, c := range coords {
		out[i] = w.Term(c)
	}
	return out
}

func (w *World) Term(c Coord) Term {
	t := Term{Coord: c}
	if c.Core >= 0 {
		t.MM, t.Mean = w.Core.Written[c.Core], w.Core.Mean[c.Core]
		t.load = []load{{c.Core, w.Core.body[c.Core] / t.MM}}
		return t
	}
	at := int(c.Side) * FeatureCount
	body, bodyMean := 0.0, 0.0
	if c.Point == form.Leg {
		t.leg = shapeAt(w.sex, w.Figures, w.Core.body[at+AtAnkle], w.Core.body[at+AtCalf], c.Height)
		t.load = []load{{at + AtAnkle, t.leg.ankle}, {at + AtCalf, t.leg.calf}}
		bodyMean = t.leg.mean
	} else {
		t.loose = looseOf[c.Point]
		t.load = []load{{at + t.loose.from, 1}}
		bodyMean = math.Log(w.Core.body[at+t.loose.from]) + t.loose.shift
	}
	body = math.Exp(bodyMean)
	t.MM = body + w.extra(c)
	for i := range t.load {
		t.load[i].by *= body / t.MM
	}
	t.Mean = bodyMean + math.Log(t.MM/body)
	return t
}

// extra is the mean of what socks, pencil and trousers add.
func (w *World) extra(c Coord) float64 {
	e := w.Measuring.GirthOffset
	if c.Point <= form.Breadth {
		e = w.Measuring.TraceOffset
	}
	if c.Clothing == form.Tucked {
		e += layerMean
	}
	return e
}

// Cov is the covariance of the logarithms of two written numbers; a and b are
// the same pointer for the variance of one.
func (w *World) Cov(a, b *Term) float64 {
	v := w.drift(a, b)
	if a.Core >= 0 && b.Core >= 0 && a.Form == b.Form {
		return v + w.Core.Cov[a.Core][b.Core]
	}
	for _, x := range a.load {
		for _, y := range b.load {
			v += x.by * y.by * w.Core.bodyCov[x.at][y.at]
		}
		v += x.by * w.peak[x.at%FeatureCount] * b.leg.slope
	}
	for _, y := range b.load {
		v += y.by * w.peak[y.at%FeatureCount] * a.leg.slope
	}
	v += w.own(a, b)
	if a.Form == b.Form {
		v += w.errors(a, b) / (a.MM * b.MM)
	}
	return v
}

// Drifts is how far a measure wanders in a year, SD in mm: length, breadth,
// ball, heel, ankle, calf. Judgement: grown feet keep their length, soft parts
// follow weight.
var Drifts = [FeatureCount]float64{1, 1, 2, 2, 3, 6}

// drift is what time adds to the covariance of two numbers of an earlier form.
func (w *World) drift(a, b *Term) float64 {
	if a.Form == 0 || a.Form != b.Form {
		return 0
	}
	v := Drifts[driftOf(a)] * Drifts[driftOf(b)] * math.Min(a.Years, 15) / (a.MM * b.MM)
	if a.Point != b.Point || a.Height != b.Height {
		v *= 0.5
	}
	if a.Side != b.Side {
		v *= 0.9
	}
	return v
}

func driftOf(t *Term) int {
	switch {
	case t.Core >= 0:
		return t.Core % FeatureCount
	case t.Point == form.Leg:
		return AtCalf
	}
	return t.loose.from
}

// own is what two numbers share beyond the survey measures.
func (w *World) own(a, b *Term) float64 {
	if a.Point == form.Leg && b.Point == form.Leg {
		v := 0.0
		for k := range a.leg.node {
			v += a.leg.node[k] * b.leg.node[k] / float64(len(a.leg.node))
		}
		r := together(a.Height, b.Height)
		shape := a.leg.sd * b.leg.sd
		if a.Side == b.Side {
			shape += sideShapeSD * sideShapeSD
		}
		return v + shape*r*w.Measuring.LegShape*w.Measuring.LegShape
	}
	if a.Core < 0 && b.Core < 0 && a.Point == b.Point {
		v := a.loose.sd * b.loose.sd
		if a.Side == b.Side {
			v += a.loose.side * b.loose.side / (a.MM * b.MM)
		}
		return v
	}
	return 0
}

// errors is the covariance, mm², of measuring and clothing between two numbers
// that are not both core.
func (w *World) errors(a, b *Term) float64 {
	v := 0.0
	if (a.Point > form.Breadth) == (b.Point > form.Breadth) {
		v = w.Measuring.GirthSD * w.Measuring.GirthSD
		if a.Point <= form.Breadth {
			v = w.Measuring.TraceSD * w.Measuring.TraceSD
		}
	}
	tucked := a.Clothing == form.Tucked && b.Clothing == form.Tucked
	if tucked {
		v += layerSetSD * layerSetSD
	}
	r := w.reading(a.Point, a.loose.from)
	switch {
	case a == b:
		v += r*r + w.Step*w.Step/12
		if a.Point == form.Leg { // each height is marked anew, so this has no part in common
			v += math.Pow(w.Measuring.HeightMark*a.leg.rise, 2)
		}
		if tucked {
			v += layerRowSD * layerRowSD
		}
	case a.Point == b.Point && a.Height == b.Height && a.Clothing == b.Clothing:
		v += w.Measuring.Common * r * r
	}
	return v
}

// reading is the SD of one reading of a number that is not core.
func (w *World) reading(p form.Point, from int) float64 {
	if p == form.Leg {
		return w.Measuring.LegReading
	}
	return w.Measuring.Reading[from]
}
