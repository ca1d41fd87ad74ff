package body

import (
	"math"
	"slices"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// A BandPoint is what a leg girth at a height is likely to be, as read on a
// bare leg: 95 % interval, mm.
type BandPoint struct {
	Height    float64 // mm above the floor
	Low, High float64
}

// LegBand is the human leg by height that goes with the foot, ankle and calf
// numbers of a form (not with its leg girths: those are to be held against
// it). The profile is a judgement; see leg.go. Empty where nothing of the foot
// can be judged; heights outside 60 to 560 mm are left out.
func (m *Model) LegBand(f form.Form, heights []float64) (out []BandPoint) {
	var in intake
	heights = slices.DeleteFunc(slices.Clone(heights), func(h float64) bool { return !(h >= minHeight && h <= maxHeight) })
	for i := range f.Numbers {
		if n := &f.Numbers[i]; n.Point != form.Leg && n.Clothing == form.Bare {
			in.add(m.scheme, n, i)
		}
	}
	if len(in.codes) == 0 {
		return nil
	}
	var gs []*human.Gauss
	for _, sex := range human.SexesOf(human.Known(f.Sex)) {
		w := human.NewWorld(sex, m.measuring[min(f.Channel, form.Shop)], steps[readingStep(in.mm, in.units)])
		if g := legGiven(w, &in, heights); g != nil {
			gs = append(gs, g)
		}
	}
	for i, h := range heights {
		if len(gs) == 0 {
			break
		}
		var mean, square float64
		for _, g := range gs {
			mean += g.Mean[i] / float64(len(gs))
			square += (g.SD[i]*g.SD[i] + g.Mean[i]*g.Mean[i]) / float64(len(gs))
		}
		sd := math.Sqrt(math.Max(0, square-mean*mean))
		out = append(out, BandPoint{h, math.Exp(mean - twoSided95*sd), math.Exp(mean + twoSided95*sd)})
	}
	return out
}

func legGiven(w *human.World, in *intake, heights []float64) *human.Gauss {
	var terms []human.Term
	for _, h := range heights {
		terms = append(terms, w.Term(human.Coord{Core: -1, Side: form.Right, Point: form.Leg, Height: h}))
	}
	var l []float64
	for i, code := range in.codes {
		terms = append(terms, w.Term(human.CoordOf(code)))
		l = append(l, math.Log(in.mm[i]))
	}
	return human.Given(w, terms, l)
}
