package signs

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/form"
)

// Nine forms of eight numbers each, read in eighths, so that one of eight is whole by chance. With 4 or 5 whole
// ones, (4.5 - 1)/8 of 7/8 is rounded off: a half. The binomial's variance of 7/8 a form is more than
// what the forms differ by. With 0 or 9 of nine forms' 16 it is not. t of R: qt(.975, 8).
func TestRoundedOffByHand(t *testing.T) {
	const t8 = 2.306004135
	of := func(low, high, n float64) (s Sign) {
		s.Unit = "share"
		var own []valued
		for k := range 9 {
			own = append(own, valued{form: k, hits: []float64{low, high}[k%2], n: n, want: n / 8})
		}
		s.excess(own)
		return s
	}
	s := of(4, 5, 8)
	mean := (5*4 + 4*5) / 72.0
	assert.InDelta(t, (mean-0.125)/0.875, s.Value.Point, 1e-12)
	half := t8 * math.Sqrt(9*0.875) / 72 / 0.875
	assert.InDelta(t, half, s.Value.High-s.Value.Point, 1e-7)
	assert.Equal(t, int(math.Ceil(9*math.Pow(half/mattersShare, 2))), s.FormsNeeded)

	s = of(0, 9, 16)
	square := 5*4*4 + 4*5*5.0 // from the mean of 4
	half = t8 * math.Sqrt(square*9/8) / 144 / 0.875
	assert.InDelta(t, half, s.Value.High-s.Value.Point, 1e-7)
	assert.Equal(t, int(math.Ceil(9*math.Pow(half/mattersShare, 2))), s.FormsNeeded)
}

// Of one form left and right are equal at both places, so its right side counts as copied; of the other at
// none. By hand: 254 mm is whole, 254 + 3.175 an eighth more.
func TestWholeAndAlikeByHand(t *testing.T) {
	of := func(ball, heel, rightBall, rightHeel float64) Form {
		var f Form
		for k, mm := range []float64{ball, heel, rightBall, rightHeel} {
			f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: form.Sides[k/2], Point: []form.Point{form.Ball, form.Heel}[k%2]}, ValueMM: mm, Unit: form.Inch})
		}
		return f
	}
	forms := []Form{of(254, 257.175, 254, 257.175), of(254, 254, 257.175, 260.35), of(254, 254, 254, 279.4)}
	assert.Equal(t, []valued{{0, 1, 2, 2.0 / 8}, {1, 2, 4, 4.0 / 8}}, rounding(forms), "the third is whole throughout")
	assert.Equal(t, []valued{{0, 2, 2, 2.0 * 2 / 4}, {1, 0, 2, 2.0 * 2 / 4}, {2, 1, 2, 2.0 * 1 / 2}}, alike(forms), "of the two read in eighths 2 of 4 places are alike")
}

// Where most numbers are 1 off the middle they have a robust standard deviation of 1.4826, so that 5 off is kept and 7 is not.
func TestFarNumbersAreLeftOut(t *testing.T) {
	var rows []row
	for k := range 40 {
		rows = append(rows, row{k, []float64{0}, []float64{-1, 0, 1}[k%3]})
	}
	rows[10].y, rows[20].y = 5, 7
	forms := make([]Form, 40)
	kept := map[int]bool{}
	for _, v := range residuals(forms, rows) {
		kept[v.form] = true
	}
	assert.Len(t, kept, 39)
	assert.True(t, kept[10] && !kept[20], "%v", kept)
}

// Legs that widen by 1 and by 0.5 mm a mm between 200, 250 and 300 mm, girths exactly what ankle and largest
// girth give, and forms whose tape lies 10 mm higher or lower, evenly with both: the forms' heights are 20 mm apart.
func TestHeightsByHand(t *testing.T) {
	var forms []Form
	for k := range 32 {
		ankle, most, up := 240+20*float64(k%2), 380+20*float64(k/2%2), -10+20*float64(k/4%2)
		f := Form{Measurer: "m"}
		add := func(p form.Place, mm float64) {
			f.Numbers = append(f.Numbers, form.Number{Place: p, ValueMM: mm, Unit: form.Millimetre})
		}
		add(form.Place{Point: form.Ankle}, ankle)
		add(form.Place{Point: form.Leg, HeightMM: 200}, 73+0.5*ankle+0.3*most+up)
		add(form.Place{Point: form.Leg, HeightMM: 250}, 81+0.2*ankle+0.6*most+0.5*up)
		add(form.Place{Point: form.Leg, HeightMM: 300}, most)
		forms = append(forms, f)
	}
	found := heightShifts(forms)
	assert.Len(t, found, 32)
	for _, v := range found {
		assert.InDelta(t, 1+0.25, v.n, 1e-9)
		if v.form/4%2 == 1 {
			assert.InDelta(t, 20, (v.hits-found[0].hits)/v.n, 1e-3)
		}
	}
}
