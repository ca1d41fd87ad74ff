package measurers

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/invented"
)

// book is orders of a year and more ago, shared out to measurers: sizes[k]
// orders of measurer k, remade[k] of them remade, the kind of boot all alike.
func book(sizes, remade []int) *cohort.Cohort {
	n := 0
	for _, s := range sizes {
		n += s
	}
	c, _ := invented.Workshop{Orders: n, Intercept: -3, Idle: 500, Seed: 1}.Make()
	c.Measurer.Levels = []string{""}
	i := 0
	for k, s := range sizes {
		c.Measurer.Levels = append(c.Measurer.Levels, string(rune('a'+k)))
		for j := range s {
			c.Measurer.Code[i] = int32(k + 1)
			c.ShaftMM[i], c.Closure.Code[i], c.Channel.Code[i], c.Orthotic.Code[i] = 300, 1, 1, 1
			c.Sex.Code[i], c.Tucked.Code[i], c.Sock.Code[i] = 1, 1, 1
			c.Remade[i] = cohort.NoDay
			if j < remade[k] {
				c.Remade[i] = c.Shipped[i] + 30
			}
			i++
		}
	}
	return c
}

func TestMeasurersByHand(t *testing.T) {
	c := book([]int{100, 100, 200, 19}, []int{20, 5, 15, 10})
	d := Measure(c, Options{})
	require.Len(t, d.Measurers, 3, "19 orders are too few for a row")
	assert.Equal(t, 1, d.TooFew)
	assert.Equal(t, 419, d.MatureOrders)
	assert.Equal(t, 50, d.Remade)
	p := 50.0 / 419
	a := d.Measurers[0]
	assert.Equal(t, "a", a.ID)
	assert.InDelta(t, 100*20.0/300, a.Expected.Point, 0.3, "all boots alike: the share of the others with 20 orders and more")
	// Drawn towards all: between the raw and the pooled share.
	assert.Greater(t, a.Share.Point, p)
	assert.Less(t, a.Share.Point, 0.2)
	assert.Equal(t, More, a.Verdict)
	assert.Greater(t, a.Ratio.Low, 1.0)
	b := d.Measurers[1]
	assert.Greater(t, b.Share.Point, 0.05)
	assert.Less(t, b.Share.Point, p)
	assert.True(t, a.Ratio.Bounded())
	assert.Contains(t, a.Words, "20 of 100 orders remade")
}

// Who measures alone in a channel is not compared with himself; nor with others
// of other channels. The others are, and share theirs.
func TestAloneInAChannel(t *testing.T) {
	c := book([]int{200, 150, 150, 25}, []int{34, 12, 12, 2})
	for i := range 200 {
		c.Channel.Code[i] = 3
	}
	d := Measure(c, Options{})
	require.Len(t, d.Measurers, 4)
	a := d.Measurers[0]
	assert.Equal(t, NotComparable, a.Verdict)
	assert.False(t, a.Ratio.Given() || a.Expected.Given())
	assert.Equal(t, a.Rate, a.Share)
	assert.Contains(t, a.Words, "34 of 200 orders remade")
	assert.Contains(t, a.Words, "In the other channels 26 of 325")
	assert.NotEqual(t, NotComparable, d.Measurers[1].Verdict)
	// Ten of the others' orders, two of them remade, come from that channel too.
	for i := 500; i < 510; i++ {
		c.Channel.Code[i] = 3
	}
	assert.Contains(t, Measure(c, Options{}).Measurers[0].Words, "In the other channels 24 of 315")
	// One measurer in all: nobody to compare with.
	one := Measure(book([]int{100}, []int{9}), Options{}).Measurers[0]
	assert.Equal(t, NotComparable, one.Verdict)
}

// Hundreds of wearers who measured once are no measurers to compare with: those
// with as many remakes as the others stay near 1.
func TestWearersWhoMeasuredOnce(t *testing.T) {
	sizes, remade := []int{100, 100, 100}, []int{8, 8, 8}
	for k := range 300 {
		sizes, remade = append(sizes, 1), append(remade, min(1, k%12/11))
	}
	d := Measure(book(sizes, remade), Options{})
	require.Len(t, d.Measurers, 3)
	for _, m := range d.Measurers {
		assert.InDelta(t, 1, m.Ratio.Point, 0.1)
		assert.InDelta(t, 8, m.Expected.Point, 1)
		assert.InDelta(t, 0.08, m.Share.Point, 0.01)
	}
}

