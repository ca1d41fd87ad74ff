package remakes

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// The table of one fault, filled by hand: 20 with it, 8 of them remade; 80
// without, 8 remade; two heights. Expected figures by the formulas, worked here
// in closed form.
func TestFaultTableByHand(t *testing.T) {
	c := invented.Bare(105)
	for i := range 20 {
		c.Cut[0][i] = form.With
	}
	for i := 100; i < 105; i++ {
		c.Cut[0][i] = form.Unknown
	}
	for i := range 8 {
		invented.Remake(c, i, 40)
		invented.Remake(c, 20+i, 40)
	}
	for i := 60; i < 100; i++ {
		c.ShaftMM[i] = 400
	}
	d := Faults(context.Background(), c, Options{})
	f := d.Faults[0]
	assert.Equal(t, 105, d.MatureOrders)
	assert.Equal(t, []int{105, 20, 80, 5, 8, 8, 0}, []int{f.AtRisk, f.With, f.Without, f.Unknown, f.RemadeWith, f.RemadeWithout, f.RemadeUnknown})
	assert.InDelta(t, 0.4, f.RateWith.Point, 1e-12)
	assert.InDelta(t, 0.1, f.RateWithout.Point, 1e-12)
	assert.InDelta(t, 4, f.RiskRatio.Point, 1e-12)
	se := math.Sqrt(1/8.0 - 1/20.0 + 1/8.0 - 1/80.0)
	assert.InDelta(t, 4*math.Exp(-1.959964*se), f.RiskRatio.Low, 1e-5)
	assert.InDelta(t, 0.3, f.RiskDifference.Point, 1e-12)
	// Height 300: 8/12 with, 8/32 without (n 60); height 400: nobody with it.
	assert.InDelta(t, (8*32.0/60)/(12*8.0/60), f.StratifiedOR.Point, 1e-9)
	assert.False(t, f.AdjustedRD.Given())
	assert.Equal(t, []string{notAsked}, f.AdjustedRD.Warnings)
	assert.Len(t, f.Orders, 8)
	assert.Equal(t, c.OrderID[7], f.Orders[0], "newest first")
}

func TestRefusals(t *testing.T) {
	c := invented.Bare(60)
	for i := range 9 {
		c.Cut[0][i] = form.With
	}
	for i := range 12 {
		c.Cut[1][i] = form.With
	}
	for i := range 4 {
		invented.Remake(c, i, 30)
		invented.Remake(c, 30+i, 30)
	}
	d := Faults(context.Background(), c, Options{Replicates: 50})
	nine, four := d.Faults[0], d.Faults[1]
	assert.False(t, nine.RateWith.Given(), "no rate under 10 orders")
	assert.Contains(t, nine.RateWith.Warnings[0], "1 more order needed")
	assert.False(t, nine.RiskDifference.Given())
	assert.True(t, four.RiskDifference.Given())
	assert.False(t, four.RiskRatio.Given(), "no ratio under 5 events in either arm")
	assert.False(t, four.StratifiedOR.Given())
	assert.False(t, four.AdjustedRD.Given())
	assert.Contains(t, four.Words.Headline, "goes with")
}

func TestCausesThatMeasuringCantAnswerFor(t *testing.T) {
	c := invented.Bare(100)
	for i := range 50 {
		c.Cut[0][i] = form.With
	}
	for i := range 10 {
		invented.Remake(c, i, 30)
		invented.Remake(c, 50+i, 30)
		c.Cause.Code[50+i] = 2 // making
	}
	f := Faults(context.Background(), c, Options{}).Faults[0]
	assert.Equal(t, 10, f.RemadeWithout, "all remakes are the event")
	assert.Equal(t, 0, f.MeasuringOnly.RemadeWithout)
	assert.Equal(t, 10, f.MeasuringOnly.RemadeWith)
}

func TestLookedForOnlyBehindRemakes(t *testing.T) {
	c := invented.Bare(200)
	for i := range 200 {
		if i < 30 {
			invented.Remake(c, i, 20)
			c.Cut[0][i] = form.With
		} else if i%4 != 0 {
			c.Cut[0][i] = form.Unknown
		}
	}
	f := Faults(context.Background(), c, Options{}).Faults[0]
	require.NotEmpty(t, f.Warnings)
	assert.Contains(t, f.Warnings[0], "looked for only behind remakes")
	assert.Contains(t, f.Words.Certainty, "Caution")
}

