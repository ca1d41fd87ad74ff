package regression

import (
	"math/rand/v2"
	"slices"

	"lastroom/analysis/stats"
)

// Subjects of whom nobody reported may have had the event all the same. An
// [Imputation] counts each of them in part as one with it: the share that a model
// of those with a report gives, its odds times a factor. The factor is an
// assumption that no data can test (a pattern-mixture model with an informative
// missingness odds ratio): 0 takes silence for no event, 1 takes the silent for
// like the others (missing at random).
//
// Counting in parts is the mean score method, which is what infinitely many
// imputations come to: White IR, Carpenter J, Horton NJ (2018) Statistica Sinica
// 28:1985-2003. The odds ratio is that of Higgins JPT, White IR, Wood AM (2008)
// Clinical Trials 5:225-239.

// counts are how often each subject that is in counts with an event and without.
type counts struct{ with, without []float64 }

// Only are the weights where subject k, by place among those in, counts part(k)
// times.
func (d *Design) Only(part func(k int) float64) Weights {
	c := &counts{make([]float64, len(d.slot)), make([]float64, len(d.slot))}
	for k, slot := range d.slot {
		if slot%2 == 1 {
			c.with[k] = part(k)
		} else {
			c.without[k] = part(k)
		}
	}
	return d.counted(c)
}

func (d *Design) counted(c *counts) Weights {
	w := Weights{Slot: make([]float64, 2*d.Patterns()), Share: d.reportShare(nil), counts: c}
	for k, slot := range d.slot {
		w.Slot[slot&^1] += c.without[k]
		w.Slot[slot|1] += c.with[k]
	}
	return w.count(nil)
}

// An Imputation is the outcome of silent subjects put in by a model of the
// others.
type Imputation struct {
	d      *Design
	spoken *Linearization
	risk   []float64 // per subject that is in: by the last edge; 0 for those with a report
	silent []float64 // per subject that is in: the part of it that is silent
	counts *counts
}

// Impute puts in the outcome of subjects without an event: part(k) of subject k is
// silent (1; less where it may still report; 0 where it did), spoken is the model
// of the rest of them ([Design.Only]), odds(k) what its odds are multiplied by.
func (d *Design) Impute(spoken *Linearization, part, odds func(k int) float64) *Imputation {
	m := &Imputation{d, spoken, make([]float64, len(d.slot)), make([]float64, len(d.slot)), &counts{make([]float64, len(d.slot)), make([]float64, len(d.slot))}}
	for k, slot := range d.slot {
		if slot%2 == 1 {
			m.counts.with[k] = 1
			continue
		}
		i, o := int(slot/2), odds(k)
		if r := spoken.risk[i]; o > 0 {
			m.risk[k] = o * r / (1 - r + o*r)
		}
		// Like a report, it comes by the edge followed to or later.
		m.silent[k] = part(k)
		m.counts.with[k] = m.silent[k] * spoken.fit.share(i) * m.risk[k]
		m.counts.without[k] = 1 - m.counts.with[k]
	}
	return m
}

// Weights are those of all subjects, the silent in parts. What follows from a fit
// with them carries the uncertainty of the model of the others along.
func (m *Imputation) Weights() Weights {
	w := m.d.counted(m.counts)
	w.imputed = m
	return w
}

// Share is the share with an event among the subjects in.
func (m *Imputation) Share(in func(k int) bool) Contrast {
	n, x := 0.0, 0.0
	for k := range m.d.slot {
		if in(k) {
			n++
			x += m.counts.with[k]
		}
	}
	c := Contrast{Mean: x / n}
	through := m.through(func(k int) float64 {
		if in(k) {
			return 1 / n
		}
		return 0
	})
	u := slices.Clone(through)
	for k := range u {
		if in(k) {
			u[k] += (m.counts.with[k] - c.Mean) / n
		}
	}
	c.Influence, c.Wider = m.d.byCluster(u), m.d.wider(u, through)
	return c
}

// through are the subjects' influences through the model of those with a report,
// where the answer moves by moved(k) when subject k counts once more with the event
// and once less without.
func (m *Imputation) through(moved func(k int) float64) []float64 {
	f := m.spoken.fit
	slope, late := make([]float64, m.d.Patterns()), make([]float64, len(f.weights.Share))
	for k, slot := range m.d.slot {
		if m.silent[k] == 0 {
			continue
		}
		i, r, v := int(slot/2), m.risk[k], m.silent[k]*moved(k)
		slope[i] += v * f.share(i) * r * (1 - r)
		late[m.d.age[i]] += v * r
	}
	by, x, cols := make([]float64, f.sums.P), make([]float64, f.sums.P), make([]int, 0, f.sums.P)
	for i, s := range slope {
		if s == 0 {
			continue
		}
		cols = f.sums.Dense(i, x, cols)
		for _, c := range cols {
			by[c] += s * x[c]
		}
	}
	return m.spoken.influence(by, late)
}

// reported is the number of events that were reported, not put in.
func (w Weights) reported() float64 {
	if w.imputed == nil {
		return w.Events()
	}
	x := 0.0
	for k, slot := range w.imputed.d.slot {
		if slot%2 == 1 {
			x += w.counts.with[k]
		}
	}
	return x
}

// ofSubject is what subject k in a slot has of its slots' influences.
func (w Weights) ofSubject(k int, slot int32, slots []float64) float64 {
	if w.counts == nil {
		return slots[slot]
	}
	return w.counts.with[k]*slots[slot|1] + w.counts.without[k]*slots[slot&^1]
}

// LogitInterval has the limits of a share by its influences, on the logit scale
// so that they stay between 0 and 1. n is what the caller counts.
func (c Contrast) LogitInterval(level float64, n int, method string) stats.Estimate {
	p := c.Mean
	if !(p > 0 && p < 1) {
		return stats.Estimate{Point: p, Low: p, High: p, Level: level, N: n, Method: method}
	}
	spread := stats.Z(level) * c.Jackknife().SE / (p * (1 - p))
	return stats.Estimate{Point: p, Low: stats.Logistic(stats.Logit(p) - spread), High: stats.Logistic(stats.Logit(p) + spread), Level: level, N: n, Method: method}
}

// Draw is the fit at estimates drawn from what the data leave open: normal around
// its own, the inverse of the information their variance (of a ridge, the
// posterior where the penalty is what was known before).
func (f *Fit) Draw(rng *rand.Rand) *Fit {
	g := f.fork()
	p, x := f.sums.P, make([]float64, f.sums.P)
	for i := p - 1; i >= 0; i-- {
		if f.factor.Aside[i] {
			continue
		}
		s := rng.NormFloat64()
		for k := i + 1; k < p; k++ {
			s -= f.factor.L[k*p+i] * x[k]
		}
		x[i] = s / f.factor.L[i*p+i]
	}
	for j, v := range x {
		g.Coef[j] += v
	}
	return g
}
