package risk

import (
	"context"
	"flag"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

var (
	shops     = flag.Int("shops", breadth.Few(2, 8), "simulated shops of TestKnownTruth and TestNothingMatters")
	firstSeed = flag.Uint64("first-seed", 1, "the seed of the first of them")
)

// shop is a simulated one: 3,000 orders as they were known when the last of them
// was shipped, and as many later ones with their true risks.
func shop(seed uint64) (before, after *cohort.Cohort, at int, truth, seen []float64) {
	const orders, later = 3000, 3000
	after, all := invented.Workshop{Orders: orders + later, Intercept: -2.8, Days: 2160, Seed: seed}.Make()
	for i := range after.Shipped {
		eta := all.Bare[i]
		for f, s := range form.Faults {
			if after.Cut[f][i] == form.With {
				eta += invented.Effects[s.ID]
			}
		}
		truth, seen = append(truth, stats.Logistic(eta)), append(seen, stats.Logistic(eta-all.Hidden[i]))
	}
	return cut(after, orders, after.Shipped[orders]), after, orders, truth, seen
}

// cut is the cohort's first rows as they were known on a day.
func cut(c *cohort.Cohort, n int, asOf cohort.Day) *cohort.Cohort {
	d := *c
	d.AsOf = asOf
	d.OrderID, d.Customer, d.Received, d.Shipped, d.ShaftMM = c.OrderID[:n], c.Customer[:n], c.Received[:n], c.Shipped[:n], c.ShaftMM[:n]
	for _, f := range []*cohort.Factor{&d.Closure, &d.Channel, &d.Sock, &d.Sex, &d.Tucked, &d.Orthotic, &d.Measurer, &d.MeasurerKind, &d.Region, &d.Cause, &d.Zone, &d.Direction, &d.Side} {
		f.Code = f.Code[:n]
	}
	d.Cut, d.First = slices.Clone(c.Cut), slices.Clone(c.First)
	for f := range d.Cut {
		d.Cut[f], d.First[f] = c.Cut[f][:n], c.First[f][:n]
	}
	d.CutNo, d.CalledBack, d.Cost, d.Answered = c.CutNo[:n], c.CalledBack[:n], c.Cost[:n], c.Answered[:n]
	until := func(days []cohort.Day) (out cohort.Column[cohort.Day]) {
		for _, x := range days[:n] {
			if x > asOf {
				x = cohort.NoDay
			}
			out = append(out, x)
		}
		return out
	}
	d.Remade, d.Returned, d.Adjusted = until(c.Remade), until(c.Returned), until(c.Adjusted)
	return &d
}

// expectedSlope is the calibration slope of risks against true ones: the logistic
// regression of orders that count as remade for as much as their true risk.
func expectedSlope(truth, risk []float64) float64 {
	p, event, weight := slices.Concat(risk, risk), make([]bool, 2*len(risk)), make([]float64, 2*len(risk))
	for i, t := range truth {
		event[i], weight[i], weight[len(truth)+i] = true, t, 1-t
	}
	return stats.Calibrate(p, event, weight).Slope
}

// expectedAUC is the area under the ROC curve that a score has on average, each
// order remade with its true risk.
func expectedAUC(truth, score []float64) float64 {
	s, event, weight := slices.Concat(score, score), make([]bool, 2*len(score)), make([]float64, 2*len(score))
	for i, t := range truth {
		event[i], weight[i], weight[len(truth)+i] = true, t, 1-t
	}
	order := make([]int, len(s))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case s[a] < s[b]:
			return -1
		case s[a] > s[b]:
			return 1
		}
		return 0
	})
	return stats.WeightedAUC(s, event, weight, order)
}