// The warning says which way, and is silent where the difference is small
// however many orders show it.
func TestLookedBehindRemakesByDirection(t *testing.T) {
	of := func(unknownRemade, remade, unknownKept, kept int) string {
		return lookedBehindRemakes(tally{unknown: unknownRemade + unknownKept, unknownRemade: unknownRemade,
			all: stats.TwoByTwo{A: remade - unknownRemade, D: kept - unknownKept}})
	}
	assert.Contains(t, of(100, 1000, 3000, 10_000), "not judged on 10 % of forms behind remakes but 30 % of the others: it may have been looked for only")
	assert.Contains(t, of(400, 1000, 3000, 10_000), "a fault looks harmless")
	assert.Empty(t, of(37_000, 100_000, 350_000, 1_000_000))
	// Ten orders each, by hand: 5 and 0 have the chance C(10,5)/C(20,5) = 252/15504 = 0.016, which is
	// the mid-p on both sides, 6 and 0 C(10,6)/C(20,6) = 210/38760 = 0.005.
	assert.Empty(t, of(5, 10, 0, 10))
	assert.Contains(t, of(6, 10, 0, 10), "a fault looks harmless")
}

func TestMendedCountsAsWithoutButStandsApart(t *testing.T) {
	c := invented.Bare(90)
	for i := range 90 {
		switch {
		case i < 30:
			c.First[0][i], c.Cut[0][i] = form.With, form.With
		case i < 60:
			c.First[0][i], c.Cut[0][i] = form.With, form.Without
		}
	}
	f := Faults(context.Background(), c, Options{}).Faults[0]
	assert.Equal(t, 60, f.Without)
	require.Len(t, f.Levels, 3)
	for k, want := range []string{"clean", "mended", "cut with fault"} {
		assert.Equal(t, want, f.Levels[k].Level)
		assert.Equal(t, 30, f.Levels[k].Orders)
	}
}

func TestTuckedHasItsOwnOrdersAtRisk(t *testing.T) {
	c := invented.Bare(50)
	f, _ := form.FaultIndex("tucked-set-skipped")
	for i := 20; i < 50; i++ {
		c.Cut[f][i] = form.NotAtRisk
	}
	x := Faults(context.Background(), c, Options{}).Faults[f]
	assert.Equal(t, 20, x.AtRisk)
	assert.Equal(t, 0, x.Unknown)
}

func TestAnyFault(t *testing.T) {
	c := invented.Bare(40)
	c.Cut[0][0], c.Cut[1][0] = form.With, form.Unknown // with
	c.Cut[0][1] = form.Unknown                         // unknown
	evident, _ := form.FaultIndex("sides-copied")
	c.Cut[evident][2] = form.With // read off the numbers: does not count
	x := Faults(context.Background(), c, Options{}).AnyFault
	assert.Equal(t, []int{1, 38, 1}, []int{x.With, x.Without, x.Unknown})
}

func TestZoneCheck(t *testing.T) {
	c := invented.Bare(400)
	f, _ := form.FaultIndex("tape-marks-missing") // ball, instep
	zone := func(name string) int32 {
		for k, l := range c.Zone.Levels {
			if l == name {
				return int32(k)
			}
		}
		return 0
	}
	// 200 with it, 40 remade; 200 without, 20 remade.
	complain := func(own, others int) ZoneCheck {
		k := 0
		for i := range 400 {
			c.Remade[i], c.Zone.Code[i] = cohort.NoDay, 0
			c.Cut[f][i] = form.Without
			if i < 200 {
				c.Cut[f][i] = form.With
			}
		}
		for i := range own {
			invented.Remake(c, i, 30)
			c.Zone.Code[i] = zone("ball")
		}
		for i := range others {
			invented.Remake(c, own+i, 30)
			c.Zone.Code[own+i] = zone("heel")
		}
		for i := 200; i < 220; i++ {
			invented.Remake(c, i, 30)
			c.Zone.Code[i] = zone([]string{"ball", "heel"}[k%2])
			k++
		}
		return Faults(context.Background(), c, Options{}).Faults[f].ZoneCheck
	}
	z := complain(50, 10)
	assert.Equal(t, "fits", z.Verdict)
	assert.InDelta(t, 5, z.Own.RiskRatio.Point, 1e-12)
	assert.InDelta(t, 1, z.Others.RiskRatio.Point, 1e-12)
	assert.InDelta(t, 5, z.Ratio.Point, 1e-12) // 50 10 / 10 10
	z = complain(30, 30)
	assert.Equal(t, CarelessForm, z.Verdict)
	assert.Contains(t, z.Words, "careless form, not for the cause")
	z = complain(3, 2)
	assert.Equal(t, "unclear", z.Verdict)
	copied, _ := form.FaultIndex("sides-copied")
	assert.Equal(t, "none", Faults(context.Background(), c, Options{}).Faults[copied].ZoneCheck.Verdict)
}

