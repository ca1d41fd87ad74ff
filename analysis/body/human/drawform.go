package human

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
func Draw(r *rand.Rand, d Drawing) (form.Form, error) {
	sex := d.Sex
	if sex != form.Female && sex != form.Male {
		sex = form.Female + form.Sex(r.IntN(2))
	}
	d.Unit = max(d.Unit, form.Millimetre)
	w := NewWorld(sex, Published(d.Channel), d.Step)
	dr, err := NewDrawer(w)
	if err != nil {
		return form.Form{}, err
	}
	b := w.Measuring.Sides(r, dr.Person(r))
	tape := w.Measuring.GirthOffset + w.Measuring.GirthSD*r.NormFloat64()
	y := w.Measuring.write(r, b, tape, d.Step)
	f := form.Form{Sex: sex, Channel: d.Channel}
	for side := form.Left; side <= form.Right; side++ {
		for i := range FeatureCount {
			if i != AtCalf || d.Calf {
				f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: side, Point: FeaturePoint[i]}, ValueMM: y[int(side)*FeatureCount+i], Unit: d.Unit})
			}
		}
	}
	instep := looseOf[form.Instep]
	k := math.Exp(instep.shift + instep.sd*r.NormFloat64())
	read := w.Measuring.pair(r, w.Measuring.Reading[AtBall])
	for side := form.Left; side <= form.Right; side++ {
		x := b[int(side)*FeatureCount+AtBall]*k + tape + instep.side*r.NormFloat64() + read()
		f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: side, Point: form.Instep}, ValueMM: Rounded(x, d.Step), Unit: d.Unit})
	}
	f.Numbers = append(f.Numbers, w.drawLegs(r, b, tape, d)...)
	return f, nil
}

func Rounded(x, step float64) float64 { return math.Round(x/step) * step }

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
func (w *World) drawLegs(r *rand.Rand, b [CoreCount]float64, tape float64, d Drawing) (out []form.Number) {
	leg := drawnLeg{ankleH: w.Figures.boneMean + ankleAboveBone, shape: wave(r)}
	leg.peakH = peakMean[w.sex] + math.Hypot(peakSD[w.sex], peakExtraSD)*w.peakOf(r, b)
	own := [2]func(float64) float64{wave(r), wave(r)}
	layer := layerMean + layerSetSD*r.NormFloat64()
	for _, h := range d.Heights {
		bare, tucked := w.Measuring.pair(r, w.Measuring.LegReading), w.Measuring.pair(r, w.Measuring.LegReading)
		for side := form.Left; side <= form.Right; side++ {
			leg.own = own[side]
			n := form.Number{Place: form.Place{Side: side, Point: form.Leg, HeightMM: form.Height(h)}, Unit: d.Unit}
			n.ValueMM = Rounded(w.legAt(r, &leg, side, b, h)+tape+bare(), d.Step)
			out = append(out, n)
			if d.Tucked {
				n.Clothing = form.Tucked
				n.ValueMM = Rounded(w.legAt(r, &leg, side, b, h)+tape+layer+layerRowSD*r.NormFloat64()+tucked(), d.Step)
				out = append(out, n)
			}
		}
	}
	return out
}

// legAt is the true girth where the tape lay for a height.
func (w *World) legAt(r *rand.Rand, leg *drawnLeg, side form.Side, b [CoreCount]float64, h float64) float64 {
	at := h + w.Measuring.HeightMark*r.NormFloat64()
	foot := int(side) * FeatureCount
	sd := shapeAt(w.sex, w.Figures, w.Core.body[AtAnkle], w.Core.body[AtCalf], h).sd
	g := Profile(at, b[foot+AtAnkle], b[foot+AtCalf], leg.ankleH, leg.peakH)
	return g * math.Exp(sd*leg.shape(at)+sideShapeSD*leg.own(at))
}

// peakOf draws the standardised height of the calf peak of a person: it goes
// with the foot's length as the knee's height does.
func (w *World) peakOf(r *rand.Rand, b [CoreCount]float64) float64 {
	sd := math.Sqrt(w.Figures.cov[AtLength][AtLength])
	c := w.peak[AtLength] / sd
	z := (math.Log(b[FeatureCount+AtLength]) - w.Figures.mean[AtLength]) / sd
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
