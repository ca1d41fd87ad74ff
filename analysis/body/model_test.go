package body

import (
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

func codesOf(mask int, sides ...form.Side) (out []uint32) {
	for _, s := range sides {
		for f := range human.FeatureCount {
			if mask&(1<<f) != 0 {
				out = append(out, uint32(int(s)*human.FeatureCount+f))
			}
		}
	}
	return out
}

const allSix = 1<<human.FeatureCount - 1

// TestConditionalSDs: spread of one number given the others, mm. Source: the
// survey benchmark, section 5.5 (an independent computation on the same people
// and measuring model): one foot, ball 8, heel 9, ankle 9-10, calf 18-19,
// length 8.5, breadth 3.7; both feet, ball 4.7, heel 5.5, ankle 4.6, calf 5.4,
// length 3.6, breadth 2.4.
func TestConditionalSDs(t *testing.T) {
	m := NewModel(form.Scheme{})
	for _, x := range []struct {
		sides []form.Side
		want  [human.FeatureCount]float64
		tol   float64
	}{
		{[]form.Side{form.Right}, [human.FeatureCount]float64{8.5, 3.7, 8, 9, 9.5, 18.5}, 0.7},
		{[]form.Side{form.Left, form.Right}, [human.FeatureCount]float64{3.6, 2.4, 4.7, 5.5, 4.6, 5.4}, 0.25},
	} {
		var got [human.FeatureCount]float64
		for _, sex := range []form.Sex{form.Female, form.Male} {
			lay, ok := m.gaussLayout(layoutSpec{codes: codesOf(allSix, x.sides...), sex: sex})
			require.True(t, ok)
			g := lay.core[0]
			n := len(lay.coords)
			for f := range human.FeatureCount {
				i := n - human.FeatureCount + f
				got[f] += g.Typic[i] / math.Sqrt(g.Prec[i*n+i]) / 2
			}
		}
		for f := range human.FeatureCount {
			assert.InDelta(t, x.want[f], got[f], x.tol, "%v, sides %d", human.FeaturePoint[f], len(x.sides))
		}
	}
}

// TestEqualChance: chance that an honest form shows six equal pairs, by
// reading step. Source: the survey benchmark, section 5.8 (simulation):
// 1/8 in 0.03 %, 5 mm 0.4 %, 1/4 in 1.1 %, 1/2 in 12 %.
func TestEqualChance(t *testing.T) {
	lay, ok := NewModel(form.Scheme{}).newLayout(layoutSpec{codes: codesOf(allSix, form.Left, form.Right), sex: form.Male})
	require.True(t, ok)
	for _, x := range []struct{ step, want float64 }{{3.175, 0.0003}, {5, 0.004}, {6.35, 0.011}, {12.7, 0.12}} {
		p := 1.0
		for _, sd := range lay.pairSD {
			p *= equalChance(x.step, sd)
		}
		assert.InEpsilon(t, x.want, p, 0.3, "step %.2f mm", x.step)
	}
}

// TestCopiedKnowsTheStep: six equal pairs are proof at 1 mm and 1/8 in, and say
// nothing at 1/2 in (section 5.8).
func TestCopiedKnowsTheStep(t *testing.T) {
	a := NewModel(form.Scheme{}).NewAuditor(0.01)
	for _, x := range []struct {
		step float64
		unit form.Unit
		want Answer
	}{{1, form.Millimetre, Yes}, {3.175, form.Inch, Yes}, {6.35, form.Inch, Unjudged}, {12.7, form.Inch, Unjudged}} {
		f := form.Form{Sex: form.Male}
		for i, mm := range []float64{271 + 3, 102 + 3, 252 + 3, 343 + 3, 229 + 3, 391 + 3} {
			for s := form.Left; s <= form.Right; s++ {
				f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: s, Point: human.FeaturePoint[i]}, ValueMM: human.Rounded(mm, x.step), Unit: x.unit})
			}
		}
		assert.Equal(t, x.want, a.Audit(batchOf([]form.Form{f}), nil)[0].SidesCopied, "step %.2f", x.step)
		f.Numbers[0].ValueMM += x.step
		assert.Equal(t, No, a.Audit(batchOf([]form.Form{f}), nil)[0].SidesCopied, "step %.2f", x.step)
	}
}

