package repeatability

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
)

var sessions = flag.Int("sessions", breadth.Few(6, 40), "studies to simulate in TestComponentsOnKnownTruth and TestHabitsOnKnownTruth")

// A class is an invented study: so many people tape so many legs, each twice, at four
// heights and the ball, beside an instructor. The leg widens up to a largest girth and narrows again.
type class struct {
	measurers, legs            int
	measurer, subject, on, tri float64 // standard deviations, mm
	tight, higher              float64 // of the first measurer
}

var heights = []float64{178, 229, 279, 330}

func girth(leg int, h float64) float64 {
	top, widest := 300+4*float64(leg%7), 380+3*float64(leg%11)
	return widest - 0.0035*(h-top)*(h-top)
}

func (c class) repeats(seed uint64) (out []Repeat) {
	rng := stats.Source(seed, 3)
	level := make([]float64, c.measurers)
	for m := range level {
		level[m] = c.measurer * rng.NormFloat64()
	}
	for l := range c.legs {
		foot := 240 + c.subject*rng.NormFloat64()
		for m := -1; m < c.measurers; m++ {
			who := fmt.Sprintf("m%d", m)
			add := func(trial int, point string, height, v float64) {
				out = append(out, Repeat{Session: "s", Subject: fmt.Sprint(l / 2), Measurer: who, Trial: trial, Reference: m < 0, Side: []string{"left", "right"}[l%2], Point: point, HeightMM: height, ValueMM: v})
			}
			own := 0.0
			if m >= 0 {
				own = level[m] + c.on*rng.NormFloat64()
			}
			for trial := 1; trial <= 2; trial++ {
				add(trial, "ball", math.NaN(), foot+own+c.tri*rng.NormFloat64())
				for _, h := range heights {
					at, bias := h, 0.0
					if m == 0 {
						at, bias = h+c.higher, -c.tight
					}
					add(trial, "leg", h, girth(l, at)+bias+c.tri*rng.NormFloat64())
				}
			}
		}
	}
	return out
}

// ball are the repeats of the ball alone.
func (c class) ball(seed uint64) []Repeat {
	return slices.DeleteFunc(c.repeats(seed), func(r Repeat) bool { return r.Point != "ball" })
}

// The intervals of the components, of the ICC and of a habit hold the truth that they were made from.
//
// go test ./analysis/repeatability -run KnownTruth -sessions=1000 -v gives the
// figures in DEVELOPERS.md.
func TestComponentsOnKnownTruth(t *testing.T) {
	c := class{measurers: 6, legs: 16, measurer: 3, subject: 12, on: 2, tri: 2}
	held := map[string]int{}
	for seed := range *sessions {
		s := Of(c.ball(uint64(seed)))
		k := slices.IndexFunc(s.Components, func(x Components) bool { return x.Point == "ball" })
		at := s.Components[k]
		count := func(name string, e stats.Estimate, truth float64) {
			if e.Low <= truth && truth <= e.High {
				held[name]++
			}
		}
		count("measurer", at.Measurer, c.measurer)
		count("subject", at.Subject, c.subject)
		count("measurer on a leg", at.MeasurerOnLeg, c.on)
		count("trial", at.Trial, c.tri)
		count("ICC", s.Points[k].ICC, 144/(144+9+4+4.))
		count("technical error", s.Points[k].TEM, c.tri)
		count("bias", s.Points[k].Bias, 0)
	}
	slack := 3 * math.Sqrt(0.95*0.05/float64(*sessions))
	for name, n := range held {
		share := float64(n) / float64(*sessions)
		t.Logf("%s: held in %.3f of %d studies", name, share, *sessions)
		assert.InDelta(t, 0.95, share, 0.02+slack, name)
	}
}

// Who pulls tighter and who tapes higher are told apart, and who does neither is left alone.
func TestHabitsOnKnownTruth(t *testing.T) {
	for _, c := range []class{
		{measurers: 3, legs: 12, on: 0, tri: 2},
		{measurers: 3, legs: 12, on: 0, tri: 2, tight: 4},
		{measurers: 3, legs: 12, on: 0, tri: 2, higher: 12},
		{measurers: 3, legs: 12, on: 0, tri: 2, tight: 4, higher: -12},
	} {
		var tight, height, heldTight, heldHeight int
		for seed := range *sessions {
			h := Habits(c.repeats(uint64(seed) + 5000))[0]
			require.True(t, h.Tightness.Bounded() && h.Height.Bounded())
			if h.Tightness.High < 0 || h.Tightness.Low > 0 {
				tight++
			}
			if h.Height.High < 0 || h.Height.Low > 0 {
				height++
			}
			if h.Tightness.Low <= -c.tight && -c.tight <= h.Tightness.High {
				heldTight++
			}
			if h.Height.Low <= c.higher && c.higher <= h.Height.High {
				heldHeight++
			}
		}
		n := float64(*sessions)
		t.Logf("tighter by %.0f, higher by %.0f: tightness told %.3f, held %.3f; height told %.3f, held %.3f", c.tight, c.higher, float64(tight)/n, float64(heldTight)/n, float64(height)/n, float64(heldHeight)/n)
		slack := 3 * math.Sqrt(0.95*0.05/n)
		if c.tight == 0 {
			assert.LessOrEqual(t, float64(tight)/n, 0.07+slack)
		} else {
			assert.GreaterOrEqual(t, float64(tight)/n, 0.9)
		}
		if c.higher == 0 {
			assert.LessOrEqual(t, float64(height)/n, 0.07+slack)
		} else {
			assert.GreaterOrEqual(t, float64(height)/n, 0.9)
		}
		assert.GreaterOrEqual(t, float64(heldTight)/n, 0.93-slack)
	}
}

