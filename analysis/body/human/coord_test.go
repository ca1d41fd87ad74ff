package human

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/form"
)

// The heights of the calf peak stand for a standard normal: mean 0, variance 1.
func TestPeakNodesAreStandard(t *testing.T) {
	sum, square := 0.0, 0.0
	for _, z := range peakNodes {
		sum, square = sum+z, square+z*z
	}
	assert.InDelta(t, 0, sum, 1e-12)
	assert.InDelta(t, 1, square/float64(len(peakNodes)), 1e-12)
}

// By hand, of the model as published for a helper at home, numbers read to 1 mm.
func TestTermsByHand(t *testing.T) {
	w := NewWorld(form.Male, Published(form.Home), 1)
	// The instep is written 3 mm over the body's for the sock: by d ln(x + 3)/d ln x it follows the ball.
	instep := w.Term(Coord{Core: -1, Point: form.Instep})
	assert.InDelta(t, (instep.MM-3)/instep.MM, instep.load[0].by, 1e-12)
	// Below the ankle the leg widens no more, so that the height of the tape's mark says nothing: the girth's
	// offset, the reading and its rounding are left, 2^2 + 4^2 + 1/12 mm².
	low := w.Term(Coord{Core: -1, Point: form.Leg, Height: 100})
	assert.Zero(t, low.leg.rise)
	assert.InDelta(t, 4+16+1.0/12, w.errors(&low, &low), 1e-12)
	// Half way up, 4 mm of height are as many mm of girth as the leg widens by.
	up := w.Term(Coord{Core: -1, Point: form.Leg, Height: 250})
	assert.Greater(t, up.leg.rise, 0.3)
	assert.InDelta(t, 4+16+1.0/12+16*up.leg.rise*up.leg.rise, w.errors(&up, &up), 1e-12)
}

// A ball girth wanders by 2 mm in a year: by hand 4 mm² a year, for 15 years at most, and between
// the sides nine tenths of it. The form judged has not wandered.
func TestDriftByHand(t *testing.T) {
	w := NewWorld(form.Female, Published(form.Home), 1)
	a, b := w.Term(CoordOf(AtBall)), w.Term(CoordOf(FeatureCount+AtBall))
	assert.Zero(t, w.drift(&a, &a))
	a.Form, b.Form = 1, 1
	for years, want := range map[float64]float64{1: 4, 10: 40, 15: 60, 40: 60} {
		a.Years, b.Years = years, years
		assert.InDelta(t, want, w.drift(&a, &a)*a.MM*a.MM, 1e-9)
		assert.InDelta(t, 0.9*want, w.drift(&a, &b)*a.MM*b.MM, 1e-9)
	}
}