// No forbidden word in any finding, whatever the data say: with CI=true those of four
// shops, otherwise of one.
func TestWords(t *testing.T) {
	invented.Long(t)
	for seed := range uint64(breadth.Few(1, 4)) {
		c, _ := invented.Workshop{Orders: 2500, Intercept: -2.6, Seed: seed}.Make()
		for _, o := range []Options{{}, {Replicates: 60, Seed: 1}} {
			d := Faults(context.Background(), c, o)
			for _, f := range append(d.Faults, d.AnyFault) {
				for _, s := range []string{f.Words.Headline, f.Words.Certainty, f.Words.Change, f.Words.Action} {
					assert.NotEmpty(t, s, f.Fault)
					assert.NotRegexp(t, `(?i)significan|caused? by|\bcauses\b|\bsaved\b|due to|NaN`, s)
				}
				if f.Finding {
					assert.Contains(t, f.Words.Headline, "probably costs about")
				}
			}
		}
	}
}

// Mantel-Haenszel by every distinct height and channel agrees with a direct
// count of the strata.
func TestStrataAreNeverBanded(t *testing.T) {
	c, _ := invented.Workshop{Orders: 2000, Intercept: -2, Seed: 9}.Make()
	for i := range c.ShaftMM {
		c.ShaftMM[i] += float64(i%3) * 0.1
	}
	type key struct {
		mm      float64
		channel string
	}
	m := MatureAfter(c, 0)
	byHand := map[key]*stats.TwoByTwo{}
	for i := range c.Shipped {
		if !m.Is(c, i) || c.Cut[0][i] != form.With && c.Cut[0][i] != form.Without {
			continue
		}
		k := key{c.ShaftMM[i], c.Channel.At(i)}
		if byHand[k] == nil {
			byHand[k] = &stats.TwoByTwo{}
		}
		byHand[k].Add(c.Cut[0][i] == form.With, Event(c, i))
	}
	num, den := 0.0, 0.0
	for _, x := range byHand {
		num += float64(x.A*x.D) / float64(x.N())
		den += float64(x.B*x.C) / float64(x.N())
	}
	assert.InDelta(t, num/den, Faults(context.Background(), c, Options{}).Faults[0].StratifiedOR.Point, 1e-9)
}

// A return ends an order's chance of a remake: headline, curves, competing
// incidence and model speak of the same share, whatever is reported later.
func TestReturnsAreACompetingEnd(t *testing.T) {
	c := invented.Bare(400)
	for i := range 80 {
		c.Returned[i] = c.Shipped[i] + 20
	}
	for i := range 10 {
		invented.Remake(c, i, 40)     // after the money went back
		invented.Remake(c, 70+i, 10)  // before it did
		invented.Remake(c, 100+i, 60) // never returned
		invented.Remake(c, 200+i, 60)
	}
	m := MatureAfter(c, 0)
	d := Faults(context.Background(), c, Options{})
	assert.Equal(t, 30, d.Remade)
	assert.InDelta(t, 30.0/400, d.RemakeShare.Point, 1e-12)
	e := ExpectedByMix(c, m)
	require.Empty(t, e.Why)
	assert.InDelta(t, 30.0/400, stat.Mean(e.Risk, nil), 1e-6)
	assert.Contains(t, strings.Join(d.Limits, " "), "On 10 orders a remake was reported after a return")
	assert.NotContains(t, strings.Join(Faults(context.Background(), invented.Bare(50), Options{}).Limits, " "), "after a return;")
}

// A remake whose day is not told counts wherever no day is needed: shares and
// tables stay what they are with all days known, the model nearly so, and what
// needs the day has such orders not at all. Invented workshop.
func TestRemakesWithoutADay(t *testing.T) {
	w := invented.Workshop{Orders: 3000, Seed: 11, Idle: 400, Intercept: -2.6}
	whole, _ := w.Make()
	half, _ := w.Make()
	half.NoDayTold = make([]bool, half.Len())
	struck := 0
	for i := range half.OrderID {
		if Event(whole, i) && i%2 == 0 {
			half.Remade[i], half.NoDayTold[i] = cohort.NoDay, true
			struck++
		}
	}
	require.Greater(t, struck, 50)
	o := Options{Replicates: 20, Seed: 1, MatureDays: 200}
	a, b := Faults(t.Context(), whole, o), Faults(t.Context(), half, o)
	require.Equal(t, a.Remade, b.Remade)
	require.Equal(t, a.RemakeShare, b.RemakeShare)
	require.Equal(t, struck, b.RemadeNoDay)
	require.Equal(t, struck, b.Maturity.NoDay)
	require.Zero(t, a.RemadeNoDay)
	for f := range a.Faults {
		require.Equal(t, a.Faults[f].RemadeWith, b.Faults[f].RemadeWith, a.Faults[f].Fault)
		require.Equal(t, fmt.Sprint(a.Faults[f].StratifiedOR), fmt.Sprint(b.Faults[f].StratifiedOR))
		require.InDelta(t, a.Faults[f].AdjustedRD.Point, b.Faults[f].AdjustedRD.Point, 0.002, a.Faults[f].Fault)
	}
	m := MatureAfter(half, 0)
	require.Equal(t, MatureAfter(whole, 0).Remakes-struck, m.Remakes, "how late reports come is read from those with a day")
}