// Ten legs taken twice, each pair 4 mm apart: TEM = sqrt(10 x 16 / 20) = 2.83. The
// instructor is 3 mm under the mean of the pair. Rows in another order say the same.
func TestByHand(t *testing.T) {
	var repeats []Repeat
	for k := range 10 {
		base := 300.0 + float64(k)
		subject := string(rune('a' + k))
		for trial, v := range []float64{base, base + 4} {
			repeats = append(repeats, Repeat{Session: "s", Subject: subject, Measurer: "a", Trial: trial + 1, Side: "left", Point: "ball", HeightMM: math.NaN(), ValueMM: v})
		}
		repeats = append(repeats, Repeat{Session: "s", Subject: subject, Measurer: "boss", Trial: 1, Reference: true, Side: "left", Point: "ball", HeightMM: math.NaN(), ValueMM: base - 1})
	}
	m := ByMeasurer(repeats)["a"]
	require.Len(t, m, 1)
	assert.InDelta(t, math.Sqrt(8), m[0].TEM.Point, 1e-12)
	assert.InDelta(t, 3, m[0].Bias.Point, 1e-12)
	assert.Equal(t, 10, m[0].Subjects)
	assert.Equal(t, "yes", m[0].Within) // 3 mm each time, 4 allowed

	all := class{measurers: 3, legs: 8, measurer: 2, subject: 10, on: 1, tri: 2}.repeats(1)
	want, err := json.Marshal(Of(all))
	require.NoError(t, err)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	got, err := json.Marshal(Of(all))
	require.NoError(t, err)
	assert.JSONEq(t, string(want), string(got))
}

// What kept boots tolerated: of 21 people the two forms lay 0, 0.5, … 10 mm apart, the median 5 mm, which
// is that of two draws with a standard deviation of 5/(0.6745 sqrt 2) = 5.242. By the binomial (R:
// qbinom(.025, 21, .5) is 6) the 6th from either end, 2.5 and 7.5 mm, are the limits. One slip moves nothing.
func TestKept(t *testing.T) {
	var kept []Repeat
	for k := range 21 {
		apart := 0.5 * float64(k)
		if k == 20 {
			apart = 200
		}
		for trial, v := range []float64{250, 250 + apart} {
			kept = append(kept, Repeat{Subject: string(rune('a' + k)), Side: "left", Point: "ball", HeightMM: math.NaN(), Trial: trial + 1, ValueMM: v})
		}
		kept = append(kept, Repeat{Subject: string(rune('a' + k)), Side: "left", Point: "instep", HeightMM: math.NaN(), ValueMM: 250})
	}
	s := Of([]Repeat{{Measurer: "a", Point: "ball", HeightMM: math.NaN(), ValueMM: 251}, {Measurer: "a", Point: "instep", HeightMM: math.NaN(), ValueMM: 251}})
	s.BesideKept(kept)
	require.Len(t, s.Points, 2)
	e := s.Points[0].Kept
	assert.InDelta(t, 5.242, e.Point, 5e-4)
	assert.InDelta(t, 2.5/0.95387, e.Low, 1e-3)
	assert.InDelta(t, 7.5/0.95387, e.High, 1e-3)
	assert.Equal(t, 21, e.N)
	assert.False(t, s.Points[1].Kept.Given())
}

// Half-widths by R: qt(.975, 17)*4/sqrt(18) = 1.989, qt(.975, 16)*4/sqrt(17) = 2.057. The
// factor of a technical error by R: sqrt(19/qchisq(.025, 19)) = 1.461, sqrt(17/qchisq(.025, 17)) = 1.499,
// sqrt(16/qchisq(.025, 16)) = 1.522.
func TestHowMany(t *testing.T) {
	assert.Equal(t, 18, legsForBias(4, 2))
	assert.Equal(t, 17, legsForTEM(2, 1.5))
	assert.Zero(t, legsForBias(math.NaN(), 2))
	assert.Zero(t, legsForTEM(1, 1.5))
}

