package risk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/invented"
)

func smallShop(seed uint64) *cohort.Cohort {
	c, _ := invented.Workshop{Orders: 2500, Intercept: -2.6, Seed: seed}.Make()
	return c
}

// A case's columns are those of its row in the design, whatever is known of it:
// the risk that the desk tells is the one that was fitted.
func TestCaseIsItsRow(t *testing.T) {
	c := smallShop(3)
	c.CutAlarm, c.FirstAlarm = make([]float64, c.Len()), make([]float64, c.Len())
	rng := stats.Source(5, 0)
	for i := range c.CutAlarm {
		c.CutAlarm[i] = math.Round(100*rng.ExpFloat64()/math.Ln10) / 100
		switch {
		case i%11 == 0:
			c.CutAlarm[i] = math.NaN()
		case i%13 == 0:
			c.ShaftMM[i] = math.NaN()
		case i%17 == 0:
			c.Received[i], c.Channel.Code[i] = cohort.NoDay, 0
		}
	}
	x, err := fitOn(c, histories(c), past{c.AsOf})
	require.NoError(t, err)
	require.Empty(t, x.Why)
	cases := CasesOf(c)
	for k, i := range x.d.Subject {
		require.InDelta(t, x.fit.Risk(x.d.Pattern(k)), x.risk(cases[i]), 1e-12, "order %d", i)
	}
	assert.Contains(t, x.Names, "alarm score, bend")
	assert.Contains(t, x.Names, "shaft height unknown")
	// The mean fitted risk is the share that the engine has for all alike: the
	// intercept is free.
	mean, share := 0.0, 0.0
	w := x.d.Whole()
	for i := range x.d.Patterns() {
		mean += (w.Slot[2*i] + w.Slot[2*i+1]) * x.share[x.d.Age(i)] * x.fit.Risk(i)
		share += w.Slot[2*i+1]
	}
	assert.InDelta(t, share, mean, 0.01*share)
}

// A model that was written and read again says the same.
func TestKeptModel(t *testing.T) {
	c := smallShop(4)
	l, err := Learn(context.Background(), c, Options{Seed: 1})
	require.NoError(t, err)
	text, err := json.Marshal(l)
	require.NoError(t, err)
	var back Learnt
	require.NoError(t, json.Unmarshal(text, &back))
	require.NoError(t, back.Ready())
	price := Price{Remake: 400, Call: 10, Success: 0.7, SE: 0.1}
	for _, x := range CasesOf(c)[:200] {
		require.Equal(t, fmt.Sprintf("%+v", l.Of(x, price)), fmt.Sprintf("%+v", back.Of(x, price))) // NaN is no equal of itself
	}
	back.Model.Coef = back.Model.Coef[1:]
	assert.Error(t, back.Ready())
	assert.Error(t, (&Learnt{}).Ready())
}

// Reasons, the risk if mended and the worth of a call-back are differences of
// risks; a mended form has no fault left, and what is unknown stays unknown.
func TestExplained(t *testing.T) {
	c := smallShop(4)
	l, err := Learn(context.Background(), c, Options{Seed: 1})
	require.NoError(t, err)
	require.True(t, l.Shown(), l.Validation.Words)
	faulty, plain := 0, 0
	for _, x := range CasesOf(c) {
		whole := l.all(x)
		require.LessOrEqual(t, len(l.Of(x, Price{}).Reasons), 3)
		for k, r := range whole {
			require.GreaterOrEqual(t, r.Points, leastPoints)
			if k > 0 {
				require.LessOrEqual(t, r.Points, whole[k-1].Points)
			}
			if r.Fault == "" {
				continue
			}
			// Without the fault, all else as it is.
			f, _ := form.FaultIndex(r.Fault)
			y := *x
			y.Cut = append([]form.State{}, x.Cut...)
			y.Cut[f] = form.Without
			y.First = y.Cut // nothing was mended
			if len(mendedFaults(x.Cut, x.First)) == 0 {
				require.InDelta(t, 100*(l.Model.risk(x)-l.Model.risk(&y)), r.Points, 1e-9, r.Reason)
			}
		}
		after, changed := l.Mended(x)
		price := Price{Remake: 400, Call: 10, Success: 0.7, SE: 0.1}
		unknown := Price{Remake: math.NaN(), Success: 0.7, Why: "what a remake costs is not known"}
		if !changed {
			plain++
			require.Equal(t, l.risk(x), l.ifMended(x))
			require.False(t, worth(l.avoids(x, price), price).Given())
			continue
		}
		faulty++
		for f, s := range after.Cut {
			require.NotEqual(t, form.With, s)
			require.Equal(t, x.Cut[f] == form.Unknown, s == form.Unknown)
		}
		brings := worth(l.avoids(x, price), price)
		require.InDelta(t, 400*0.7*(l.risk(x).Point-l.ifMended(x).Point)-10, brings.Point, 1e-9)
		require.Less(t, brings.Low, brings.High)
		require.Equal(t, []string{"what a remake costs is not known"}, worth(l.avoids(x, unknown), unknown).Warnings)
	}
	require.Positive(t, faulty)
	require.Positive(t, plain)
}

