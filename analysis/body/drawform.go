package body

import (
	"math"
	"math/rand/v2"

	"lastroom/analysis/form"
)

// A Drawing says what good form to invent.
type Drawing struct {
	Sex     form.Sex // unknown is drawn as a woman or a man in turn of chance
	Channel form.Channel
	Heights []float64 // of the leg girths, mm above the floor
	Calf    bool      // with the largest calf girth as a number of its own
	Tucked  bool      // with a tucked set at the same heights
	Unit    form.Unit
	Step    float64 // reading step, mm
}

// Draw invents a good form: a person from the published figures, honestly
// measured with the channel's errors. For simulations and demonstrations only.
func Draw(r *rand.Rand, d Drawing) (Form, error) {
	sex := d.Sex
	if sex != form.Female && sex != form.Male {
		sex = form.Female + form.Sex(r.IntN(2))
	}
	d.Unit = max(d.Unit, form.Millimetre)
	w := newWorld(sex, published(d.Channel), d.Step)
	dr, err := newDrawer(w)
	if err != nil {
		return Form{}, err
	}
	b := w.m.sides(r, dr.person(r))
	tape := w.m.GirthOffset + w.m.GirthSD*r.NormFloat64()
	y := w.m.write(r, b, tape, d.Step)
	f := Form{Sex: sex, Channel: d.Channel}
	for side := form.Left; side <= form.Right; side++ {
		for i := range features {
			if i != fCalf || d.Calf {
				f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: side, Point: featurePoint[i]}, ValueMM: y[int(side)*features+i], Unit: d.Unit})
			}
		}
	}
	instep := looseOf[form.Instep]
	k := math.Exp(instep.shift + instep.sd*r.NormFloat64())
	read := w.m.pair(r, w.m.Reading[fBall])
	for side := form.Left; side <= form.Right; side++ {
		x := b[int(side)*features+fBall]*k + tape + instep.side*r.NormFloat64() + read()
		f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: side, Point: form.Instep}, ValueMM: rounded(x, d.Step), Unit: d.Unit})
	}
	f.Numbers = append(f.Numbers, w.drawLegs(r, b, tape, d)...)
	return f, nil
}

func rounded(x, step float64) float64 { return math.Round(x/step) * step }

// pair draws reading errors of SD sd for two sides, with their common part.
func (m *Measuring) pair(r *rand.Rand, sd float64) func() float64 {
	both := math.Sqrt(m.Common) * r.NormFloat64()
	return func() float64 { return sd * (both + math.Sqrt(1-m.Common)*r.NormFloat64()) }
}

// A drawnLeg is what the leg girths of one person rest on.
type drawnLeg struct {
	ankleH, peakH float64
	shape, own    func(h float64) float64
}

// drawLegs draws the leg girths of both sides of one person.
func (w *world) drawLegs(r *rand.Rand, b [core]float64, tape float64, d Drawing) (out []form.Number) {
	leg := drawnLeg{ankleH: w.fig.boneMean + ankleAboveBone, shape: wave(r)}
	leg.peakH = peakMean[w.sex] + math.Hypot(peakSD[w.sex], peakExtraSD)*w.peakOf(r, b)
	own := [2]func(float64) float64{wave(r), wave(r)}
	layer := layerMean + layerSetSD*r.NormFloat64()
	for _, h := range d.Heights {
		bare, tucked := w.m.pair(r, w.m.LegReading), w.m.pair(r, w.m.LegReading)
		for side := form.Left; side <= form.Right; side++ {
			leg.own = own[side]
			n := form.Number{Place: form.Place{Side: side, Point: form.Leg, HeightMM: form.Height(h)}, Unit: d.Unit}
			n.ValueMM = rounded(w.legAt(r, &leg, side, b, h)+tape+bare(), d.Step)
			out = append(out, n)
			if d.Tucked {
				n.Clothing = form.Tucked
				n.ValueMM = rounded(w.legAt(r, &leg, side, b, h)+tape+layer+layerRowSD*r.NormFloat64()+tucked(), d.Step)
				out = append(out, n)
			}
		}
	}
	return out
}

// legAt is the true girth where the tape lay for a height.
func (w *world) legAt(r *rand.Rand, leg *drawnLeg, side form.Side, b [core]float64, h float64) float64 {
	at := h + w.m.HeightMark*r.NormFloat64()
	foot := int(side) * features
	sd := shapeAt(w.sex, w.fig, w.core.body[fAnkle], w.core.body[fCalf], h).sd
	g := profile(at, b[foot+fAnkle], b[foot+fCalf], leg.ankleH, leg.peakH)
	return g * math.Exp(sd*leg.shape(at)+sideShapeSD*leg.own(at))
}

// peakOf draws the standardised height of the calf peak of a person: it goes
// with the foot's length as the knee's height does.
func (w *world) peakOf(r *rand.Rand, b [core]float64) float64 {
	sd := math.Sqrt(w.fig.cov[fLength][fLength])
	c := w.peak[fLength] / sd
	z := (math.Log(b[features+fLength]) - w.fig.mean[fLength]) / sd
	return c*z + math.Sqrt(1-c*c)*r.NormFloat64()
}

// wave draws a smooth function of height of variance 1 that keeps its sign
// over shapeReach.
func wave(r *rand.Rand) func(h float64) float64 {
	const parts = 12
	var freq, phase [parts]float64
	for i := range freq {
		freq[i] = r.NormFloat64() / shapeReach
		phase[i] = 2 * math.Pi * r.Float64()
	}
	return func(h float64) float64 {
		s := 0.0
		for i := range freq {
			s += math.Cos(freq[i]*h + phase[i])
		}
		return s * math.Sqrt(2.0/parts)
	}
}