// TestMovedRow: one row under another height without a new inversion, against
// the inversion.
func TestMovedRow(t *testing.T) {
	f := drawn(t, 1, human.Drawing{Sex: form.Male, Heights: sevenUp, Step: 1}, 9)[0]
	var in intake
	for i := range f.Numbers {
		in.add(form.Scheme{}, &f.Numbers[i], i)
	}
	m := NewModel(form.Scheme{})
	w := m.world(form.Male, form.Home, 0)
	lay, ok := m.gaussLayout(layoutSpec{codes: in.codes, sex: form.Male})
	require.True(t, ok)
	g := lay.full[0]
	var s scratch
	s.grow(g.N, 0)
	for i, mm := range in.mm {
		s.l[i] = math.Log(mm)
	}
	logP := g.Weigh(s.l, s.v)
	i := g.N - 3
	shifted := append([]human.Coord(nil), lay.coords...)
	shifted[i].Height += 25
	other, err := human.NewGauss(w, w.Terms(shifted))
	require.NoError(t, err)
	tm := w.Term(shifted[i])
	got := moved(g, w, lay.terms[0], i, &tm).ratio(g, &s, logP)
	assert.InDelta(t, other.LogDensity(s.l, s.r)-logP, got, 1e-6)
}

// TestHistoryIsConditioning: the joint model given earlier numbers, against
// the difference of the joint and the earlier log densities.
func TestHistoryIsConditioning(t *testing.T) {
	w := human.NewWorld(form.Female, human.Published(form.Home), 1)
	var terms, earlier []human.Term
	for _, code := range codesOf(allSix, form.Left, form.Right) {
		terms = append(terms, w.Term(human.CoordOf(code)))
		e := w.Term(human.CoordOf(code))
		e.Form, e.Years = 1, 3
		earlier = append(earlier, e)
	}
	l, r := make([]float64, 2*human.CoreCount), make([]float64, 2*human.CoreCount)
	for i := range l {
		l[i] = terms[i%human.CoreCount].Mean + 0.01*math.Sin(float64(3*i))
	}
	all, err := human.NewGauss(w, append(append([]human.Term(nil), terms...), earlier...))
	require.NoError(t, err)
	past, err := human.NewGauss(w, earlier)
	require.NoError(t, err)
	g := human.Given(w, append(append([]human.Term(nil), terms...), earlier...), l[human.CoreCount:])
	require.NotNil(t, g)
	assert.InDelta(t, all.LogDensity(l, r)-past.LogDensity(l[human.CoreCount:], r), g.LogDensity(l[:human.CoreCount], r), 1e-6)
}

// TestAuditIsDeterministic: in pieces, in one go and on two goroutines.
func TestAuditIsDeterministic(t *testing.T) {
	forms := drawn(t, 300, human.Drawing{Heights: sevenUp[:3], Unit: form.Inch, Step: 3.175}, 4)
	for i := range forms {
		if i%3 == 0 {
			forms[i].Sex = form.SexUnknown
		}
		if i%7 == 0 {
			forms[i].Numbers = forms[i].Numbers[i%4:]
		}
	}
	m := NewModel(form.Scheme{})
	whole := m.NewAuditor(0.01).Audit(batchOf(forms), nil)
	for i, f := range forms[:40] {
		assert.Equal(t, whole[i], Published(form.Scheme{}).Evidence(f, 0.01))
		assert.Equal(t, whole[i], m.Check(f, nil, 0.01).Evidence)
	}
	var wg sync.WaitGroup
	fresh := NewModel(form.Scheme{})
	for range 2 {
		wg.Go(func() {
			a := fresh.NewAuditor(0.01)
			var pieces []Evidence
			for i := 0; i < len(forms); i += 37 {
				pieces = a.Audit(batchOf(forms[i:min(i+37, len(forms))]), pieces)
			}
			assert.Equal(t, whole, pieces)
		})
	}
	wg.Wait()
}