// Who has few orders yet is a newcomer: faults of the forms are counted beside the
// others', of remakes nothing is said. With fewer than five there is no page.
func TestNewcomers(t *testing.T) {
	c := book([]int{100, 100, 8, 4}, []int{8, 8, 3, 1})
	for i := range c.Shipped {
		c.Cut[0][i] = form.Without
		if i < 200 && i%10 == 0 || i >= 200 && i < 206 {
			c.Cut[0][i] = form.With
		}
	}
	c.Shipped[207] = c.AsOf // too young to count among remakes
	d := Measure(c, Options{})
	require.Len(t, d.Measurers, 2)
	require.Len(t, d.Newcomers, 1)
	assert.Equal(t, []string{"a", "b", "c"}, d.IDs())
	_, known := d.Named("d")
	assert.False(t, known)
	m, _ := d.Named("c")
	assert.Equal(t, 7, m.Orders)
	assert.Equal(t, TooFewToTell, m.Verdict)
	assert.False(t, m.Ratio.Given())
	f := m.Faults[0]
	assert.Equal(t, []int{6, 8}, []int{f.With, f.AtRisk}, "young orders have forms too")
	assert.InDelta(t, 0.1, f.Expected.Point, 0.01)
	assert.Len(t, f.Orders, 6)
	assert.Empty(t, m.StandingOut(), "eight forms stand out from nothing")
}

// Thirty orders can't show a doubling of 8 %; a thousand can.
func TestAsExpectedNeedsPower(t *testing.T) {
	d := Measure(book([]int{30, 1000, 400, 400}, []int{2, 80, 32, 32}), Options{})
	assert.Equal(t, TooFewToTell, d.Measurers[0].Verdict)
	assert.Less(t, float64(d.Measurers[0].Power), 0.3)
	assert.Equal(t, AsExpected, d.Measurers[1].Verdict)
	assert.Greater(t, float64(d.Measurers[1].Power), 0.99)
	assert.Contains(t, d.Measurers[0].Words, "too few to tell")
}

// What is called more: so many remakes that the ratio's interval is all above 1, and one fewer is
// not. The power is the chance of so many at twice the expected share, by the binomial.
func TestMoreAndItsPower(t *testing.T) {
	of := func(x int) Measurer {
		return Measure(book([]int{100, 200, 200}, []int{x, 16, 16}), Options{}).Measurers[0]
	}
	least := 17
	for of(least).Verdict != More {
		least++
	}
	m, under := of(least), of(least-1)
	assert.Greater(t, m.Ratio.Low, 0.98, "to the grid's 1 in 100")
	assert.Less(t, under.Ratio.Low, 1.02)
	twice, beyond := 2*m.Expected.Point/100, 0.0
	for k := least; k <= 100; k++ {
		beyond += stats.BinomialProb(k, 100, twice)
	}
	assert.InDelta(t, beyond, float64(m.Power), 0.02)
	// The others as they are, not with one's own remakes: 32 of 400, and as many expected of 100.
	assert.InDelta(t, 8, m.Expected.Point, 0.15)
}

// By hand, of two at a half: none has the chance 1/4, half of which counts, on both sides;
// one in the middle is no sign. Of 100 at a tenth R's pbinom gives 0.9601 by 15 and 0.9794 by 16,
// so that the upper limit of 95 % stands 0.2279 of the way down from 16.
func TestChancesOfFaultShares(t *testing.T) {
	for x, p := range []float64{0.25, 1, 0.25} {
		assert.InDelta(t, p, float64(tail(x, 2, 0.5)), 1e-12)
	}
	f := funnel(0.1, 100)
	assert.InDelta(t, (16-(0.9793996-0.975)/(0.9793996-0.9601095))/100, float64(f.High95), 1e-6)
	assert.Equal(t, []string{"", "above 95"}, []string{outside(f, 15, 100), outside(f, 16, 100)})
	assert.Less(t, stats.BinomialCDF(outsideFrom(f)-1, 100, 0.1), 0.9995)
	assert.Greater(t, stats.BinomialCDF(outsideFrom(f)-1, 100, 0.1), 0.998)
}

// outsideFrom is the first count of 100 above the limit of 99.8 %.
func outsideFrom(f Funnel) int {
	for x := range 100 {
		if outside(f, x, 100) == "above 99.8" {
			return x
		}
	}
	return 100
}

// A measurer of tall boots must not be blamed for them.
func TestExpectedByMix(t *testing.T) {
	c := book([]int{600, 600}, []int{0, 0})
	rng := stats.Source(1, 0)
	for i := range c.Shipped {
		p := 0.05
		if c.Measurer.Code[i] == 2 == (i%10 < 8) { // b makes mostly tall ones
			c.ShaftMM[i], p = 450, 0.25
		}
		if rng.Float64() < p {
			c.Remade[i] = c.Shipped[i] + 30
		}
	}
	d := Measure(c, Options{})
	a, b := d.Measurers[0], d.Measurers[1]
	assert.Greater(t, b.Rate.Point, 1.5*a.Rate.Point, "the raw shares are far apart")
	assert.InDelta(t, 1, b.Ratio.Point, 0.2)
	assert.Contains(t, []Verdict{AsExpected, TooFewToTell}, a.Verdict)
	assert.Contains(t, []Verdict{AsExpected, TooFewToTell}, b.Verdict)
}

func TestFaultRates(t *testing.T) {
	c := book([]int{100, 100, 100}, []int{5, 5, 5})
	for i := range c.Shipped {
		c.Cut[0][i] = form.Without
		if i < 40 || i >= 100 && i%10 == 0 {
			c.Cut[0][i] = form.With
		}
	}
	r := Measure(c, Options{}).Measurers[0].Faults[0]
	assert.Equal(t, "tape-marks-missing", r.Fault)
	assert.Equal(t, 40, r.With)
	assert.Equal(t, "above 99.8", r.Outside)
	assert.Less(t, r.Share.Point, 0.4)
	assert.LessOrEqual(t, float64(r.QValue), 0.001)
}