// Whatever is in a sheet, there is an answer that can be written down.
func TestAlwaysAnswers(t *testing.T) {
	one := Repeat{Measurer: "a", Point: "leg", HeightMM: 279, ValueMM: 300}
	for _, r := range [][]Repeat{nil, {{}}, {one}, {one, one, one}, {{Measurer: "a", ValueMM: math.NaN()}, {Reference: true, ValueMM: math.Inf(1)}}, slices.Repeat([]Repeat{one}, 50)} {
		s := Of(r)
		s.BesideKept(r)
		_, err := json.Marshal(s)
		require.NoError(t, err)
		for _, p := range s.Points {
			assert.False(t, p.ICC.Given())
			assert.NotEmpty(t, p.ICC.Warnings)
		}
	}
}

// What other programs read by name.
func TestNamesInJSON(t *testing.T) {
	b, err := json.Marshal(Of(class{measurers: 3, legs: 8, measurer: 2, subject: 10, on: 1, tri: 2}.ball(1)))
	require.NoError(t, err)
	var got struct {
		Points, Components []map[string]any
	}
	require.NoError(t, json.Unmarshal(b, &got))
	require.Len(t, got.Points, 1)
	for _, name := range []string{"point", "height", "n", "tem_mm", "relative_tem", "reliability", "icc", "bias_mm"} {
		assert.Contains(t, got.Points[0], name)
	}
	for _, name := range []string{"point", "height", "measurer_mm", "subject_mm", "trial_mm"} {
		assert.Contains(t, got.Components[0], name)
	}
	assert.Contains(t, got.Points[0]["tem_mm"], "low")
}

// A study of many sessions costs no more than its size warrants.
func BenchmarkStudy(b *testing.B) {
	r := class{measurers: 14, legs: 200, measurer: 3, subject: 12, on: 2, tri: 2}.repeats(1)
	for b.Loop() {
		Of(r)
	}
}

// A leg tolerates 9 mm: a tightness that is surely under 4.5 mm is too little to matter, one that may be more
// is not, nor is one that may as well be nothing.
func TestWhatTightnessMatters(t *testing.T) {
	of := func(low, high float64) Habit {
		return Habit{Tightness: stats.Estimate{Point: (low + high) / 2, Low: low, High: high}}
	}
	assert.False(t, of(1, 4.4).TightMatters())
	assert.True(t, of(1, 4.6).TightMatters())
	assert.True(t, of(-4.6, -1).TightMatters())
	assert.False(t, of(-4.4, -1).TightMatters())
	assert.False(t, of(-1, 8).TightMatters())
}

// Six legs of ball girths about 100 mm, by two people whose two readings are 2 mm apart, and a seventh by one of
// them: the technical error is sqrt(sum of 13 x 2^2/(2 x 13)) = 1.414, 1.414 % of the mean reading; the
// correlations are of the six that both took.
func TestPointByHand(t *testing.T) {
	var repeats []Repeat
	for leg := range 7 {
		for _, who := range []string{"a", "b"} {
			for trial := range 2 {
				if leg < 6 || who == "a" {
					at := 100 + float64([]int{-6, -4, -2, 2, 4, 6, 0}[leg]+2*trial-1)
					repeats = append(repeats, Repeat{Session: "s", Subject: fmt.Sprint(leg), Measurer: who, Trial: trial + 1, Side: "left", Point: "ball", HeightMM: math.NaN(), ValueMM: at})
				}
			}
		}
	}
	for i := range repeats {
		if repeats[i].Measurer == "b" && repeats[i].Subject == "0" { // else the two agree to the last digit
			repeats[i].ValueMM++
		}
	}
	p := Of(repeats).Points[0]
	assert.InDelta(t, math.Sqrt2, p.TEM.Point, 1e-12)
	assert.InDelta(t, math.Sqrt2/(100+2.0/26), p.Relative.Point, 1e-12)
	assert.Equal(t, 6, p.Forms.Agreement1.N)
	assert.True(t, p.Forms.Agreement1.Given())
}

// Differences with a standard deviation of 2 mm: the bias is known to half of a tolerance of 2 mm with 18 legs, by
// R's qt(.975, 17) = 2.1098: 2.1098 x 2/sqrt(18) = 0.995; with 17 it is 1.028.
func TestLegsNeededByHand(t *testing.T) {
	a := 2 / math.Sqrt(1.2)
	_, _, _, needed := againstReference([]float64{a, -a, a, -a, a, -a}, 2)
	assert.Equal(t, 18, needed)
}