// TestStrangeInput never panics and never answers with NaN where it judged.
func TestStrangeInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	m := NewModel(form.Scheme{HeelGirth: form.LongHeel, AnkleGirth: form.OverBones})
	f := form.Form{Sex: 9, Channel: 7, Numbers: []form.Number{
		{Place: form.Place{Side: 5, Point: form.Ball}, ValueMM: 250}, {Place: form.Place{Point: 99}, ValueMM: 250}, {Place: form.Place{Clothing: 4, Point: form.Heel}, ValueMM: 3},
		{Place: form.Place{Point: form.Ball}, ValueMM: nan}, {Place: form.Place{Point: form.Ball}, ValueMM: -1}, {Place: form.Place{Point: form.Ball}, ValueMM: inf}, {Place: form.Place{Point: form.Ball}, ValueMM: 1e-9}, {Place: form.Place{Point: form.Ball}, ValueMM: 1999},
		{Place: form.Place{Point: form.Leg, HeightMM: form.Height(nan)}, ValueMM: 300}, {Place: form.Place{Point: form.Leg, HeightMM: 1e9}, ValueMM: 300}, {Place: form.Place{Point: form.Leg, HeightMM: 300}, ValueMM: 1},
		{Place: form.Place{Point: form.Heel}, ValueMM: 340, Unit: 77}, {Place: form.Place{Point: form.Ankle}, ValueMM: 240}, {Place: form.Place{Side: form.Right, Point: form.Ankle, Clothing: form.Tucked}, ValueMM: 250},
		{Place: form.Place{Point: form.Length}, ValueMM: 270}, {Place: form.Place{Point: form.Length}, ValueMM: 271}, {Place: form.Place{Point: form.Instep}, ValueMM: 0.5}, {Place: form.Place{Point: form.Calf, Clothing: form.Tucked}, ValueMM: 400},
	}}
	c := m.Check(f, []Earlier{{Form: f, Years: -3}, {}, {Form: f, Years: nan}}, nan)
	assert.False(t, math.IsNaN(c.Score))
	assert.True(t, c.Alarm)
	assert.NotEmpty(t, c.Notes)
	for _, r := range c.Readings {
		if r.Judged {
			assert.False(t, math.IsNaN(r.Expected+r.Low+r.High), r.Name())
		}
	}
	assert.Empty(t, m.LegBand(form.Form{}, sevenUp))
	assert.Len(t, m.LegBand(f, append([]float64{nan, -3, 1e6}, sevenUp...)), len(sevenUp))
	empty := m.Check(form.Form{}, nil, 0)
	assert.True(t, math.IsNaN(empty.Score))
	assert.Equal(t, nil, empty.ValueImplausible.Value())
	assert.False(t, empty.Judged || empty.Alarm)
}

// TestSharesSumToOne: explanations and "nothing wrong" share out the whole.
func TestSharesSumToOne(t *testing.T) {
	m := NewModel(form.Scheme{})
	for _, f := range drawn(t, 40, human.Drawing{Heights: sevenUp, Tucked: true, Step: 1}, 14) {
		f.Numbers[3].ValueMM += 25.4
		c := m.Check(f, nil, 0)
		sum := c.NothingOff
		for _, e := range c.Explanations {
			sum += e.Share
			assert.NotEmpty(t, e.Words)
			assert.NotEmpty(t, e.Changes)
		}
		assert.InDelta(t, 1, sum, 0.03)
		assert.LessOrEqual(t, sum, 1+1e-9)
	}
}