// Ten legs taken twice, each pair 4 mm apart: TEM = sqrt(10 x 16 / 20) = 2.83.
// The instructor is 3 mm under the mean of the pair.
func TestTechnicalError(t *testing.T) {
	var repeats []repeatability.Repeat
	for k := range 10 {
		base := 300.0 + float64(k)
		subject := string(rune('a' + k))
		for trial, v := range []float64{base, base + 4} {
			repeats = append(repeats, repeatability.Repeat{Session: "s", Subject: subject, Measurer: "a", Trial: trial + 1, Side: "left", Point: "ball", HeightMM: math.NaN(), ValueMM: v})
		}
		repeats = append(repeats, repeatability.Repeat{Session: "s", Subject: subject, Measurer: "boss", Trial: 1, Reference: true, Side: "left", Point: "ball", HeightMM: math.NaN(), ValueMM: base - 1})
	}
	m := Measure(book([]int{30, 30}, []int{3, 3}), Options{Repeats: repeats}).Measurers[0]
	require.Len(t, m.TEM, 1)
	assert.InDelta(t, math.Sqrt(8), m.TEM[0].TEM.Point, 1e-12)
	assert.InDelta(t, 3, m.TEM[0].Bias.Point, 1e-12)
	assert.Equal(t, 10, m.TEM[0].Subjects)
}

func TestMeasurersAlwaysAnswer(t *testing.T) {
	for _, n := range []int{0, 1, 30, 300, 2000} {
		for _, intercept := range []float64{-9, -3, 9} {
			c, _ := invented.Workshop{Orders: n, Intercept: intercept, Seed: uint64(n)}.Make()
			_, err := json.Marshal(Measure(c, Options{Repeats: []repeatability.Repeat{{Measurer: "m1", ValueMM: math.NaN()}, {Measurer: "m1", Point: "ball", ValueMM: 1}}}))
			require.NoError(t, err)
		}
	}
}

// The share of a measurer is that of the model written out: logits of the shares normal around a level on which
// nothing is known beforehand, their spread half-normal of scale 0.5, summed over a grid of all three (Gelman A et al. (2013)
// Bayesian Data Analysis, 3rd ed., 5.4). With a scale of 0.4 the share is 0.005 lower, with 0.6 0.003 higher.
func TestShareByTheModelWrittenOut(t *testing.T) {
	sizes, remade := []int{100, 100, 200}, []int{20, 5, 14}
	c := book(sizes, []int{0, 0, 0})
	for i := range c.Shipped { // by turns, and remade evenly, so that time tells nothing
		c.Measurer.Code[i] = []int32{1, 2, 3, 3}[i%4]
		if round := i / 4; i%4 == 0 && round%5 == 2 || i%4 == 1 && round%20 == 10 || i%4 == 2 && round%7 == 3 {
			c.Remade[i] = c.Shipped[i] + 30
		}
	}
	found := Measure(c, Options{}).Measurers
	for j, m := range found {
		require.Equal(t, []int{sizes[j], remade[j]}, []int{m.Orders, m.Remade})
	}
	got := found[0].Share

	const n, step, low = 240, 0.025, -5.0
	at := func(k int) float64 { return low + step*float64(k) }
	var like [3][n]float64
	for j := range like {
		for k := range n {
			like[j][k] = stats.BinomialProb(remade[j], sizes[j], stats.Logistic(at(k)))
		}
	}
	var posterior [n]float64
	for spread := 0.02; spread < 2; spread += 0.04 {
		for mean := 40; mean < 200; mean += 2 {
			var mass [n]float64
			sum, others := 0.0, [3]float64{}
			for k := range mass {
				z := (at(k) - at(mean)) / spread
				mass[k] = math.Exp(-z * z / 2)
				sum += mass[k]
				for j := range others {
					others[j] += mass[k] * like[j][k]
				}
			}
			w := math.Exp(-spread*spread/(2*0.5*0.5)) * others[1] * others[2] / (sum * sum * sum)
			for k := range mass {
				posterior[k] += w * mass[k] * like[0][k]
			}
		}
	}
	quantile := func(q float64) float64 {
		total, below := 0.0, 0.0
		for _, w := range posterior {
			total += w
		}
		for k, w := range posterior {
			if below+w >= q*total {
				return stats.Logistic(at(k) - step/2 + step*(q*total-below)/w)
			}
			below += w
		}
		return 1
	}
	t.Logf("%.4f (%.4f to %.4f), written out %.4f (%.4f to %.4f)", got.Point, got.Low, got.High, quantile(0.5), quantile(0.025), quantile(0.975))
	assert.InDelta(t, quantile(0.5), got.Point, 1e-3)
	assert.InDelta(t, quantile(0.025), got.Low, 5e-3, "a quarter of a step of the hierarchy's own grid there")
	assert.InDelta(t, quantile(0.975), got.High, 5e-3)
}
