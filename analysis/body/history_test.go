package body

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

func formOf(y [human.CoreCount]float64, sex form.Sex) form.Form {
	f := form.Form{Sex: sex}
	for i, mm := range y {
		f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: form.Side(i / human.FeatureCount), Point: human.FeaturePoint[i%human.FeatureCount]}, ValueMM: mm})
	}
	return f
}

// wandered is a body some years later, by the drifts of the model.
func wandered(r *rand.Rand, b [human.CoreCount]float64, years float64) [human.CoreCount]float64 {
	all := [2]float64{r.NormFloat64(), r.NormFloat64()}
	both := r.NormFloat64()
	for f := range human.FeatureCount {
		own := r.NormFloat64()
		for s := range 2 {
			z := math.Sqrt(0.45)*(both+own) + math.Sqrt(0.05)*(all[s]+r.NormFloat64())
			b[s*human.FeatureCount+f] += human.Drifts[f] * math.Sqrt(years) * z
		}
	}
	return b
}

// TestHistoryTightens: with a form of two years ago, an honest form raises
// about as few alarms, and a shift of 20 mm on all girths, which one form
// alone shows in half the cases, is mostly seen; with CI=true of three times as many people.
func TestHistoryTightens(t *testing.T) {
	m := NewModel(form.Scheme{})
	me := human.Published(form.Home)
	r := rand.New(rand.NewPCG(4, 4))
	w := human.NewWorld(form.Male, me, 1)
	d, err := human.NewDrawer(w)
	require.NoError(t, err)
	n := breadth.Few(200, 600)
	alarms, shown, alone := 0, 0, 0
	for range n {
		b := me.Sides(r, d.Person(r))
		past := []Earlier{{Form: formOf(me.Measure(r, b, 1), form.Male), Years: 2}}
		b = wandered(r, b, 2)
		y := me.Measure(r, b, 1)
		if m.Check(formOf(y, form.Male), past, 0.01).Alarm {
			alarms++
		}
		for i := range y {
			if human.IsGirth(i % human.FeatureCount) {
				y[i] += 20
			}
		}
		if m.Check(formOf(y, form.Male), past, 0.01).Alarm {
			shown++
		}
		if m.Check(formOf(y, form.Male), nil, 0.01).Alarm {
			alone++
		}
	}
	t.Logf("alarms %.2f %%; +20 mm on all girths: %.0f %% with history, %.0f %% alone", 100*float64(alarms)/float64(n), 100*float64(shown)/float64(n), 100*float64(alone)/float64(n))
	assert.Less(t, float64(alarms)/float64(n), 0.02)
	assert.Greater(t, float64(shown)/float64(n), 0.8)
	assert.Greater(t, shown, alone)
}

// TestHistoryNarrowsTheExpectation, and less so the longer ago.
func TestHistoryNarrowsTheExpectation(t *testing.T) {
	m := NewModel(form.Scheme{})
	f := drawn(t, 1, human.Drawing{Sex: form.Female, Heights: sevenUp, Step: 1}, 12)[0]
	width := func(past []Earlier) (w float64) {
		for _, x := range m.Check(f, past, 0).Readings {
			if x.Point == form.Calf || x.Point == form.Leg {
				w += x.High - x.Low
			}
		}
		return w
	}
	none, old, young := width(nil), width([]Earlier{{f, 10}}), width([]Earlier{{f, 1}})
	assert.Less(t, old, none)
	assert.Less(t, young, old)
}
