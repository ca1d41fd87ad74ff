package body

import (
	"maps"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

// TestProfileOfTheMeanLeg: the derived S-curve of the fact sheet (doc.go, leg
// profile): girths at 7, 9, 11, 13 in, ±8 % at least by its own word.
func TestProfileOfTheMeanLeg(t *testing.T) {
	for _, x := range []struct {
		sex                        form.Sex
		ankle, calf, ankleH, peakH float64
		want                       [4]float64
	}{
		{form.Male, 229.3, 392.3, 117, 338, [4]float64{258, 313, 366, 392}},
		{form.Female, 215.7, 373.3, 107, 314, [4]float64{257, 317, 363, 373}},
	} {
		for i, want := range x.want {
			h := (7 + 2*float64(i)) * mmPerInch
			assert.InEpsilon(t, want, human.Profile(h, x.ankle, x.calf, x.ankleH, x.peakH), 0.03, "sex %d at %.0f mm", x.sex, h)
		}
	}
}

// oddLegs are smooth legs of odd but human shape, as functions of height given
// ankle and calf girth. Invented for this test.
var oddLegs = map[string]func(h, ankle, calf float64) float64{
	"low calf":  func(h, a, c float64) float64 { return human.Profile(h, a, c, 110, 270) },
	"high calf": func(h, a, c float64) float64 { return human.Profile(h, a, c, 110, 400) },
	"straight":  func(h, a, c float64) float64 { return a + (c-a)*math.Min(1, (h-100)/240) },
	"late":      func(h, a, c float64) float64 { return a + (c-a)*math.Pow(math.Min(1, (h-100)/240), 1.6) },
	"early":     func(h, a, c float64) float64 { return a + (c-a)*math.Pow(math.Min(1, (h-100)/240), 0.65) },
	"no fall":   func(h, a, c float64) float64 { return math.Max(human.Profile(h, a, c, 110, 330), c*btof(h > 330)) },
	"steep fall": func(h, a, c float64) float64 {
		return human.Profile(h, a, c, 110, 330) * (1 - 0.0009*math.Max(0, h-330))
	},
	"thick ankle":    func(h, a, c float64) float64 { return human.Profile(h, a*1.12, c, 110, 330) },
	"slender":        func(h, a, c float64) float64 { return human.Profile(h, a*0.98, c*0.86, 110, 330) },
	"stout":          func(h, a, c float64) float64 { return human.Profile(h, a*1.03, c*1.15, 110, 330) },
	"nearly a tube":  func(h, a, c float64) float64 { return human.Profile(h, a*1.1, c*0.92, 110, 340) },
	"one way larger": func(h, a, c float64) float64 { return human.Profile(h, a, c*1.04, 110, 345) },
}

func btof(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// crooked is no smooth leg: every other row is off by an inch and a half.
func crooked(h, a, c float64) float64 {
	g := human.Profile(h, a, c, 110, 330)
	if int(h/mmPerInch)%4 == 1 {
		return g - 38
	}
	return g
}

// TestOddLegsDoNotCryWolf: smooth legs of odd shape on ordinary feet raise
// hardly more alarms than the feet alone; a crooked leg does. With CI=true on four
// times as many feet.
func TestOddLegsDoNotCryWolf(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	a := NewModel(form.Scheme{}).NewAuditor(0.01)
	legs := maps.Clone(oddLegs)
	legs["crooked"] = crooked
	feet := breadth.Few(250, 1000)
	for name, shape := range legs {
		forms := drawn(t, feet, human.Drawing{Heights: sevenUp, Step: 1, Calf: true}, 77)
		for i := range forms {
			forms[i].Numbers = shapeLegs(r, forms[i], shape)
		}
		n := 0
		for _, e := range a.Audit(batchOf(forms), nil) {
			if e.Score >= 2 {
				n++
			}
		}
		t.Logf("%-14s %.1f %%", name, 100*float64(n)/float64(feet))
		if name == "crooked" {
			assert.Greater(t, n, feet/2, name)
			continue
		}
		assert.Less(t, n, feet/20, name)
	}
}

// shapeLegs gives a drawn form legs of the shape, read with honest errors; the
// largest calf girth is taken off the form, since the shape sets it.
func shapeLegs(r *rand.Rand, f form.Form, shape func(h, ankle, calf float64) float64) (out []form.Number) {
	var ankle, calf [2]float64
	for _, n := range f.Numbers {
		switch n.Point {
		case form.Ankle:
			ankle[n.Side] = n.ValueMM
		case form.Calf:
			calf[n.Side] = n.ValueMM
		}
	}
	for _, n := range f.Numbers {
		if n.Point == form.Leg {
			n.ValueMM = math.Round(shape(float64(n.HeightMM), ankle[n.Side], calf[n.Side]) + 4*r.NormFloat64())
		}
		if n.Point != form.Calf {
			out = append(out, n)
		}
	}
	return out
}

// TestLegFalseAlarms: good forms with leg girths, bare and tucked; with CI=true 8,000 of
// each, otherwise 2,500, whose Monte Carlo error is 0.2 %.
func TestLegFalseAlarms(t *testing.T) {
	a := NewModel(form.Scheme{}).NewAuditor(0.01)
	for _, d := range []human.Drawing{{Heights: sevenUp, Step: 1}, {Heights: sevenUp, Tucked: true, Unit: form.Inch, Step: 3.175}} {
		n := 0
		forms := drawn(t, breadth.Few(2500, 8000), d, 5)
		for _, e := range a.Audit(batchOf(forms), nil) {
			if e.Score >= 2 {
				n++
			}
		}
		share := float64(n) / float64(len(forms))
		t.Logf("tucked %v: %.2f %%", d.Tucked, 100*share)
		assert.InDelta(t, 0.01, share, 0.004)
	}
}

// legsOf lists the leg girths of a side.
func legsOf(f *form.Form, s form.Side, c form.Clothing) (out []*form.Number) {
	for i := range f.Numbers {
		if n := &f.Numbers[i]; n.Point == form.Leg && n.Side == s && n.Clothing == c {
			out = append(out, n)
		}
	}
	return out
}

// A legFault spoils a form; atLeast is the share that must raise an alarm,
// named the share of those whose first explanation must be id.
type legFault struct {
	name, id       string
	atLeast, named float64
	spoil          func(r *rand.Rand, f *form.Form)
}

var legFaults = []legFault{
	{"two inches on one row", "", 0.85, 0, func(r *rand.Rand, f *form.Form) { legsOf(f, form.Left, form.Bare)[r.IntN(5)].ValueMM += 50.8 }},
	{"one side a step too high", "height-line", 0.85, 0.7, func(_ *rand.Rand, f *form.Form) {
		l := legsOf(f, form.Left, form.Bare)
		for i := range 4 {
			l[i].ValueMM = l[i+1].ValueMM
		}
		l[4].ValueMM *= 0.97
	}},
	{"all girths of a side an inch large", "tape-start", 0.99, 0.95, func(_ *rand.Rand, f *form.Form) {
		for i := range f.Numbers {
			if n := &f.Numbers[i]; n.Point > form.Breadth && n.Side == form.Left {
				n.ValueMM += 25.4
			}
		}
	}},
	{"tucked and bare exchanged", "tucked-exchanged", 0.5, 0.9, func(_ *rand.Rand, f *form.Form) {
		for s := form.Left; s <= form.Right; s++ {
			a, b := legsOf(f, s, form.Bare), legsOf(f, s, form.Tucked)
			for i := range a {
				a[i].ValueMM, b[i].ValueMM = b[i].ValueMM, a[i].ValueMM
			}
		}
	}},
	{"rows in inches, as centimetres", "unit", 1, 1, func(_ *rand.Rand, f *form.Form) {
		for s := form.Left; s <= form.Right; s++ {
			for _, n := range legsOf(f, s, form.Bare) {
				n.ValueMM = math.Round(n.ValueMM / 2.54)
			}
		}
	}},
}

// TestLegFaults: what is found of faults in leg girths, and by what name. The
// limits are what this wide profile finds, no claim about real forms.
func TestLegFaults(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	m := NewModel(form.Scheme{})
	for _, x := range legFaults {
		forms := drawn(t, 150, human.Drawing{Heights: sevenUp, Tucked: x.id == "tucked-exchanged", Step: 1}, 31)
		alarms, named := 0.0, 0.0
		for i := range forms {
			x.spoil(r, &forms[i])
			c := m.Check(forms[i], nil, 0.01)
			if !c.Alarm {
				continue
			}
			alarms++
			if x.id == "" || c.Explanations[0].ID == x.id {
				named++
			}
		}
		t.Logf("%s: %.0f %% found, %.0f %% of them named", x.name, alarms/1.5, 100*named/alarms)
		assert.GreaterOrEqual(t, alarms/150, x.atLeast, x.name)
		assert.GreaterOrEqual(t, named/alarms, x.named, x.name)
	}
}

// TestSwelling: 3 cm between the calves, or against last year, is a caution
// whatever the rest says.
func TestSwelling(t *testing.T) {
	m := NewModel(form.Scheme{})
	f := drawn(t, 1, human.Drawing{Sex: form.Female, Heights: sevenUp, Step: 1}, 6)[0]
	require.Empty(t, m.Check(f, nil, 0).Cautions)
	now := f
	now.Numbers = append([]form.Number(nil), f.Numbers...)
	for s := form.Left; s <= form.Right; s++ {
		for _, n := range legsOf(&now, s, form.Bare) {
			n.ValueMM += 40
		}
	}
	last := []Earlier{{Form: f, Years: 1}}
	assert.Len(t, m.Check(now, last, 0).Cautions, 2)
	assert.Empty(t, m.Check(now, []Earlier{{Form: f, Years: 4}}, 0).Cautions)
	for _, n := range legsOf(&now, form.Left, form.Bare) {
		n.ValueMM -= 40
	}
	assert.Len(t, m.Check(now, nil, 0).Cautions, 1)
}