// Few remakes: no number, and words that say so.
func TestTooFew(t *testing.T) {
	c, _ := invented.Workshop{Orders: 200, Intercept: -3.5, Seed: 1}.Make()
	l, err := Learn(context.Background(), c, Options{Seed: 1, Resamples: 10})
	require.NoError(t, err)
	assert.Contains(t, l.Model.Why, "remakes, 40 needed")
	assert.False(t, l.Shown())
	x := CasesOf(c)[0]
	e := l.risk(x)
	assert.False(t, e.Given())
	assert.NotEmpty(t, e.Warnings)
	assert.Empty(t, l.Of(x, Price{}).Reasons)
	assert.False(t, l.Validation.AUC.Given())
	none := &cohort.Cohort{AsOf: c.AsOf, Cut: make(cohort.FormFaults, len(form.Faults)), First: make(cohort.FormFaults, len(form.Faults))}
	l, err = Learn(context.Background(), none, Options{})
	require.NoError(t, err)
	assert.NotEmpty(t, l.Model.Why)
}

// By hand: what was known of a customer when an order came in.
func TestHistories(t *testing.T) {
	c := &cohort.Cohort{
		AsOf: 1000, Customer: []int32{0, 0, 1, 0, 0, 1},
		Received: []cohort.Day{0, 60, 0, 95, 200, cohort.NoDay},
		Shipped:  []cohort.Day{50, 90, 95, 140, 240, 300},
		Remade:   []cohort.Day{150, cohort.NoDay, cohort.NoDay, cohort.NoDay, cohort.NoDay, cohort.NoDay},
	}
	assert.Equal(t, []History{FirstPair, OrderedAgain, FirstPair, OrderedAgain, RemadeBefore, OrderedAgain}, histories(c))
}

// A restricted cubic spline is straight beyond its outer knots and smooth at them.
func TestCurve(t *testing.T) {
	c := curve{Knots: []float64{1, 2, 4}, Step: 1e-6, Low: -10, High: 20}
	for _, x := range []float64{-5, -1, 5, 9} {
		a, b, d := c.at(x - 0.5)[1], c.at(x)[1], c.at(x + 0.5)[1]
		assert.InDelta(t, 0, a-2*b+d, 1e-9, "straight at %v", x)
	}
	for _, k := range c.Knots {
		left, right := (c.at(k)[1]-c.at(k - 1e-4)[1])/1e-4, (c.at(k + 1e-4)[1]-c.at(k)[1])/1e-4
		assert.InDelta(t, left, right, 1e-3)
	}
	// Harrell's own formula by hand at x = 3: ((3-1)^3 - (3-2)^3 (4-1)/(4-2)) / (4-1)^2,
	// here over one more width of the knots.
	assert.InDelta(t, (8-1.5)/27, c.at(3)[1], 1e-12)
	assert.Equal(t, []float64{0, 0}, c.at(math.NaN()))
}

// Corrected is apparent less optimism, and the model's own orders flatter it.
func TestOptimism(t *testing.T) {
	c := smallShop(4)
	l, err := Learn(context.Background(), c, Options{Seed: 1, Resamples: 30})
	require.NoError(t, err)
	require.Len(t, l.Validation.Optimism, 3)
	for _, o := range l.Validation.Optimism {
		assert.InDelta(t, float64(o.Apparent-o.Optimism), float64(o.Corrected), 1e-12)
	}
	auc, slope := l.Validation.Optimism[0], l.Validation.Optimism[2]
	assert.Greater(t, float64(auc.Optimism), 0.0, "its own orders flatter it")
	assert.InDelta(t, 1, float64(slope.Corrected), 0.35)
}