// In shops whose true risks are known the model's risks of later orders are neither
// too extreme nor too timid on average, and rank them nearly as well as the true
// risk does that can be seen (what customers have in common shows in no column).
// Plain maximum likelihood on the same columns is too extreme and ranks worse.
//
//	go test ./analysis/risk -run KnownTruth -shops=1000 -first-seed=1001 -v -timeout 1h
func TestKnownTruth(t *testing.T) {
	type result struct{ slope, auc, plainSlope, plainAUC, best, covered, shown, bias float64 }
	out := make([]result, *shops)
	errs := make([]error, *shops)
	stats.Parallel(0, *shops, func(k int) {
		before, after, at, truth, seen := shop(uint64(k) + *firstSeed)
		l, err := Learn(context.Background(), before, Options{Seed: 1, Workers: 1})
		if err != nil || l.Model.Why != "" {
			errs[k] = err
			return
		}
		past := histories(after)
		plain := plainModel(before, histories(before))
		var mine, other []float64
		for i := at; i < after.Len(); i++ {
			c := caseOf(after, i, past)
			e := l.Model.estimate(c)
			mine, other = append(mine, e.Point), append(other, plain.risk(c))
			if e.Low <= seen[i] && seen[i] <= e.High {
				out[k].covered += 1 / float64(after.Len()-at)
			}
			out[k].bias += (e.Point - truth[i]) / float64(after.Len()-at)
		}
		truth, seen = truth[at:], seen[at:]
		r := &out[k]
		r.slope, r.auc = expectedSlope(truth, mine), expectedAUC(truth, mine)
		r.plainSlope, r.plainAUC = expectedSlope(truth, other), expectedAUC(truth, other)
		r.best = expectedAUC(truth, seen)
		if l.Shown() {
			r.shown = 1
		}
	})
	var m result
	n := float64(len(out))
	for k, r := range out {
		require.NoError(t, errs[k])
		require.NotZero(t, r.slope)
		m.slope, m.auc, m.plainSlope, m.plainAUC = m.slope+r.slope/n, m.auc+r.auc/n, m.plainSlope+r.plainSlope/n, m.plainAUC+r.plainAUC/n
		m.best, m.covered, m.shown, m.bias = m.best+r.best/n, m.covered+r.covered/n, m.shown+r.shown/n, m.bias+r.bias/n
	}
	t.Logf("%d shops: slope %.3f (plain %.3f); area %.4f, the true risk's %.4f, lost %.4f (plain %.4f); intervals of the risk hold it in %.3f; mean risk off by %+.4f; shown in %.3f",
		*shops, m.slope, m.plainSlope, m.auc, m.best, m.best-m.auc, m.best-m.plainAUC, m.covered, m.bias, m.shown)
	slack := 3 * 0.13 / math.Sqrt(n) // three Monte Carlo errors
	assert.InDelta(t, 1, m.slope, 0.05+slack)
	assert.Less(t, m.best-m.auc, 0.012+0.01/math.Sqrt(n))
	assert.Greater(t, m.auc, m.plainAUC)
	assert.Less(t, math.Abs(m.slope-1), math.Abs(m.plainSlope-1)+slack)
	assert.Greater(t, m.shown, 0.9)
}

// plainModel is maximum likelihood on the same columns.
func plainModel(c *cohort.Cohort, histories []History) *Model {
	x, err := fitOn(c, histories, past{c.AsOf})
	if err != nil {
		panic(err)
	}
	s := x.shrink
	s.tau, s.measurer = 1e-3, 1e-3 // what is left keeps columns without an event from running off
	if err := x.refit(x.d.Whole(), x.d.Spread(regression.Columns{Exposures: true}, x.d.Whole()), x.measurerColumns(), s, nil); err != nil {
		panic(err)
	}
	m := *x.Model
	m.Covariance, m.Rate = nil, 0
	m.take(x)
	return &m
}

// Where nothing matters, the model says so: orders of one risk, whatever the form.
//
//	go test ./analysis/risk -run NothingMatters -shops=1000 -first-seed=1001 -v -timeout 1h
func TestNothingMatters(t *testing.T) {
	quiet := make([]float64, *shops)
	stats.Parallel(0, *shops, func(k int) {
		before, _, _, _, _ := shop(uint64(k) + *firstSeed)
		rng := stats.Source(4711, k+int(*firstSeed)-1)
		before.Remade = slices.Clone(before.Remade)
		for i := range before.Remade {
			before.Remade[i], before.Returned[i] = cohort.NoDay, cohort.NoDay
			if rng.Float64() < 0.085 {
				if d := before.Shipped[i] + cohort.Day(math.Exp(4.1+0.8*rng.NormFloat64()))%366; d <= before.AsOf {
					before.Remade[i] = d
				}
			}
		}
		l, err := Learn(context.Background(), before, Options{Seed: 1, Workers: 1})
		if err == nil && !l.Shown() {
			quiet[k] = 1
		}
	})
	share := 0.0
	for _, q := range quiet {
		share += q / float64(len(quiet))
	}
	t.Logf("%d shops where nothing matters: it says so in %.3f", *shops, share)
	assert.GreaterOrEqual(t, share, 0.95-3*math.Sqrt(0.05*0.95/float64(*shops)))
}
